"""The plan of the day drives who serves next, and at what."""

from __future__ import annotations

from PySide6.QtCore import QObject

from serve_marker.court.aims import aim_words
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import PlanBlock, PracticePlan, player_words
from serve_marker.study.plan import block_now
from serve_marker.study.sentences import count_words


class PlanFollower(QObject):
    """Sets server and aim of the next serves when a block of the plan begins; serves out of the plan change nothing."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._at: tuple[str, str, tuple[PlanBlock, ...], int] | None = None
        workspace.serves_changed.connect(self._follow)

    def plan(self) -> PracticePlan | None:
        """Return the plan of the open practice's day, None where there is none."""
        workspace = self._workspace
        if workspace.logbook is None or workspace.practice is None:
            return None
        day = workspace.practice.date
        return next((plan for plan in workspace.logbook.plans() if plan.date == day), None)

    def _follow(self) -> None:
        workspace, plan = self._workspace, self.plan()
        if plan is None or workspace.practice is None or workspace.clip_entry is None:
            self._at = None
            return
        columns = workspace.book().serve_columns(workspace.practice.id)
        served = list(zip(columns["player_id"], columns["aim"], strict=True))
        before = self._at
        at = (workspace.practice.id, workspace.clip_entry.id, plan.blocks, block_now(plan.blocks, served))
        self._at = at
        if at == before:
            return
        if served and (before is None or at[:3] != before[:3]):
            return
        self._begin(plan, at[3])

    def _begin(self, plan: PracticePlan, place: int) -> None:
        workspace = self._workspace
        if place >= len(plan.blocks):
            workspace.message.emit("The plan is served; go on as you like.")
            return
        block = plan.blocks[place]
        workspace.set_aim(block.aim)
        workspace.set_serve_type(block.serve_type)
        workspace.set_order(workspace.turns.end, (key for key in block.player_ids if key in workspace.players))
        who = ", ".join(player_words(workspace.players[key]) for key in block.player_ids if key in workspace.players)
        what = aim_words(block.aim) or "no aim"
        each = f"{count_words(block.serves, 'serve')} each"
        workspace.message.emit(f"Plan, block {place + 1} of {len(plan.blocks)}: {what}, {each}: {who}.")

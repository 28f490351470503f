"""The plan of the day drives who serves next, and at what."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QObject

from serve_marker.court.aims import aim_words
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import PlanBlock, PracticePlan, player_words
from serve_marker.study.plan import PlanState, plan_state
from serve_marker.study.sentences import count_words


class PlanFollower(QObject):
    """Sets server and aim of the next serves when a block of the plan begins; serves out of the plan change nothing."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._of: tuple[str, tuple[PlanBlock, ...]] | None = None
        self._begun, self._served = -1, 0
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
            self._of = None
            return
        columns = workspace.book().serve_columns(workspace.practice.id)
        served = list(zip(columns["player_id"], columns["aim"], strict=True))
        there = (tuple(key for key in block.player_ids if key in workspace.players) for block in plan.blocks)
        blocks = tuple(replace(block, player_ids=who) for block, who in zip(plan.blocks, there, strict=True))
        state, before = plan_state(blocks, served), self._served
        self._served = len(served)
        if (workspace.practice.id, blocks) != self._of:
            self._of, self._begun = (workspace.practice.id, blocks), state.block if served else -1
        taken_back = len(served) < before and state.block < self._begun
        if state.block > self._begun or taken_back:
            self._begun = state.block
            self._begin(blocks, state)

    def _begin(self, blocks: tuple[PlanBlock, ...], state: PlanState) -> None:
        workspace = self._workspace
        if state.block >= len(blocks):
            workspace.message.emit("The plan is done; go on as you like.")
            return
        block, end = blocks[state.block], workspace.turns.end
        if block.aim:
            workspace.set_aim(block.aim)
        if block.serve_type:
            workspace.set_serve_type(block.serve_type)
        workspace.set_order(end, block.player_ids)
        workspace.set_turns(workspace.turns.name(end, state.next_player))
        who = ", ".join(player_words(workspace.players[key]) for key in block.player_ids)
        what = aim_words(block.aim) or "any aim"
        each = f"{count_words(block.serves, 'serve')} each"
        workspace.message.emit(f"Plan, block {state.block + 1} of {len(blocks)}: {what}, {each}: {who}.")

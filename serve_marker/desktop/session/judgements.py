"""What the serves of the clip mean now: judged once each, and drawn alike on picture, half court, bar and chips."""

from __future__ import annotations

import numpy as np

from serve_marker.court.aims import Aim, aim_words, parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import Formation
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.serving_order import next_server_words, other_end
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.outcomes import OUTCOME_WORDS, RECEPTION_WORDS
from serve_marker.logbook.records import Serve
from serve_marker.marking.judging import Judgement, judge
from serve_marker.marking.landing import served_to
from serve_marker.report.overlay_items import (
    DisplayList,
    Item,
    Label,
    Spot,
    aim_overlay,
    court_overlay,
    formation_overlay,
    landing_overlay,
    outline_overlay,
    shape_for,
)
from serve_marker.report.place_words import place_lines, place_words
from serve_marker.study.stored_formations import formations_of

JUDGEMENTS_KEPT = 4096
TOLD_S = 1.0
"""So long before and after its landing a serve just marked is told beside it: then another may land there."""


class Judgements:
    """Judgements of the workspace's serves, kept until court or area borders change."""

    def __init__(self, workspace: Workspace, marking: ServeEditor) -> None:
        self._workspace = workspace
        self._marking = marking
        self._kept: dict[tuple[Serve, Court, AreaScheme], Judgement] = {}

    def of(self, serve: Serve) -> Judgement:
        """Return the judgement of a serve."""
        key = (serve, self._workspace.court, self._workspace.scheme)
        if key not in self._kept:
            if len(self._kept) >= JUDGEMENTS_KEPT:
                self._kept.clear()
            self._kept[key] = judge(*key)
        return self._kept[key]

    def shape(self, serve: Serve) -> str:
        """Return the shape that stands for a serve everywhere."""
        return shape_for(serve, self.of(serve))

    def words(self, serve: Serve) -> str:
        """Return a serve in one line: who, what became of it, where, the aim and how it was passed."""
        player = self._workspace.players.get(serve.player_id or "")
        parts = [next_server_words(player), serve.serve_type, self.place(serve)]
        if serve.aim:
            parts.append(f"aim {aim_words(serve.aim)}")
        if serve.pass_rating is not None:
            parts.append(f"pass {serve.pass_rating}")
        if serve.rally:
            parts.append(f"rally {serve.rally}")
        return ", ".join(part for part in parts if part)

    def place(self, serve: Serve) -> str:
        """Return what became of a serve, and where it landed."""
        if serve.reception:
            return RECEPTION_WORDS[serve.reception]
        if serve.outcome == "out" and serve.landing_point is not None:
            return "out, as you said; its place does not count"
        if serve.outcome != "floor":
            return OUTCOME_WORDS[serve.outcome]
        return "landing not marked yet" if serve.landing is None else place_words(self.of(serve))

    def here(self, x_px: float, y_px: float) -> Judgement | None:
        """Return what a click there would mean, None where the view cannot tell."""
        workspace = self._workspace
        if workspace.clip is None or workspace.view is None:
            return None
        meant = self._marking.meant((x_px, y_px))
        return judge(meant, workspace.court, workspace.scheme) if meant.landing_point else None

    def aim(self) -> Aim | None:
        """Return the aim of the first chosen serve, else of the next ones; None where it does not lie on this court."""
        workspace = self._workspace
        text = next((serve.aim for serve in workspace.chosen_serves), workspace.aim)
        try:
            return parse_aim(text, workspace.court, workspace.scheme)
        except UserError:
            return None

    def formation(self) -> Formation | None:
        """Return the passers the chosen serve was hit against, if any; without one chosen those of the next serves."""
        workspace = self._workspace
        chosen = workspace.selected_serves()
        formation_id = chosen[0].formation_id if len(chosen) == 1 else workspace.formation_id
        if formation_id == workspace.formation_id:
            return workspace.formation
        return formations_of(workspace.book()).get(formation_id or "")

    @property
    def told_in_full(self) -> Serve | None:
        """The serve drawn with its words: the chosen one, or the one just marked while the film is at its landing."""
        workspace, selected = self._workspace, self._workspace.selected_serves()
        if len(selected) != 1:
            return None
        landing = selected[0].landing
        if workspace.chosen is None and landing is not None:
            gone_s = abs(workspace.now_s - landing.time_s) * workspace.time_scale
            return selected[0] if gone_s <= TOLD_S else None
        return selected[0]

    def picture_items(self, lines: DisplayList | None = None) -> DisplayList:
        """Return what lies over the picture while marking: lines, aimed area, all landings, the chosen one in full.

        Aim and passers lie on the half the chosen serve went to, else on that of the next one.
        ``lines`` stand in for the view's own while others are proposed; aim and passers would lie beside them.
        """
        workspace = self._workspace
        view = workspace.view
        if view is None:
            return lines or ()
        items: list[Item] = [*(court_overlay(view) if lines is None else lines)]
        aim = self.aim()
        if lines is None:
            to = (workspace.chosen and served_to(workspace.chosen)) or other_end(workspace.turns.end)
            items.extend(aim_overlay(view, aim, to))
            items.extend(formation_overlay(view, self.formation(), to))
        items.extend(outline_overlay(workspace.outline_px or ()))
        if workspace.on_ball:
            items.append(Label("Click the ball's centre (C: the floor)", (float(view.image_size[0]), 0.0)))
        offered = self._marking.offered_place()
        if offered is not None:
            items += [Spot("caret", offered), Label("Hit from here, as last time: H again", offered)]
        full = self.told_in_full
        for serve in workspace.serves:
            if serve.landing_point is None:
                continue
            judgement = self.of(serve)
            if serve == full:
                items.extend(landing_overlay(view, serve, judgement, self._caption(serve)))
            else:
                point = np.array([[serve.landing_point.x_m, serve.landing_point.y_m]])
                x_px, y_px = view.project(point)[0]
                if np.isfinite(x_px) and np.isfinite(y_px):
                    items.append(Spot(shape_for(serve, judgement), (float(x_px), float(y_px))))
        return tuple(items)

    def _caption(self, serve: Serve) -> str:
        player = self._workspace.players.get(serve.player_id or "")
        lines = place_lines(self.of(serve), serve.outcome)
        return ", ".join((next_server_words(player), lines[0], *lines[2:]))

"""The right column of the Mark step: the receiving half with the live position, and whose turn it is."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QVBoxLayout, QWidget

from serve_marker.desktop.mark.flight_words import flight_words
from serve_marker.desktop.mark.half_court import HalfCourt
from serve_marker.desktop.mark.half_court_drawing import Passers
from serve_marker.desktop.mark.next_serve_panel import NextServePanel
from serve_marker.desktop.mark.outcome_buttons import OutcomeButtons
from serve_marker.desktop.session.aim_choices import aims_on
from serve_marker.desktop.session.judgements import Judgements
from serve_marker.desktop.session.practice_editor import PracticeEditor
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.serving_order import END_WORDS, next_server_words
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Half, Serve
from serve_marker.report.place_words import place_lines
from serve_marker.study.settings import settings_of

PLACED_OUTCOMES = ("floor", "received")


class MarkPane(QWidget):
    """Half court above, turn below; both follow the workspace."""

    def __init__(self, workspace: Workspace, marking: ServeEditor, judgements: Judgements) -> None:
        super().__init__()
        self._workspace = workspace
        self._marking = marking
        self._editor = PracticeEditor(workspace)
        self._roster = RosterEditor(workspace)
        self._judgements = judgements
        self._marked_id: str | None = None
        self.half_court = HalfCourt()
        self.outcomes = OutcomeButtons()
        self.turn = NextServePanel()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.setSpacing(6)
        layout.addWidget(self.half_court, 1)
        layout.addWidget(self.outcomes)
        layout.addWidget(self.turn)
        self.half_court.aim_picked.connect(show_errors(workspace, self.set_aim))
        self.half_court.landing_chosen.connect(show_errors(workspace, workspace.go_to_serve))
        self.turn.aim_picked.connect(show_errors(workspace, self.set_aim))
        self.turn.wind_picked.connect(show_errors(workspace, self._editor.set_wind_end))
        self.turn.targets_picked.connect(show_errors(workspace, self._editor.set_target_kind))
        self.turn.type_picked.connect(show_errors(workspace, self.set_serve_type))
        self.turn.number_typed.connect(show_errors(workspace, self._name_server))
        self.turn.chosen_left.connect(workspace.leave_chosen)
        self.turn.end_picked.connect(self.choose_end)
        self.turn.order_typed.connect(show_errors(workspace, self._set_order))
        workspace.turn_changed.connect(self._show_turn)
        workspace.practice_changed.connect(self._show_turn)
        workspace.selection_changed.connect(self._show_turn)
        workspace.serves_changed.connect(self._show_landings)
        workspace.serves_changed.connect(self._show_marked)
        workspace.turn_changed.connect(self._show_passers)
        workspace.selection_changed.connect(self._show_passers)
        workspace.view_changed.connect(self._show_court)
        workspace.view_changed.connect(self.point_away)
        workspace.logbook_changed.connect(self._show_court)
        self._show_court()
        self._show_turn()

    def point_at(self, x_px: float, y_px: float) -> None:
        """Show what a click there would mean."""
        self._marked_id = None
        judgement = self._judgements.here(x_px, y_px)
        if judgement is None or self._marking.question_for((x_px, y_px)):
            self.point_away()
            return
        self.half_court.set_live(judgement.half_x_m, judgement.half_y_m, judgement.cov_half_m2, place_lines(judgement))

    def point_away(self) -> None:
        """The pointer is nowhere on the floor."""
        if self._marked_id is not None:
            return
        self.half_court.clear_live(() if self._workspace.view else ("Set up the view first,", "then places are known."))

    def show_marked(self, serve_id: str) -> None:
        """Show a serve just marked, as it then is, until the pointer moves on."""
        self._marked_id = serve_id
        self._show_marked()

    def _show_marked(self) -> None:
        if self._marked_id is None:
            return
        serve = next((serve for serve in self._workspace.serves if serve.id == self._marked_id), None)
        if serve is None:
            self._marked_id = None
            self.point_away()
        else:
            self.show_serve(serve)

    def show_serve(self, serve: Serve) -> None:
        """Show where a serve landed, of the clip or only proposed."""
        if serve.landing_point is None or serve.outcome not in PLACED_OUTCOMES:
            self.half_court.clear_live(("", self._judgements.place(serve)))
            return
        found = self._judgements.of(serve)
        words = (*place_lines(found, serve.outcome), flight_words(serve, self._workspace))
        place = (found.half_x_m, found.half_y_m, found.cov_half_m2)
        self.half_court.set_live(*place, tuple(filter(None, words)))

    def choose_end(self, end: Half) -> None:
        """Let the next serve come from that end."""
        turns = self._workspace.turns
        self._workspace.set_turns(replace(turns, end=end))

    def set_aim(self, text: str) -> None:
        """Change the aim of the chosen serve or the next ones, and say so."""
        self._marking.set_aim(text)
        self._say_chosen()

    def set_serve_type(self, serve_type: str) -> None:
        """Change the type of the chosen serve or the next ones, and say so."""
        self._marking.set_serve_type(serve_type)
        self._say_chosen()

    def _name_server(self, number: int) -> None:
        self._marking.name_server(number)
        self._say_chosen()

    def _say_chosen(self) -> None:
        chosen = self._workspace.chosen_serves
        if len(chosen) == 1:
            self._workspace.message.emit(self._judgements.words(chosen[0]))
        elif chosen:
            self._workspace.message.emit(f"{len(chosen)} serves changed.")

    def _set_order(self, end: Half, text: str) -> None:
        self._editor.set_order(end, [player.id for player in self._roster.players_written(text)])
        self._workspace.message.emit(f"Order of the {END_WORDS[end]} kept.")

    def _show_court(self) -> None:
        self.half_court.set_court(self._workspace.court, self._workspace.scheme)
        court = self._workspace.court
        self.turn.offer_aims(aims_on(court.name)[1:], outdoors=court.name == "beach")
        self.outcomes.offer_blocked(court.name == "sitting")
        self._show_landings()
        self._show_passers()

    def _show_passers(self) -> None:
        """Those the chosen serve was hit against, else those of the next serves."""
        book, formation = self._workspace.logbook, self._judgements.formation()
        shown = None
        if book is not None and formation is not None:
            shown = Passers(formation, settings_of(book).seam_width_m)
        self.half_court.set_passers(shown)

    def _show_turn(self) -> None:
        workspace = self._workspace
        chosen = workspace.chosen_serves
        of = chosen[0] if chosen else workspace
        self.turn.show_turns(
            *(workspace.turns, workspace.players, of.aim, of.serve_type),
            *(workspace.target_kind, workspace.wind_end),
        )
        if chosen:
            servers = dict.fromkeys(next_server_words(workspace.players.get(serve.player_id or "")) for serve in chosen)
            place = self._judgements.place(chosen[0]) if len(chosen) == 1 else "All of them change."
            self.turn.show_chosen(len(chosen), ", ".join(servers), place)
        self.half_court.set_aim(self._judgements.aim())

    def _show_landings(self) -> None:
        landings = []
        for serve in self._workspace.serves:
            if serve.landing_point is None:
                continue
            judgement = self._judgements.of(serve)
            player = self._workspace.players.get(serve.player_id or "")
            label = str(player.number) if player and player.number is not None else next_server_words(player)
            shape = self._judgements.shape(serve)
            landings.append((judgement.half_x_m, judgement.half_y_m, shape, label, serve.id))
        self.half_court.set_landings(landings)

"""What a key says of the rally after a serve: how it was passed, what became of the pass, who won."""

from __future__ import annotations

from dataclasses import replace

from serve_marker.desktop.session.cell_edits import with_rating, with_reception
from serve_marker.desktop.session.edits import ChangeServes
from serve_marker.desktop.session.serving_order import next_server_words
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.outcomes import RALLIES, RECEPTION_WORDS, RECEPTIONS
from serve_marker.logbook.records import Serve
from serve_marker.study.settings import settings_of


class RallyEditor:
    """Changes to the chosen serve, without one to the last, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def rate_pass(self, rating: int) -> None:
        """Rate the pass, on the team's scale."""
        serve = self._chosen_or_last("its pass can be rated")
        rated = with_rating(serve, rating, settings_of(self._workspace.book()))
        server = next_server_words(self._workspace.players.get(serve.player_id or ""))
        self._change(f"Pass rated {rating}", serve, rated, f"Pass of {server} rated {rating}.")

    def next_reception(self) -> None:
        """Say what became of a received ball: played on, then over the net, then a shank."""
        serve = self._chosen_or_last("what became of it can be said")
        reception = RECEPTIONS[(RECEPTIONS.index(serve.reception) + 1) % len(RECEPTIONS)]
        words = RECEPTION_WORDS[reception].capitalize()
        self._change(words, serve, with_reception(serve, reception), f"{words}.")

    def next_rally(self) -> None:
        """Say who won the rally: the server's team, then the other one, then nobody noted it."""
        serve = self._chosen_or_last("who won its rally can be said")
        rally = RALLIES[(RALLIES.index(serve.rally) + 1) % len(RALLIES)]
        words = f"Rally {rally}" if rally else "Rally not noted"
        self._change(words, serve, replace(serve, rally=rally), f"{words}.")

    def _change(self, words: str, before: Serve, after: Serve, said: str) -> None:
        self._workspace.do(ChangeServes(words, [(before, after)]))
        self._workspace.message.emit(said)

    def _chosen_or_last(self, what: str) -> Serve:
        chosen, serves = self._workspace.selected_serves(), self._workspace.serves
        serve = chosen[0] if len(chosen) == 1 else serves[-1] if serves else None
        if serve is None:
            raise UserError(f"Mark a serve first; then {what}.")
        return serve

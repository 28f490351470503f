"""The review of proposals: one after the other plays in a slow loop until the coach has answered it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

from PySide6.QtCore import QElapsedTimer, QObject, Signal

from serve_marker.desktop.mark.proposal_words import (
    ALL_ANSWERED,
    NOTHING_FOUND,
    missed_words,
    rejected_words,
    review_words,
    waiting_words,
)
from serve_marker.desktop.session.judgements import Judgements
from serve_marker.desktop.session.playback import Playback
from serve_marker.desktop.session.proposal_editor import ProposalEditor
from serve_marker.desktop.session.serve_finder import ServeFinder
from serve_marker.desktop.session.serving_order import other_end
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve, StoredProposal
from serve_marker.report.overlay_items import DisplayList, Pixel, proposal_overlay

Answered = TypeVar("Answered")
LOOP_SPEED = 0.5
BEFORE_CONTACT_S, AFTER_LANDING_S = 0.3, 0.4
"""How much of the toss and of the rebound the loop shows, as it was in life."""
NOTHING_SHOWN = "No found serve is shown; Ctrl+F shows those that wait."


class ProposalReview(QObject):
    """Shows the first proposal that waits, and takes the coach's answer; the next one follows by itself.

    While it runs without a proposal the finder is still looking: the first one that comes is shown, unless the coach
    has begun something else by then.

    Signals
    -------
    changed : another proposal is shown, or none, or more of them wait.
    """

    changed = Signal()

    def __init__(
        self,
        workspace: Workspace,
        editor: ProposalEditor,
        finder: ServeFinder,
        judgements: Judgements,
        player: Playback,
    ) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._editor = editor
        self._finder = finder
        self._judgements = judgements
        self._player = player
        self.running = False
        self.shown: StoredProposal | None = None
        self._clock = QElapsedTimer()
        self._speed_before = player.speed
        self._answering = False
        self._forget()
        workspace.clip_changed.connect(self._clip_changed)
        workspace.serves_changed.connect(self._serves_changed)
        workspace.turn_changed.connect(self._turn_changed)
        workspace.selection_changed.connect(self._selection_changed)
        workspace.frame_changed.connect(self._frame_moved)
        finder.found.connect(self._one_more)
        finder.changed.connect(self._search_changed)

    def _forget(self) -> None:
        """Begin to count anew."""
        self._entered: set[str] = set()
        self._later: set[str] = set()
        self._actions, self._spent_s = 0, 0.0

    # What is shown

    def waiting(self) -> list[StoredProposal]:
        """Return the proposals that are not answered yet."""
        return self._editor.open() if self._workspace.logbook is not None else []

    def meant(self) -> Serve | None:
        """Return the serve that accepting would enter now, None while no proposal is shown."""
        return None if self.shown is None else self._editor.meant(self.shown)

    def items(self) -> DisplayList:
        """Return what is drawn over the film."""
        meant, view = self.meant(), self._workspace.view
        if self.shown is None or meant is None or view is None:
            return ()
        flight_px = [mark.pixel for mark in self.shown.flight if mark.pixel is not None]
        return proposal_overlay(view, flight_px, meant, self._judgements.of(meant))

    # Beginning and ending

    def begin(self) -> None:
        """Show what waits, or wait for what is still being found."""
        if not self.running:
            self.running = True
            self._later.clear()
            self._speed_before = self._player.speed
            self._player.set_speed(LOOP_SPEED)
        self._show_next()

    def end(self) -> None:
        """Leave the rest for later; what is marked next by hand is no part of the serve entered last."""
        if self.running:
            self.running = False
            self._leave_shown()
            self._player.set_speed(self._speed_before)
            if not self._workspace.chosen_serves:
                self._workspace.select(())
            self.changed.emit()

    def counted(self, handler: Callable[..., object]) -> Callable[..., None]:
        """Return a handler whose calls count as actions of the review while it runs."""

        def run(*args: Any) -> None:
            self.count()
            handler(*args)

        return run

    def count(self) -> None:
        """One more key or click."""
        self._actions += self.running

    # Answers

    def accept(self) -> None:
        """It is the serve proposed."""
        self._enter(self._editor.accept)

    def correct(self, pixel: Pixel) -> None:
        """It landed here, on the frame shown."""
        self._enter(lambda shown: self._editor.correct(shown, pixel))

    def end_otherwise(self, outcome: str) -> None:
        """It ended otherwise than proposed."""
        self._enter(lambda shown: self._editor.end_otherwise(shown, outcome))

    def reject(self) -> None:
        """It is no serve."""
        self._answer(self._editor.reject)
        self._workspace.message.emit(rejected_words())
        self._show_next()

    def stop_at_landing(self) -> bool:
        """Stop the loop on the frame of the landing, from which arrows step and where a click is meant; if it plays."""
        clip, landing = self._workspace.clip, self.shown.serve.landing if self.shown is not None else None
        if clip is None or landing is None or not self._player.playing:
            return False
        self._player.pause()
        self._workspace.set_frame(clip.frame_at(landing.time_s))
        return True

    def leave_for_later(self) -> None:
        """Go on with the next one, and come back to this one in another review."""
        self._later.add(self._asked().id)
        self._show_next()

    def mark_missed(self) -> None:
        """A serve was missed on the frame shown: the coach marks it by hand."""
        self._asked()
        self.end()
        self._workspace.message.emit(missed_words())

    def _asked(self) -> StoredProposal:
        if self.shown is None:
            raise UserError(NOTHING_SHOWN)
        return self.shown

    def _enter(self, answer: Callable[[StoredProposal], Serve]) -> None:
        serve = self._answer(answer)
        self._entered.add(serve.id)
        self._workspace.message.emit(f"{self._judgements.words(serve)}.")
        self._show_next()

    def _answer(self, answer: Callable[[StoredProposal], Answered]) -> Answered:
        """Give an answer; what it changes is followed only once it is given."""
        self._answering = True
        try:
            return answer(self._asked())
        except UserError:
            self._show_next()
            raise
        finally:
            self._answering = False

    # Going on

    def _show_next(self) -> None:
        """Show the first proposal that waits and is not left for later; the one shown stays if it is that."""
        first = next((one for one in self.waiting() if one.id not in self._later), None)
        if first is not None and self.shown is not None and first.id == self.shown.id:
            self.changed.emit()
            return
        self._leave_shown()
        if first is not None:
            self._show(first)
        elif not self._finder.busy:
            self._finish()
        self.changed.emit()

    def _show(self, proposal: StoredProposal) -> None:
        workspace, serve = self._workspace, proposal.serve
        assert serve.contact is not None
        assert serve.landing is not None
        assert serve.served_to is not None
        self.shown = proposal
        self._clock.start()
        workspace.select(())
        workspace.set_turns(replace(workspace.turns, end=other_end(serve.served_to)))
        before_s, after_s = BEFORE_CONTACT_S / workspace.time_scale, AFTER_LANDING_S / workspace.time_scale
        self._player.loop(serve.contact.time_s - before_s, serve.landing.time_s + after_s)

    def _leave_shown(self) -> None:
        if self.shown is not None:
            self._spent_s += self._clock.elapsed() / 1000
            self.shown = None
            self._player.end_loop()

    def _finish(self) -> None:
        """All is answered: say what that cost, or that nothing was found where the search came to its end."""
        words = ""
        if self._entered:
            words = review_words(len(self._entered), self._actions, self._spent_s, len(self._later))
        elif self._later:
            words = waiting_words(len(self._later))
        elif (search := self._finder.search()) is not None and search.finished:
            words = ALL_ANSWERED if self._workspace.book().proposals(search.id) else NOTHING_FOUND
        self.end()
        self._forget()
        if words:
            self._workspace.message.emit(words)

    # What happens meanwhile

    def _clip_changed(self) -> None:
        self.end()
        self._forget()
        self.changed.emit()
        if self._workspace.clip is not None:
            self._say_waiting()

    def _serves_changed(self) -> None:
        """Serves were entered or taken back: an undone answer is asked for again."""
        if self._answering:
            return
        self._entered -= {one.id for one in self.waiting()}
        if self.running:
            self._show_next()

    def _one_more(self) -> None:
        """A serve was found, perhaps one that is surer than the one shown and stands in its place."""
        gone = self.shown is not None and all(one.id != self.shown.id for one in self.waiting())
        if self.running and (self.shown is None or gone):
            self._show_next()
        else:
            self.changed.emit()

    def _search_changed(self) -> None:
        if self.running and self.shown is None and not self._finder.busy:
            self._show_next()
            return
        self.changed.emit()
        if not self.running and not self._finder.busy:
            self._say_waiting()

    def _say_waiting(self) -> None:
        if waiting := len(self.waiting()):
            self._workspace.message.emit(waiting_words(waiting))

    def _selection_changed(self) -> None:
        """The coach has chosen a serve: keys are about that one."""
        if self._workspace.chosen_serves:
            self.end()

    def _turn_changed(self) -> None:
        if self.shown is not None:
            self.changed.emit()

    def _frame_moved(self) -> None:
        """The coach has gone on to something else before anything was found."""
        if self.running and self.shown is None:
            self.end()

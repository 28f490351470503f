"""What the coach says of a proposal, each answer one step of undo; nothing is entered without one."""

from __future__ import annotations

from dataclasses import dataclass, replace

from serve_marker.desktop.session.cell_edits import with_outcome
from serve_marker.desktop.session.edits import CHANGED_ELSEWHERE, ChangeServes, Touched, UndoableEdit
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.serve_marks import can_be_hit_at
from serve_marker.desktop.session.serving_order import other_end
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve, StoredProposal
from serve_marker.logbook.store import Logbook
from serve_marker.report.overlay_items import Pixel

SAME_SERVE_S = 0.3
"""A serve marked by hand so near the hit or the end of a proposal is the one proposed."""


@dataclass(frozen=True)
class AnswerProposal(UndoableEdit):
    """A proposal before and after an answer, and the serve that enters with it."""

    text: str
    before: StoredProposal
    after: StoredProposal
    entered: ChangeServes

    def write(self, logbook: Logbook, *, forward: bool) -> None:
        """Write the answer and the serve of one side, unless another window answered meanwhile."""
        old, new = (self.before, self.after) if forward else (self.after, self.before)
        with logbook.one_change():
            if old not in logbook.proposals(old.serve.clip_id):
                raise UserError(CHANGED_ELSEWHERE)
            logbook.put(new)
            self.entered.write(logbook, forward=forward)

    def touches(self, *, forward: bool) -> Touched:
        """Return the serve that comes or goes, and the clip."""
        touched = self.entered.touches(forward=forward)
        return replace(touched, clip_ids=(self.before.serve.clip_id,), selects=bool(touched.serve_ids))


def is_same_serve(one: Serve, other: Serve) -> bool:
    """Return whether two serves of a clip were hit, or ended, at about the same moment.

    Examples
    --------
    >>> from serve_marker.logbook.records import Mark
    >>> one, other = (Serve(id="s", clip_id="c", landing=Mark(at_s)) for at_s in (2.0, 2.2))
    >>> is_same_serve(one, other), is_same_serve(one, Serve(id="t", clip_id="c", contact=Mark(2.0)))
    (True, False)
    """
    pairs = ((one.contact, other.contact), (one.landing, other.landing))
    return any(a is not None and b is not None and abs(a.time_s - b.time_s) <= SAME_SERVE_S for a, b in pairs)


class ProposalEditor:
    """Enters, corrects and rejects the proposals of the open clip."""

    def __init__(self, workspace: Workspace, marking: ServeEditor) -> None:
        self._workspace = workspace
        self._marking = marking

    def open(self) -> list[StoredProposal]:
        """Return the proposals that wait for an answer, in order of time; those marked by hand by now wait no more."""
        workspace = self._workspace
        if workspace.clip_entry is None:
            return []
        known = workspace.book().proposals(workspace.clip_entry.id)
        entered = {one.id for one in known}
        by_hand = [serve for serve in workspace.serves if serve.id not in entered]
        return [one for one in known if not one.answer and not any(is_same_serve(one.serve, it) for it in by_hand)]

    def meant(self, proposal: StoredProposal) -> Serve:
        """Return the serve that accepting would enter: by whose turn it is, at the aim chosen, as for a marked one."""
        found = proposal.serve
        assert found.served_to is not None
        serve = replace(
            self._marking.new_serve(other_end(found.served_to)),
            id=found.id,
            outcome=found.outcome,
            contact=found.contact,
            landing=found.landing,
            landing_height_m=found.landing_height_m,
            film_marks=found.film_marks,
            contact_film_marks=found.contact_film_marks,
        )
        return self._marking.placed(serve)

    def accept(self, proposal: StoredProposal) -> Serve:
        """Enter a proposal as it is."""
        return self._enter("Proposal accepted", proposal, "accepted", self.meant(proposal))

    def correct(self, proposal: StoredProposal, pixel: Pixel) -> Serve:
        """Enter a proposal that landed here, on the frame shown; the film is looked at anew around the click."""
        bare = replace(self.meant(proposal), film_marks=(), contact_film_marks=(), landing_height_m=None)
        moved = replace(bare, outcome="floor", landing=self._marking.landing_mark(pixel))
        if moved.contact is None or not can_be_hit_at(moved, moved.contact.time_s, self._workspace.time_scale):
            raise UserError("The found serve is not in the air here. I marks a missed one by hand.")
        return self._enter("Proposal corrected", proposal, "corrected", self._marking.placed(moved))

    def end_otherwise(self, proposal: StoredProposal, outcome: str) -> Serve:
        """Enter a proposal that ended in another way than the film seemed to show, at the moment it did."""
        serve = with_outcome(self.meant(proposal), outcome)
        if outcome != proposal.serve.outcome and serve.landing is not None:
            bare = replace(serve.landing, pixel=None, on_ball=False)
            serve = replace(serve, landing=bare, landing_height_m=None, film_marks=())
        return self._enter("Proposal corrected", proposal, "corrected", self._marking.placed(serve))

    def reject(self, proposal: StoredProposal) -> None:
        """It is no serve."""
        words = "Proposal rejected"
        answered = replace(proposal, answer="rejected")
        self._workspace.do(AnswerProposal(words, proposal, answered, ChangeServes(words, [], selects=False)))

    def _enter(self, words: str, proposal: StoredProposal, answer: str, serve: Serve) -> Serve:
        assert serve.served_to is not None
        turns = self._marking.turns_after(serve, serve.served_to)
        entered = ChangeServes(words, [(None, serve)], turns)
        self._workspace.do(AnswerProposal(words, proposal, replace(proposal, answer=answer), entered))
        return serve

"""Is the clip filmed from a place the logbook knows, and did the camera stay there: looked up aside, then asked.

A clip without a view is held against the stored views of its gym, one with a view against that view all through.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from PySide6.QtCore import QObject, QTimer, Signal

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.desktop.session.view_editor import ViewEditor, bare_state, state_with
from serve_marker.desktop.session.view_edits import clips_using, view_state_at
from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup.view_compare import Found, Stored, compared, known_already
from serve_marker.desktop.setup.view_sentences import CHECK_WORDS, camera_check_question, found_nothing_words
from serve_marker.errors import UserError
from serve_marker.logbook.records import StoredView, new_id
from serve_marker.marking.view_check import ClipCheck, ClipSegment
from serve_marker.marking.view_reference import with_reference
from serve_marker.study.sentences import date_words
from serve_marker.video.progress import Cancelled

COMPARE_AFTER_MS = 1500
CHECK_AFTER_MS = 10_000
"""The film comes first: looking through it waits until the coach has settled."""
MOST_COMPARED = 6
SHOWN_AFTER_S = 0.3
LOOKING = "Looking through the clip for a moved camera. Go on meanwhile."
STEADY = "The camera stood still all through this clip. Its view holds."
KNOWN = "Nothing new: this clip's moves of the camera and their views are known already."


@dataclass(frozen=True, eq=False)
class ViewQuestion:
    """What was found, in words; ``proposal`` is what a yes takes over, None where there is only something to say."""

    words: str
    proposal: Found | None


class ViewCheck(QObject):
    """Compares in the background and keeps the question that is open.

    ``changed`` says that the question came or went, or that ``comparing`` is another number; ``taken_over`` that a
    view answered with yes for one clip of the practice was given to another by itself.
    """

    changed = Signal()
    taken_over = Signal()

    def __init__(self, workspace: Workspace, making: ViewEditor) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._making = making
        self._worker = Worker("view check", self)
        self._soon = QTimer(self, singleShot=True)
        self._soon.timeout.connect(self._look_once)
        self._worker.busy_changed.connect(self._tell_comparing)
        self.question: ViewQuestion | None = None
        self.comparing = 0
        """How many stored views are held against a clip that has none, or will be in a moment."""
        workspace.clip_changed.connect(self._clip_changed)
        workspace.view_changed.connect(self._view_changed)
        self._asked_of: Stored = ()

    @property
    def busy(self) -> bool:
        """Whether the film is being looked through."""
        return self._worker.busy

    def close(self) -> None:
        """Join the worker."""
        self._soon.stop()
        self._worker.close()

    def proposed(self) -> View | None:
        """Return the view a yes would give the frame shown, None while nothing is proposed."""
        if self.question is None or self.question.proposal is None:
            return None
        now_s = self._workspace.now_s
        segments = self.question.proposal[1].segments
        return next(segment for segment in reversed(segments) if segment.from_s <= now_s or segment is segments[0]).view

    def marking_begins(self) -> None:
        """The coach goes on to Mark: look through the film for a moved camera, once."""
        if self._workspace.view_id is not None:
            self._soon.start(CHECK_AFTER_MS)

    def look(self) -> None:
        """Look now, also where it was done before, and say so."""
        self._compare(told=True)
        self._workspace.message.emit(LOOKING)

    def _compare(self, told: bool) -> None:
        clip = self._workspace.clip
        if clip is None or self._workspace.view_state is None:
            raise UserError("Drop a clip on the window first. Then its camera's place can be compared.")
        own = [stored for _, stored in self._stored() if stored is not None][:1]
        candidates = own or self._of_this_gym()[:MOST_COMPARED]
        if not candidates:
            raise UserError("There is no stored view of this gym yet. Mark four landmarks to make one.")
        self._soon.stop()
        self._ask(None)
        self._worker.submit(
            compared,
            candidates,
            clip,
            bool(own) and not self._is_carried_over(own[0]),
            self._go_on,
            done=lambda found: self._take(found, own[0] if own else None, told),
            failed=self._failed,
        )

    def show_moved(self) -> None:
        """Go to where the camera had just been moved, the lines as proposed over it."""
        moved_s = self.moved_s
        if moved_s is None or self._workspace.clip is None:
            raise UserError("No question about a moved camera is open.")
        self._workspace.set_frame(self._workspace.clip.frame_at(moved_s + SHOWN_AFTER_S))

    @property
    def moved_s(self) -> float | None:
        """When the camera came to its last place, by the question that is open, rather one that has a view.

        None where it was not moved, and without a question.
        """
        proposal = self.question.proposal if self.question else None
        later = proposal[1].segments[1:] if proposal else ()
        seen = [segment for segment in later if segment.view] or later
        return seen[-1].from_s if seen else None

    def say_yes(self) -> None:
        """Take over what was proposed, in one step of undo; landmarks begun where no view was found stay."""
        if self.question is None:
            raise UserError("There is no question open.")
        if self.question.proposal is None:
            self.say_no()
            return
        stored, check = self.question.proposal
        workspace = self._workspace
        before = workspace.view_state
        if before is None:
            return
        first, *others = self._views_for(stored, check)
        later = tuple(
            (segment.from_s, view.id if view else None)
            for segment, view in zip(check.segments[1:], others, strict=True)
        )
        _, begun = view_state_at(workspace.book(), before.clip, 0.0)
        if first is not None:
            begun = state_with(begun, first, before.gym)
        elif begun.stored is not None:
            begun = bare_state(begun)
        made = [view for view in others if view is not None and view not in (first, stored)]
        name = next(view.name for view in (first, *others) if view is not None)
        after = replace(begun, clip=replace(begun.clip, later_views=later))
        self._making.keep(f"View {name}", after, made)
        self._done()

    def say_no(self) -> None:
        """Leave everything as it is."""
        if self.question is None:
            raise UserError("There is no question open.")
        self._done()

    def _views_for(self, stored: StoredView, check: ClipCheck) -> list[StoredView | None]:
        """The stored view of each segment: the one there is where nothing moved, else a new one."""
        practice = self._workspace.practice
        made_on = practice.date if practice else date.today().isoformat()
        taken: list[str] = []

        def made(segment: ClipSegment) -> StoredView | None:
            if segment.view is None:
                return None
            if segment.shifted_px == 0.0:
                return stored
            name = self._making.free_name(stored.name, taken)
            taken.append(name)
            document = with_reference(view_to_text(segment.view), segment.background)
            return StoredView(id=new_id(), gym_id=stored.gym_id, name=name, made_on=made_on, document=document)

        return [made(segment) for segment in check.segments]

    def _of_this_gym(self) -> list[StoredView]:
        practice = self._workspace.practice
        gym_id = practice.gym_id if practice else None
        return [view for view in self._making.fitting_views() if gym_id in (None, view.gym_id)]

    def _look_once(self) -> None:
        """Look, unless this view has been held against this clip before, or there is nothing to compare with."""
        workspace = self._workspace
        state = workspace.view_state
        self._tell_comparing()
        if state is None or state.clip.later_views or self._worker.busy:
            return
        if state.stored is None and (state.marks or not self._of_this_gym()):
            return
        checked = workspace.book().checked_view(state.clip.id)
        if workspace.clip is not None and (state.stored is None or checked != state.stored.id):
            self._compare(told=False)

    def _go_on(self, _done: int, _total: int) -> None:
        if self._worker.cancelled():
            raise Cancelled

    def _take(self, found: Found | None, own: StoredView | None, told: bool) -> None:
        """What was found; ``own``: the view the clip had already, ``told``: the coach waits for an answer."""
        if found is None:
            if own is None:
                self._workspace.message.emit(found_nothing_words(len(self._of_this_gym())))
            elif self._is_carried_over(own):
                self._ask(ViewQuestion(f"This view's lines may miss those of this clip. {CHECK_WORDS}", None))
            self._keep_checked()
            return
        stored, check = found
        if own is not None and known_already(check, self._stored()):
            self._keep_checked()
            if told:
                self._workspace.message.emit(STEADY if len(self._stored()) == 1 else KNOWN)
            return
        gyms = {gym.id: gym.name for gym in self._workspace.book().gyms()}
        name = f"{gyms.get(stored.gym_id, '')} / {stored.name}"
        words = camera_check_question(
            name, date_words(stored.made_on), check, own is not None, self._workspace.time_scale
        )
        self._ask(ViewQuestion(words, found if any(segment.view for segment in check.segments) else None))
        if own is None and self._answered_this_evening(stored, check):
            self.say_yes()
            words = f"Same place as another clip of this practice. {name} holds here too."
            self.taken_over.emit()
            self._workspace.message.emit(words)

    def _answered_this_evening(self, stored: StoredView, check: ClipCheck) -> bool:
        """Whether the view holds all through the clip as it is, and for another clip of the practice already."""
        state = self._workspace.view_state
        still = len(check.segments) == 1 and check.segments[0].shifted_px == 0.0
        untouched = state is not None and not state.marks
        return still and untouched and stored.id in {clip.view_id for clip in self._workspace.clips()}

    def _is_carried_over(self, stored: StoredView) -> bool:
        return len(clips_using(self._workspace.book(), stored.id)) > 1

    def _failed(self, error: BaseException) -> None:
        if isinstance(error, UserError):
            self._workspace.message.emit(str(error))

    def _ask(self, question: ViewQuestion | None) -> None:
        if question is not self.question:
            self.question = question
            self.changed.emit()

    def _done(self) -> None:
        self._ask(None)
        self._keep_checked()

    def _keep_checked(self) -> None:
        entry, view_id = self._workspace.clip_entry, self._workspace.view_id
        if entry is not None and view_id is not None:
            self._workspace.book().put_checked_view(entry.id, view_id)

    def _clip_changed(self) -> None:
        self._worker.cancel()
        self._ask(None)
        self._asked_of = self._stored()
        if self._workspace.clip is not None:
            self._soon.start(CHECK_AFTER_MS if self._workspace.view_id else COMPARE_AFTER_MS)
        self._tell_comparing()

    def _tell_comparing(self) -> None:
        state = self._workspace.view_state
        bare = state is not None and state.stored is None and not state.marks
        coming = bare and (self._worker.busy or self._soon.isActive())
        comparing = len(self._of_this_gym()[:MOST_COMPARED]) if coming else 0
        if comparing != self.comparing:
            self.comparing = comparing
            self.changed.emit()

    def _view_changed(self) -> None:
        """A view was made or changed by hand meanwhile: what is being found out is nobody's question any more."""
        stored = self._stored()
        if stored != self._asked_of:
            self._asked_of = stored
            self._worker.cancel()
            self._ask(None)
        self._tell_comparing()

    def _stored(self) -> Stored:
        """When each segment of the clip begins [s], and the stored view that holds there."""
        state, known = self._workspace.view_state, self._workspace.stored_views()
        if state is None:
            return ()
        segments = ((0.0, state.clip.view_id), *state.clip.later_views)
        return tuple((from_s, known.get(view_id or "")) for from_s, view_id in segments)

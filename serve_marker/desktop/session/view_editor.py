"""Making the view of a clip: landmarks marked on the picture, and the stored view they become.

There is nothing to save: from the fourth landmark on the view is in the logbook, and each change to
it places all of its serves again in the same transaction.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.impossible_marks import FEWEST_LANDMARKS
from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_click_sd_px, own_click_text, own_frames_off
from serve_marker.camera.fitting.view_from_marks import Fit, fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.court.dimensions import Court, landmarks
from serve_marker.desktop.session.court_words import in_coach_words, landmark_words, point_name, traced_point
from serve_marker.desktop.session.edits import ChangeRecords
from serve_marker.desktop.session.view_edits import (
    ChangeOwnClick,
    ChangeView,
    ViewState,
    clips_using,
    court_text,
    view_state_at,
)
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import Gym, Practice, StoredView, new_id
from serve_marker.marking.view_reference import reference_of, with_reference
from serve_marker.report.overlay_items import Pixel
from serve_marker.video.clip import Clip

NO_CLIP = "Drop a clip on the window first; the landmarks are marked on its picture."


class ViewEditor:
    """Changes to the open clip's view, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self.seen: Callable[[], NDArray[np.uint8] | None] = lambda: None
        """What the camera sees of the place, (H, W) or (H, W, 3), or None."""
        self._last: tuple[object, Fit] | None = None

    def mark(self, name: str, pixel: Pixel, nudged: bool = False, to_move: bool = False) -> None:
        """Put a landmark or a traced point on a pixel, or move it there; nudges in a row are one step of undo.

        Of a landmark that is ``to_move`` to its crossing the click is kept beside the mark.
        """
        what = "Line traced," if traced_point(name) else "Landmark"
        state = self._marked(name, pixel)
        if to_move:
            state = replace(state, clicked=(*state.clicked, (name, pixel)))
        self._change(f"{what} {landmark_words(name)}", state, name if nudged else "")

    def move(self, pixels: dict[str, Pixel]) -> None:
        """Move landmarks from where they were clicked to their crossings, all in one step."""
        state = self._state()
        what = landmark_words(next(iter(pixels))) if len(pixels) == 1 else f"{len(pixels)} landmarks"
        self._change(
            f"Moved to the crossing, {what}", replace(state, marks=tuple({**dict(state.marks), **pixels}.items()))
        )

    def tried(self, name: str, pixel: Pixel) -> View | None:
        """Return the view with one mark moved, None where it is none; nothing is written."""
        try:
            return self.fitted(self._marked(name, pixel)).view
        except UserError:
            return None

    def _marked(self, name: str, pixel: Pixel) -> ViewState:
        state, point = self._state(), traced_point(name)
        if point is None:
            left = tuple(other for other in state.skipped if other != name)
            marks = tuple({**dict(state.marks), name: pixel}.items())
            return replace(state, marks=marks, skipped=left, clicked=_but(name, state.clicked))
        line, number = point
        pixels = list(dict(state.traces).get(line, ()))
        pixels[number : number + 1] = [pixel]
        return self._traced(line, pixels)

    def skip(self, name: str) -> None:
        """Leave a landmark out, in one step of undo; one that is marked stays."""
        state = self._state()
        if name not in (*dict(state.marks), *state.skipped):
            self.keep(f"Skipped {landmark_words(name)}", replace(state, skipped=(*state.skipped, name)))

    def trace(self, line: str, pixel: Pixel) -> None:
        """Add a point to those traced along a line."""
        self.mark(point_name(line, len(dict(self._state().traces).get(line, ()))), pixel)

    def remove(self, name: str) -> None:
        """Take a landmark or a traced point away."""
        state = self._state()
        point = traced_point(name)
        if point is None:
            after = replace(state, marks=_but(name, state.marks), clicked=_but(name, state.clicked))
        else:
            line, number = point
            pixels = list(dict(state.traces).get(line, ()))
            del pixels[number : number + 1]
            after = self._traced(line, pixels)
        if after == state:
            raise UserError("This landmark is not marked yet.")
        self._change(f"{'Point' if point else 'Landmark'} {landmark_words(name)} removed", after)

    def _traced(self, line: str, pixels: list[Pixel]) -> ViewState:
        state = self._state()
        traces = {**dict(state.traces), line: tuple(pixels)}
        return replace(state, traces=tuple(trace for trace in traces.items() if trace[1]))

    def marked(self) -> dict[str, Pixel]:
        """Return every landmark and traced point of the clip by name, in the order of marking [px]."""
        state = self._workspace.view_state
        if state is None:
            return {}
        points = {point_name(line, k): pixel for line, trace in state.traces for k, pixel in enumerate(trace)}
        return {**dict(state.marks), **points}

    def start_over(self) -> None:
        """Take the view and its landmarks off this stretch of the clip; the stored view stays for other clips.

        A later stretch that is bare already ends: the view before it holds on.
        """
        state = self._state()
        if state.from_s and not (state.marks or state.traces or state.stored):
            self.keep("Stretches joined", self._joined(state))
            self._workspace.message.emit("The earlier view now covers this part too.")
            return
        self.keep("Landmarks taken away", bare_state(state))

    def _joined(self, state: ViewState) -> ViewState:
        """The state of the stretch before this one, lasting through this one too."""
        earlier = [from_s for from_s, _ in state.clip.later_views if from_s < state.from_s]
        _, before = view_state_at(self._workspace.book(), state.clip, max(earlier, default=0.0))
        later = tuple(stretch for stretch in state.clip.later_views if stretch[0] != state.from_s)
        return replace(before, clip=replace(before.clip, later_views=later))

    def choose_court(self, court: Court, net_height_m: float | None = None) -> None:
        """Play on a court of other measures, by default over the first of its nets."""
        state = self._state()
        if net_height_m is None and court == state.court:
            return
        marks, traces, clicked = state.marks, state.traces, state.clicked
        if not court.attack_line_m:
            marks = tuple(mark for mark in marks if not mark[0].startswith("attack"))
            traces = tuple(trace for trace in traces if not trace[0].startswith("attack"))
            clicked = tuple(click for click in clicked if not click[0].startswith("attack"))
        height_m = net_height_m or (court.net_heights[0].height_m if court.net_heights else state.net_height_m)
        self._change(
            f"Court: {court.title}",
            replace(state, court=court, net_height_m=height_m, marks=marks, traces=traces, clicked=clicked),
        )

    @property
    def court_told(self) -> bool:
        """Whether the coach has said that the open view's gym has its court."""
        state, gym = self._workspace.view_state, self._gym_of_view()
        return state is not None and gym is not None and gym.court == court_text(state.court)

    def tell_court(self) -> None:
        """Keep that the gym has this court; its next views begin with it."""
        gym = self._gym_of_view()
        if gym is not None:
            after = replace(gym, court=court_text(self._state().court))
            self._workspace.do(ChangeRecords(f"Court of {gym.name}", [(gym, after)]))

    def _gym_of_view(self) -> Gym | None:
        state = self._workspace.view_state
        if state is None or state.gym is None:
            return None
        return next((gym for gym in self._workspace.book().gyms() if gym.id == state.gym.id), None)

    def choose_net_height(self, net_height_m: float) -> None:
        """Play over a net of another height."""
        state = self._state()
        self._change(f"Net at {net_height_m:.2f} m", replace(state, net_height_m=net_height_m))

    def use(self, stored: StoredView) -> None:
        """Use a stored view for this clip."""
        state = self._state()
        view = view_from_text(stored.document)
        clip = self._workspace.clip
        if clip is not None and tuple(view.image_size) != (clip.width, clip.height):
            width, height = view.image_size
            raise UserError(
                f"{stored.name} is for pictures of {width} × {height}, not of {clip.width} × {clip.height}. "
                "Mark the landmarks on this clip instead."
            )
        self.keep(f"View {stored.name}", state_with(state, stored))

    def fitting_views(self) -> list[StoredView]:
        """Return the stored views made on pictures of this clip's size, the newest first."""
        clip = self._workspace.clip
        stored = reversed(list(self._workspace.stored_views().values()))
        if clip is None:
            return []
        size = (clip.width, clip.height)
        return [view for view in stored if tuple(view_from_text(view.document).image_size) == size]

    def rename(self, gym_name: str, name: str) -> None:
        """Give the view its gym and place."""
        state = self._state()
        if state.stored is None:
            raise UserError("The view has a name once four landmarks are marked.")
        if not gym_name.strip() or not name.strip():
            raise UserError("A view needs the name of its gym and of the camera's place.")
        gym = self._gym(gym_name.strip())
        stored = replace(state.stored, gym_id=gym.id, name=name.strip())
        if stored == state.stored:
            return
        practice = self._workspace.practice
        moved = practice is not None and gym.id != state.stored.gym_id and practice.gym_id != gym.id
        to_gym = (practice, replace(practice, gym_id=gym.id)) if practice is not None and moved else None
        self.keep(f"View named {stored.name}", replace(state, stored=stored, gym=gym), practice=to_gym)

    def fit(self) -> Fit | None:
        """Return how well the landmarks fit, None before there is a view and where too few of them are in sight."""
        state = self._workspace.view_state
        if state is None or state.stored is None or self._workspace.clip is None:
            return None
        try:
            return self.fitted(state)
        except UserError:
            return None

    def fitted(self, state: ViewState) -> Fit:
        """Fit what was marked on the open clip; the last answer is kept."""
        size = self._image_size()
        own_sd_px = own_click_sd_px(self._workspace.book().get_setting(OWN_CLICK), size)
        marked = (state.marks, state.clicked, state.traces, state.court, state.net_height_m, size, own_sd_px)
        if self._last is None or self._last[0] != marked:
            marks, traces, clicked = dict(state.marks), dict(state.traces), dict(state.clicked)
            try:
                fit = fit_view(marks, state.court, size, state.net_height_m, traces, own_sd_px, clicked)
            except UserError as error:
                raise UserError(in_coach_words(str(error))) from error
            self._last = (marked, fit)
        return self._last[1]

    def _image_size(self) -> tuple[int, int]:
        clip = self._clip()
        return clip.width, clip.height

    def _clip(self) -> Clip:
        if self._workspace.clip is None:
            raise UserError(NO_CLIP)
        return self._workspace.clip

    def _state(self) -> ViewState:
        state = self._workspace.view_state
        if state is None or self._workspace.clip is None:
            raise UserError(NO_CLIP)
        return state

    def _change(self, text: str, state: ViewState, nudged: str = "") -> None:
        if len(on_floor(state)) < FEWEST_LANDMARKS:
            if state.stored is not None:
                raise UserError("A view needs four landmarks; move this one instead, or start the view over.")
            self.keep(text, state, nudged=nudged)
            return
        try:
            fit = self.fitted(state)
        except UserError as error:
            if state.stored is not None:
                raise
            self.keep(text, state, nudged=nudged)
            self._workspace.message.emit(str(error))
            return
        self.keep(text, self._with_view(state, fit.view), nudged=nudged)

    def _with_view(self, state: ViewState, view: View) -> ViewState:
        gym = state.gym or self._gym(self._gym_name())
        shared = state.stored is not None and len(clips_using(self._workspace.book(), state.stored.id)) > 1
        document = self._document(view, state.stored)
        if state.stored is None or shared:
            made_on = self._workspace.practice.date if self._workspace.practice else date.today().isoformat()
            name = self.free_name(state.stored.name if state.stored else "Camera")
            stored = StoredView(id=new_id(), gym_id=gym.id, name=name, made_on=made_on, document=document)
        else:
            stored = replace(state.stored, document=document)
        return replace(state.using(stored.id), stored=stored, gym=gym)

    def _document(self, view: View, before: StoredView | None) -> str:
        """The view's text with the picture by which its place is known again."""
        frames_off = own_frames_off(self._workspace.book().get_setting(OWN_CLICK))
        text = view_to_text(replace(view, click_frames_off=frames_off))
        kept = reference_of(before.document) if before is not None else None
        picture = self.seen() if kept is None else kept
        return text if picture is None else with_reference(text, picture)

    def _gym_name(self) -> str:
        """The practice's gym, else that of the view stored last."""
        book, practice = self._workspace.book(), self._workspace.practice
        names = {gym.id: gym.name for gym in book.gyms()}
        in_use = [view.gym_id for view in sorted(book.views(), key=lambda view: view.made_on)]
        if practice is not None and practice.gym_id is not None:
            in_use.append(practice.gym_id)
        return names[in_use[-1]] if in_use else "Our gym"

    def _gym(self, name: str) -> Gym:
        known = {gym.name: gym for gym in self._workspace.book().gyms()}
        return known.get(name) or Gym(id=new_id(), name=name)

    def keep_own_click(self, sd_px: float) -> None:
        """Keep how finely the coach clicks, and let every stored view count with it."""
        text = own_click_text(sd_px, self._image_size(), self._workspace.book().get_setting(OWN_CLICK))
        change_own_click(self._workspace, "Your own click error", text)

    def split(self, time_s: float) -> None:
        """Let a stretch of the clip begin here that needs a view of its own: the camera was moved."""
        state = self._state()
        if time_s <= 0.0 or any(from_s == time_s for from_s, _ in state.clip.later_views):
            raise UserError("A part of the clip begins at this frame already. Step to where the camera moved.")
        clip = replace(state.clip, later_views=tuple(sorted((*state.clip.later_views, (time_s, None)))))
        after = replace(bare_state(state), clip=clip, from_s=time_s)
        self.keep("New view from here on", after)

    def free_name(self, wanted: str, also_taken: Sequence[str] = ()) -> str:
        """Return a name no stored view has, made of the one wanted: after "Stand" and "Stand 2" comes "Stand 3"."""
        taken = {view.name for view in self._workspace.stored_views().values()} | set(also_taken)
        first = re.sub(r" \d+$", "", wanted)
        first = first if first in taken else wanted
        names = (first if count == 1 else f"{first} {count}" for count in range(1, len(taken) + 2))
        return next(name for name in names if name not in taken)

    def keep(
        self,
        text: str,
        after: ViewState,
        also_made: Sequence[StoredView] = (),
        nudged: str = "",
        practice: tuple[Practice, Practice] | None = None,
    ) -> None:
        """Let the open clip have this view, with new views of its other stretches, in one step of undo."""
        workspace, before = self._workspace, self._state()
        known = workspace.stored_views()
        made = (after.stored,) if after.stored is not None and after.stored.id not in known else ()
        workspace.do(ChangeView(text, before, after, self._clip().time_scale, (*made, *also_made), nudged, practice))


def _but(name: str, marks: tuple[tuple[str, Pixel], ...]) -> tuple[tuple[str, Pixel], ...]:
    return tuple(mark for mark in marks if mark[0] != name)


def on_floor(state: ViewState) -> dict[str, Pixel]:
    """Return the landmarks of the floor that are marked; those of the net alone make no view."""
    places = landmarks(state.court)
    return {name: pixel for name, pixel in state.marks if name in places}


def bare_state(state: ViewState) -> ViewState:
    """Return the state of the same stretch of a clip without view and landmarks."""
    return replace(state.using(None), marks=(), clicked=(), traces=(), stored=None, gym=None, skipped=())


def state_with(state: ViewState, stored: StoredView, gym: Gym | None = None) -> ViewState:
    """Return the state of the same stretch of a clip with a stored view."""
    view = view_from_text(stored.document)
    return replace(
        state.using(stored.id),
        marks=tuple(view.marks.items()),
        clicked=tuple(view.clicked.items()),
        traces=tuple(view.traces.items()),
        court=view.court,
        net_height_m=view.net_height_m,
        stored=stored,
        gym=gym,
    )


def change_own_click(workspace: Workspace, words: str, text: str) -> None:
    """Let every stored view count with another setting of the coach's own clicks, as a step that undo calls `words`."""
    entry, clip = workspace.clip_entry, workspace.clip
    open_clips = {entry.id: clip.time_scale} if entry and clip else {}
    workspace.do(ChangeOwnClick(workspace.book(), words, text, open_clips))

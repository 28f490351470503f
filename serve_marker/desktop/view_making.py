"""Making the view of a clip: landmarks marked on the picture, and the stored view they become.

There is nothing to save: from the fourth landmark on the view is in the logbook, and each change to
it places all of its serves again in the same transaction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from serve_marker.camera.fit import Fit, fit_view
from serve_marker.camera.view import View
from serve_marker.camera.viewfile import view_from_text, view_to_text
from serve_marker.court.dimensions import Court
from serve_marker.desktop.commands import ChangeView, ViewState
from serve_marker.desktop.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, StoredView, new_id

Pixel = tuple[float, float]

FEWEST_LANDMARKS = 4
LANDMARK_LINE_WORDS = {
    "end-a": "near end line",
    "attack-a": "near attack line",
    "centre": "centre line",
    "attack-b": "far attack line",
    "end-b": "far end line",
    "net-top": "top of the net",
    "antenna-top": "top of the antenna",
}


def landmark_words(name: str) -> str:
    """Return a landmark as the coach reads it.

    Examples
    --------
    >>> landmark_words("end-b/left")
    'far end line, left sideline'
    """
    line, side = name.split("/")
    return f"{LANDMARK_LINE_WORDS[line]}, {side} sideline"


class ViewMaking:
    """Changes to the open clip's view, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def mark(self, name: str, pixel: Pixel) -> None:
        """Put a landmark on a pixel, or move it there."""
        state = self._state()
        self._change(f"Landmark {landmark_words(name)}", state, {**dict(state.marks), name: pixel})

    def remove(self, name: str) -> None:
        """Take a landmark away."""
        state = self._state()
        marks = {other: pixel for other, pixel in state.marks if other != name}
        if len(marks) == len(state.marks):
            raise UserError("This landmark is not marked yet.")
        self._change(f"Landmark {landmark_words(name)} removed", state, marks)

    def start_over(self) -> None:
        """Take the view and its landmarks off this clip; the stored view stays for other clips."""
        state = self._state()
        entry = replace(state.clip, view_id=None)
        self._do("Landmarks taken away", ViewState((), state.court, state.net_height_m, entry))

    def choose_court(self, court: Court, net_height_m: float | None = None) -> None:
        """Play on a court of other measures, by default over the first of its nets."""
        state = self._state()
        known = {name: pixel for name, pixel in state.marks if court.attack_line_m or not name.startswith("attack")}
        if net_height_m is None and court == state.court:
            return
        height_m = net_height_m or (court.net_heights[0].height_m if court.net_heights else state.net_height_m)
        self._change(f"Court: {court.title}", replace(state, court=court, net_height_m=height_m), known)

    def choose_net_height(self, net_height_m: float) -> None:
        """Play over a net of another height."""
        state = self._state()
        self._change(f"Net at {net_height_m:.2f} m", replace(state, net_height_m=net_height_m), dict(state.marks))

    def use(self, stored: StoredView) -> None:
        """Use a stored view for this clip."""
        state = self._state()
        view = view_from_text(stored.document)
        clip = self._workspace.clip
        if clip is not None and tuple(view.image_size) != (clip.width, clip.height):
            width, height = view.image_size
            raise UserError(
                f"{stored.name} was made on pictures of {width} x {height}, this one has {clip.width} x {clip.height}; "
                "mark the landmarks on this clip instead."
            )
        entry = replace(state.clip, view_id=stored.id)
        after = ViewState(tuple(view.marks.items()), view.court, view.net_height_m, entry, stored)
        self._do(f"View {stored.name}", after)

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
        if stored != state.stored:
            self._do(f"View named {stored.name}", replace(state, stored=stored, gym=gym))

    def fit(self) -> Fit | None:
        """Return how well the landmarks fit, None before there is a view."""
        state, clip = self._workspace.view_state, self._workspace.clip
        if state is None or state.stored is None or clip is None:
            return None
        return fit_view(dict(state.marks), state.court, (clip.width, clip.height), state.net_height_m)

    def _state(self) -> ViewState:
        state = self._workspace.view_state
        if state is None or self._workspace.clip is None:
            raise UserError("Drop a clip on the window first; the landmarks are marked on its picture.")
        return state

    def _change(self, text: str, state: ViewState, marks: Mapping[str, Pixel]) -> None:
        workspace = self._workspace
        clip = workspace.clip
        if clip is None:
            raise UserError("Drop a clip on the window first; the landmarks are marked on its picture.")
        ordered = tuple(marks.items())
        if len(marks) < FEWEST_LANDMARKS:
            if state.stored is not None:
                raise UserError("A view needs four landmarks; move this one instead, or start the view over.")
            self._do(text, replace(state, marks=ordered))
            return
        try:
            fit = fit_view(dict(marks), state.court, (clip.width, clip.height), state.net_height_m)
        except UserError as error:
            if state.stored is not None:
                raise
            self._do(text, replace(state, marks=ordered))
            workspace.message.emit(str(error))
            return
        self._do(text, self._with_view(state, ordered, fit.view))

    def _with_view(self, state: ViewState, marks: tuple[tuple[str, Pixel], ...], view: View) -> ViewState:
        gym = state.gym or self._gym(self._gym_name())
        shared = state.stored is not None and len(self._clips_using(state.stored.id)) > 1
        if state.stored is None or shared:
            made_on = self._workspace.practice.date if self._workspace.practice else date.today().isoformat()
            name = self._free_name(state.stored.name if state.stored else "Camera")
            stored = StoredView(id=new_id(), gym_id=gym.id, name=name, made_on=made_on, document=view_to_text(view))
        else:
            stored = replace(state.stored, document=view_to_text(view))
        entry = replace(state.clip, view_id=stored.id)
        return ViewState(marks, state.court, state.net_height_m, entry, stored, gym)

    def _gym_name(self) -> str:
        gyms = self._workspace.book().gyms()
        practice = self._workspace.practice
        named = next((gym.name for gym in gyms if practice is not None and gym.id == practice.gym_id), None)
        return named or (gyms[-1].name if gyms else "Our gym")

    def _gym(self, name: str) -> Gym:
        known = {gym.name: gym for gym in self._workspace.book().gyms()}
        return known.get(name) or Gym(id=new_id(), name=name)

    def _free_name(self, wanted: str) -> str:
        taken = {view.name for view in self._workspace.stored_views().values()}
        names = (wanted if count == 1 else f"{wanted} {count}" for count in range(1, len(taken) + 2))
        return next(name for name in names if name not in taken)

    def _clips_using(self, view_id: str) -> list[ClipEntry]:
        return [entry for entry in self._workspace.book().clips() if entry.view_id == view_id]

    def _do(self, text: str, after: ViewState) -> None:
        self._workspace.do(ChangeView(self._workspace, text, self._state(), after))

"""What keys and clicks do to the film: stepping, playing, marking, setting up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, Qt

from serve_marker.camera.fitting.observations import line_ends, line_under
from serve_marker.court.dimensions import landmarks
from serve_marker.desktop.dialogs.capture_rate import CaptureRate
from serve_marker.desktop.dialogs.serving_end import ServingEndDialog
from serve_marker.desktop.dialogs.shortcut_card import key_words
from serve_marker.desktop.film.player_list import PlayerList
from serve_marker.desktop.film_page import FilmPage
from serve_marker.desktop.jump_on import JumpOn
from serve_marker.desktop.mark.doubt_sentences import doubt
from serve_marker.desktop.mark.passer_actions import PasserActions
from serve_marker.desktop.session.aim_choices import aims_on
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.serve_marks import hit_too_long_before, marked_moments_s
from serve_marker.desktop.session.serving_order import END_WORDS, next_server_words, other_end
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.view_editor import ViewEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup.pane import view_items
from serve_marker.errors import UserError
from serve_marker.logbook.records import SERVE_TYPES, Serve
from serve_marker.marking.ball_at_cross_hair import SeenBall
from serve_marker.report.overlay_items import Pixel
from serve_marker.study.sentences import count_words
from serve_marker.video.likely_serves import hit_stops_s, stops_s

ON_BALL_WORDS = "Landing clicks are on the ball's centre now. C goes back to the floor."
NO_KEY = Qt.KeyboardModifier.NoModifier
MEANING_OF_KEY = {Qt.KeyboardModifier.ShiftModifier: "ball", Qt.KeyboardModifier.ControlModifier: "feet"}
TEN_FRAMES = 10
BALL_REACH = 60.0
"""A ball this near the cross-hair on the screen is found."""
LINE_REACH = 24.0
"""A line this near the cross-hair on the screen is the one meant."""


class FilmActions:
    """Handlers of the actions that work on the picture."""

    def __init__(
        self,
        workspace: Workspace,
        page: FilmPage,
        marking: ServeEditor,
        making: ViewEditor,
        passers: PasserActions,
        filmed_at: CaptureRate,
        jump_on: JumpOn,
    ) -> None:
        self._workspace = workspace
        self._page = page
        self._marking = marking
        self._making = making
        self._passers = passers
        self._filmed_at = filmed_at
        self._jump_on = jump_on
        self._marks: dict[str, Callable[[Pixel], float | None]] = {
            "ball": marking.ball,
            "feet": marking.feet,
            "move": marking.move_landing,
            "ball at the hit": partial(marking.feet, on_ball=True),
            "received": marking.received_here,
        }
        self._told = self._heard = ""
        making.seen = self._seen
        page.touches.sharpened.connect(self._tell_again)
        workspace.message.connect(self._hear)
        page.picture.clicked.connect(show_errors(workspace, self._click))
        page.picture.dragged_mark.connect(show_errors(workspace, self._dragged))
        page.picture.nudged_mark.connect(show_errors(workspace, partial(self._dragged, nudged=True)))
        page.picture.mark_moving.connect(self._moving)
        page.chips.menu_asked.connect(show_errors(workspace, self._open_player_list))

    def find_serves(self) -> None:
        """Review the serves found on this clip; ask once from which end they come, and look for them."""
        finder, review = self._page.finder, self._page.review
        if finder.why_not:
            raise UserError(finder.why_not)
        search = finder.search()
        if search is None or (search.finished and not review.waiting()):
            dialog = ServingEndDialog(self._workspace.turns.end, self._page.window())
            dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            dialog.picked.connect(show_errors(self._workspace, self._begin_finding))
            dialog.open()
        elif search.finished or finder.busy:
            review.begin()
        else:
            self._begin_finding(search.served_from)

    def _begin_finding(self, served_from: str) -> None:
        self._page.finder.begin(served_from)
        self._page.review.begin()

    def mark_contact(self) -> None:
        """The server hits the ball on the frame shown; who marks by hand leaves the review for later."""
        self._page.review.end()
        self._on_shown_frame()
        taken = self._marking.offered_place() is not None
        landed = self._marking.contact()
        if landed is not None:
            server = next_server_words(self._workspace.players.get(landed.player_id or ""))
            done = "moved" if landed.contact is not None else "marked"
            self._workspace.message.emit(f"Contact {done} for the serve of {server}.")
            return
        self._page.show_marked("")
        offered = self._marking.offered_place() is not None
        words = f" {key_words('H')} again: from the same place as last time." if offered else ""
        marked = "Hit from the same place as last time" if taken else "Contact marked"
        self._workspace.message.emit(f"{marked}; now mark how the serve ended.{words}")

    def mark_outcome(self, outcome: str) -> None:
        """The serve ended otherwise than on the floor, on the frame shown."""
        if self._page.review.shown is not None:
            self._page.review.end_otherwise(outcome)
            return
        self._on_shown_frame()
        chosen = self._workspace.chosen
        changed = self._marking.outcome(outcome)
        self._say_last(None)
        self._say_joined(changed, "Changed")
        if chosen is None and changed is None:
            self._go_on()

    def step_frames(self, frames: int) -> None:
        """Step through the clip; from its last frame on, say which clip follows.

        The first step out of a found serve that plays goes to its landing.
        """
        if abs(frames) <= TEN_FRAMES and self._page.review.stop_at_landing():
            return
        workspace, before = self._workspace, self._workspace.frame
        self._page.player.pause()
        workspace.set_frame(before + frames)
        if frames != 1 or workspace.frame != before:
            return
        if (follows := workspace.neighbour_clip(1)) is not None:
            key, name = key_words("F3"), follows.file_name
            workspace.message.emit(f"The clip ends here; {key} goes on with {name}.")

    def step_serve(self, direction: int) -> None:
        """Go to the serve before or after the frame shown; before comes first the one just marked on it."""
        workspace = self._workspace
        if workspace.clip is None:
            return
        self._page.player.pause()
        placed = [
            (workspace.clip.frame_at(serve.moment_s), serve.id)
            for serve in workspace.serves
            if serve.moment_s is not None
        ]
        here = direction < 0 and workspace.chosen is None
        ahead = [
            (frame, serve_id)
            for frame, serve_id in placed
            if (frame - workspace.frame) * direction > 0 or (here and frame == workspace.frame)
        ]
        if not ahead:
            workspace.message.emit("No serve after this frame." if direction > 0 else "No serve before this frame.")
            return
        workspace.go_to_serve(min(ahead)[1] if direction > 0 else max(ahead)[1])

    def step_likely(self, direction: int) -> None:
        """Go to the likely hit or landing, or the mark, before or after the frame shown; else to any spike."""
        likely = self._page.sound.likely
        stops = stops_s(likely, *marked_moments_s(self._workspace.serves))
        if not likely or not self._go_beyond(stops, direction):
            self.step_spike(direction)

    def _go_on(self) -> None:
        """A serve has ended: go to the next likely hit, where that is set."""
        if self._jump_on.on:
            contacts_s, _ = marked_moments_s(self._workspace.serves)
            self._go_beyond(hit_stops_s(self._page.sound.likely, contacts_s), 1)

    def step_spike(self, direction: int) -> None:
        """Go to the hit, bounce or other sudden sound heard before or after the frame shown."""
        sound, clip = self._page.sound, self._workspace.clip
        if clip is None:
            return
        if not len(sound.spikes_s):
            words = "Still listening to the clip; try again in a moment." if sound.busy else "No hits are heard in it."
            raise UserError(words if clip.has_sound else "This clip has no sound to find hits by.")
        if not self._go_beyond(sound.spikes_s, direction):
            raise UserError(f"No hit or bounce is heard {'after' if direction > 0 else 'before'} this frame.")

    def _go_beyond(self, times_s: NDArray[np.float64], direction: int) -> bool:
        """Go to the first of these times after (1) or before (-1) the frame shown; whether there is one."""
        workspace, clip = self._workspace, self._workspace.clip
        if clip is None:
            return False
        here = workspace.frame
        ahead_s = times_s[times_s > workspace.now_s] if direction > 0 else times_s[times_s < workspace.now_s][::-1]
        frames = (clip.frame_at(time_s) for time_s in ahead_s.tolist())
        there = next((frame for frame in frames if (frame - here) * direction > 0), None)
        if there is not None:
            self._page.player.pause()
            workspace.set_frame(there)
        return there is not None

    def click_here(self, meaning: str) -> None:
        """Click at the cross-hair; Enter closes the outline of a target."""
        if self._workspace.outline_px is not None and meaning == "plain":
            self._passers.close_outline()
            return
        pixel = self._page.picture.cursor_px
        if pixel is None or not self._page.picture.cross_hair_moved:
            raise UserError(
                "Move the cross-hair first: it has not moved since the frame or choice changed. "
                "Use the pointer, or Alt with an arrow key."
            )
        self._click(*pixel, meaning=meaning)

    def to_last_landing(self) -> None:
        """Put the cross-hair where the landing before the frame shown was marked, else the first one."""
        landings = [serve.landing for serve in self._workspace.serves if serve.landing and serve.landing.pixel]
        before = [mark for mark in landings if mark.time_s <= self._workspace.now_s]
        mark = max(before or landings, key=lambda one: one.time_s if before else -one.time_s, default=None)
        if mark is None or mark.pixel is None:
            raise UserError("No landing is marked on this clip yet; arrows with Alt move the cross-hair.")
        self._page.picture.put_cross_hair(*mark.pixel)

    def to_ball(self) -> None:
        """Put the cross-hair on the floor right under the ball seen near it, or on the ball where clicks mean that."""
        self._on_shown_frame()
        picture, on_ball = self._page.picture, self._workspace.on_ball
        if picture.cursor_px is None:
            raise UserError("Move the cross-hair near the ball first, by Alt with an arrow key.")

        def found(ball: SeenBall) -> None:
            picture.put_cross_hair(ball.x_px, ball.y_px + (0.0 if on_ball else ball.radius_px))

        self._page.ball.look(picture.cursor_px, BALL_REACH / max(picture.scales()), found)

    def second_serve(self) -> None:
        """The landing just moved was a second serve after all."""
        self._marking.second_serve()
        self._say_last(None)

    def skip_landmark(self) -> None:
        """Leave the next landmark out."""
        self._page.setup_pane.skip()
        self._page.refresh_items()

    def trace_line(self) -> None:
        """Trace the line under the cross-hair, or else one not traced yet; once more ends it."""
        pane, workspace = self._page.setup_pane, self._workspace
        if pane.tracing is not None:
            pane.stop_tracing()
            return
        state, cursor = workspace.view_state, self._page.picture.cursor_px
        if state is None:
            raise UserError("Drop a clip on the window first; lines are traced on its picture.")
        reach_px = LINE_REACH / max(self._page.picture.scales())
        under = line_under(workspace.view, cursor, reach_px) if workspace.view and cursor else None
        traced = dict(state.traces)
        pane.choose(under or next((line for line in line_ends(state.court) if line not in traced), "end-b"))

    def remove_landmark(self) -> None:
        """Take the landmark or traced point under the cross-hair, or else the last one, away."""
        marks = self._making.marked()
        if not marks:
            raise UserError("No landmark is marked yet.")
        cursor = self._page.picture.cursor_px
        name = next(reversed(marks))
        if cursor is not None:
            nearest = min(marks, key=lambda n: _distance(marks[n], cursor))
            reach_px = 14 / max(self._page.picture.scales())
            name = nearest if _distance(marks[nearest], cursor) < reach_px else name
        self._making.remove(name)

    def start_view_over(self) -> None:
        """Begin the clip's view afresh."""
        self._making.start_over()

    def click_exercise(self) -> None:
        """Begin the exercise that measures the coach's own click error, or end it."""
        exercise = self._page.exercise
        if exercise.running:
            exercise.stop()
        else:
            exercise.begin()

    def change_landing_kind(self) -> None:
        """Landing clicks are on the ball's centre, or on the floor under it."""
        workspace = self._workspace
        workspace.set_on_ball(not workspace.on_ball)
        workspace.message.emit(ON_BALL_WORDS if workspace.on_ball else "Landing clicks are on the floor again.")

    def new_stretch(self) -> None:
        """The camera was moved at the frame shown: from here on another view holds."""
        self._on_shown_frame()
        self._making.split(self._workspace.now_s)

    def type_server(self) -> None:
        """Type the shirt number of the chosen serve's server, or of the next one."""
        self._page.mark_pane.turn.type_number()

    def change_end(self) -> None:
        """Let the next serve come from the other end."""
        turns = self._workspace.turns
        self._workspace.set_turns(replace(turns, end=other_end(turns.end)))
        self._workspace.message.emit(f"The next serve comes from the {END_WORDS[other_end(turns.end)]}.")

    def step_aim(self, by: int) -> None:
        """Take the next or previous aim, for the chosen serve or the next ones."""
        aims, of = aims_on(self._workspace.court.name), next(iter(self._workspace.chosen_serves), self._workspace)
        here = aims.index(of.aim) if of.aim in aims else 0
        self._page.mark_pane.set_aim(aims[(here + by) % len(aims)])

    def step_type(self, by: int) -> None:
        """Take the next or previous serve type, for the chosen serve or the next ones."""
        types, of = ("", *SERVE_TYPES), next(iter(self._workspace.chosen_serves), self._workspace)
        self._page.mark_pane.set_serve_type(types[(types.index(of.serve_type) + by) % len(types)])

    def give_serves(self) -> None:
        """Choose to whom the chosen serves go."""
        self._open_player_list(self._page.chips.mapToGlobal(QPoint(20, 0)))

    def _open_player_list(self, at: QPoint) -> None:
        workspace = self._workspace
        if not workspace.selection:
            raise UserError("Choose the serves to give to another server first.")
        players = list(workspace.players.values())
        if not players:
            raise UserError("The roster is empty; add the players with Practice > Players first.")
        chosen = workspace.selected_serves()
        server = workspace.players.get(chosen[0].player_id or "") if len(chosen) == 1 else None
        what = f"the serve of {next_server_words(server)}" if server else count_words(len(chosen), "serve")
        listed = PlayerList(f"Give {what} to", players, self._page)
        listed.chosen.connect(show_errors(workspace, self._marking.give_to))
        listed.open_at(at, self._page.window())

    def _seen(self) -> NDArray[np.uint8] | None:
        """What the camera sees of the place: the still part of the clip around the frame shown, else that frame."""
        still = self._page.background.picture
        return self._page.frames.full_frame() if still is None else still

    def _on_shown_frame(self) -> None:
        """Stop playing, and go back to the frame on the screen if another was asked for: a click means what is seen.

        While a found serve plays it is about its landing.
        """
        if self._page.review.stop_at_landing():
            return
        self._page.player.pause()
        shown = self._page.shown_index
        if shown is None:
            raise UserError("No picture is shown yet; wait a moment and click again.")
        self._workspace.set_frame(shown)

    def _click(self, x_px: float, y_px: float, modifiers: Qt.KeyboardModifier = NO_KEY, meaning: str = "") -> None:
        """Do what a click means: as said, else by the keys held down with it."""
        pixel = (x_px, y_px)
        held = next((said for key, said in MEANING_OF_KEY.items() if modifiers & key), "plain")
        meaning = meaning or held
        if meaning != "plain":
            self._page.review.end()
        self._on_shown_frame()
        if self._page.step == "setup":
            if self._page.exercise.running:
                self._page.exercise.click(pixel)
                return
            self._mark_landmark(pixel, exact=meaning == "ball")
            return
        if self._workspace.outline_px is not None and meaning == "plain":
            self._passers.add_corner(pixel)
            return
        if meaning == "plain" and self._page.picture.mark_near(pixel).startswith("contact"):
            self._workspace.message.emit("The server's place is marked there; drag it to move it.")
            return
        self._ask_first(pixel if meaning in ("plain", "move") else None, partial(self._mark, meaning, pixel))

    def _ask_first(self, landing_px: Pixel | None, enter: Callable[[], None]) -> None:
        """Enter a mark, but ask first about a landing where no serve lands; any other question goes."""
        question = self._marking.question_for(landing_px) if landing_px is not None else ""
        self._page.ask(question, enter if question else None)
        if not question:
            enter()

    def _drag_serve(self, name: str, pixel: Pixel) -> None:
        self._marking.drag(name, pixel)
        self._say_last(None)

    def _mark(self, meaning: str, pixel: Pixel) -> None:
        if meaning == "plain" and self._page.review.shown is not None:
            self._page.review.correct(pixel)
            return
        if meaning != "plain":
            self._say_last(self._marks[meaning](pixel))
            return
        near = self._marking.landing(pixel)
        self._say_last(None)
        if near is None:
            self._go_on()
        by_key = near is not None and near.landing is not None and near.landing.pixel is None
        self._say_joined(near, "Placed" if by_key else "Moved")

    def _say_joined(self, before: Serve | None, how: str) -> None:
        """Say what became of a serve that a second mark changed, and how to make that mark a serve of its own."""
        now = next((serve for serve in self._workspace.serves if before is not None and serve.id == before.id), None)
        if now is not None:
            words = self._page.judgements.words(now)
            self._workspace.message.emit(f"{words}. {how}; {key_words('U')} makes it a second serve.")

    def _mark_landmark(self, pixel: Pixel, exact: bool) -> None:
        pane, checking = self._page.setup_pane, self._page.checking
        if checking.proposed() is not None:
            checking.say_no()
        if pane.tracing is not None:
            self._making.trace(pane.tracing, pixel)
            return
        name = pane.next_landmark()
        if name is None:
            raise UserError("All landmarks are marked. Drag one, or choose one on the small court.")
        pane.placed()
        stays = exact or name not in landmarks(self._workspace.court)
        self._making.mark(name, pixel, to_move=not stays)
        if stays:
            self._page.snapping.keep(name)
        else:
            self._page.snapping.clicked(name, pixel)

    def _dragged(self, name: str, x_px: float, y_px: float, nudged: bool = False) -> None:
        if self._page.step == "mark":
            self._page.refresh_items()
            landing = name.startswith("landing")
            self._ask_first((x_px, y_px) if landing else None, partial(self._drag_serve, name, (x_px, y_px)))
            return
        try:
            self._making.mark(name, (x_px, y_px), nudged)
        finally:
            self._page.refresh_items()

    def _moving(self, name: str, x_px: float, y_px: float) -> None:
        """Let the court follow a landmark under way; nothing is written before it is let go."""
        if self._page.step == "setup" and self._workspace.view is not None:
            view = self._making.tried(name, (x_px, y_px))
            if view is not None:
                self._page.picture.set_items(view_items(view))

    def _say_last(self, apart_s: float | None) -> None:
        chosen = self._workspace.selected_serves()
        if len(chosen) == 1:
            self._page.show_marked(chosen[0].id)
            self._tell(chosen[0], apart_s)

    def _tell(self, serve: Serve, apart_s: float | None) -> None:
        apart_s = apart_s or hit_too_long_before(self._workspace.serves, serve, self._workspace.clip_entry)
        doubtful = doubt(serve, self._workspace, self._filmed_at.suggestion()[0]) or hit_words(apart_s)
        words = self._page.judgements.words(serve)
        self._told = f"{words}. {doubtful}" if doubtful else words
        self._workspace.message.emit(self._told)

    def _hear(self, words: str) -> None:
        self._heard = words

    def _tell_again(self, serve_id: str) -> None:
        """Say what was told of a mark anew, as the film sharpened it, unless something else was said since."""
        serve = next((one for one in self._workspace.selected_serves() if one.id == serve_id), None)
        if serve is not None and self._heard == self._told:
            self._tell(serve, None)


def hit_words(apart_s: float | None) -> str:
    """Return what to ask about a hit and a landing too far apart for any serve; "" for None.

    Examples
    --------
    >>> hit_words(9.3).partition("? ")[0]
    'Hit and landing are 9.3 s apart, too long for one serve. Is it slow motion'
    """
    if apart_s is None:
        return ""
    return (
        f"Hit and landing are {apart_s:.1f} s apart, too long for one serve. Is it slow motion? "
        f"Undo, say the rate with {key_words('Ctrl+M')}, click again."
    )


def _distance(one: Pixel, other: Pixel) -> float:
    return float(((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2) ** 0.5)

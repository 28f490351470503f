"""What the window is working on: the one object that changes state and says so.

Widgets ask the workspace for a change and draw what its signals tell them; they never tell each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from serve_marker.camera.view.view import View
from serve_marker.court.areas import AreaScheme, scheme_from_setting
from serve_marker.court.dimensions import COURTS, Court
from serve_marker.court.formations import Formation
from serve_marker.desktop.session.edits import Touched
from serve_marker.desktop.session.film_library import FilmLibrary
from serve_marker.desktop.session.serving_order import ServingOrder, other_end
from serve_marker.desktop.session.undo import UndoHistory
from serve_marker.desktop.session.view_edits import ViewState, segment_at, view_state_at
from serve_marker.errors import UserError
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import (
    TARGET_KINDS,
    ClipEntry,
    Half,
    NextServes,
    Player,
    Practice,
    Serve,
    StoredView,
    new_id,
)
from serve_marker.logbook.seasons import players_at
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import served_to
from serve_marker.study.stored_formations import formations_of
from serve_marker.video.clip import Clip

Orders = tuple[tuple[str, ...], tuple[str, ...]]
STAYS_CHOSEN_S = 4.0
"""A serve is no longer chosen once the film shows a moment this far from its own."""
NO_LOGBOOK = "No logbook is open yet. Drop a clip on the window, or open a logbook, then mark some serves."


class Workspace(QObject):
    """The open logbook, practice, clip, view and frame, what the next click will mean, and the undo stack."""

    logbook_changed = Signal()
    practice_changed = Signal()
    clip_changed = Signal()
    clip_removed = Signal()
    view_changed = Signal()
    frame_changed = Signal(int)
    serves_changed = Signal()
    turn_changed = Signal()
    selection_changed = Signal()
    serve_shown = Signal(str)
    message = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.logbook: Logbook | None = None
        self.practice: Practice | None = None
        self.clip_entry: ClipEntry | None = None
        self.clip: Clip | None = None
        self.films: FilmLibrary | None = None
        self.view: View | None = None
        self.view_state: ViewState | None = None
        self.frame = 0
        self.aim = ""
        self.serve_type = ""
        self.full_pace = False
        self.on_ball = False
        self.formation: Formation | None = None
        self.outline_px: tuple[tuple[float, float], ...] | None = None
        self.turns = ServingOrder()
        self._kept_choices: NextServes | None = None
        self._own_orders: Orders | None = None
        self.players: dict[str, Player] = {}
        self.serves: list[Serve] = []
        self.selection: tuple[str, ...] = ()
        self._selected_by_hand = False
        self._scheme_text = ""
        self.history = UndoHistory(self, self)
        self.history.message.connect(self.message)
        self.do = self.history.do

    # The logbook

    def open_logbook(self, path: Path) -> None:
        """Open a logbook in place of the one now open."""
        self.take(Logbook.open(path))

    def new_logbook(self, path: Path, team: str = "") -> None:
        """Make a logbook and open it."""
        self.take(Logbook.create(path, team=team))

    def close(self) -> None:
        """Let go of the logbook's file."""
        if self.logbook is not None:
            self.logbook.close()
            self.logbook = self.films = None

    def take(self, logbook: Logbook) -> None:
        """Work on an opened logbook in place of the one now open."""
        self.close()
        self.logbook, self.films = logbook, FilmLibrary(logbook)
        self.history.stack.clear()
        self.clip_entry, self.clip, self.view, self.view_state, self.serves = None, None, None, None, []
        self._read_scheme()
        practices = logbook.practices()
        self._set_practice(max(practices, key=lambda practice: practice.date) if practices else None)
        self.logbook_changed.emit()
        self.practice_changed.emit()
        self._announce_clip()

    def _read_scheme(self) -> None:
        """The areas the team uses; a setting that cannot be read is said, and the court's own areas are shown."""
        self._scheme_text = self.book().get_setting("scheme")
        try:
            scheme_from_setting(self._scheme_text, self.court)
        except UserError as error:
            self._scheme_text = ""
            self.message.emit(str(error))

    def book(self) -> Logbook:
        """Return the open logbook, or say that one is needed."""
        if self.logbook is None:
            raise UserError("No logbook is open. Open one, or drop a clip on the window for a new one.")
        return self.logbook

    def _load_players(self) -> None:
        """The players, each with the number of this practice's season."""
        book = self.book()
        players = book.players()
        if self.practice is not None:
            players = players_at(players, book.seasons(), self.practice.date)
        self.players = {player.id: player for player in players}

    # The practice and its clips

    def _set_practice(self, practice: Practice | None) -> None:
        self.practice = practice
        self.full_pace, self.on_ball, self.outline_px = False, False, None
        self.aim, self.serve_type = "", ""
        self._load_players()
        self._load_formation()
        self.turns = ServingOrder(practice.order_a, practice.order_b) if practice else ServingOrder()

    def clips(self) -> list[ClipEntry]:
        """Return the clips of this practice in the order they were filmed, by their names."""
        if self.logbook is None or self.practice is None:
            return []
        return sorted(self.logbook.clips(practice_id=self.practice.id), key=lambda entry: by_name(entry.path))

    def neighbour_clip(self, direction: int) -> ClipEntry | None:
        """Return the clip of this practice that was filmed after (1) or before (-1) the open one."""
        clips = self.clips()
        here = next((place for place, entry in enumerate(clips) if entry == self.clip_entry), None)
        there = None if here is None else here + direction
        return clips[there] if there is not None and 0 <= there < len(clips) else None

    def show_clip(self, entry: ClipEntry, clip: Clip | None) -> None:
        """Work on a clip; ``clip`` is None where its file is missing."""
        if self.practice is None or entry.practice_id != self.practice.id:
            self._set_practice(next(p for p in self.book().practices() if p.id == entry.practice_id))
            self.practice_changed.emit()
        self.clip_entry = next((kept for kept in self.book().clips() if kept.id == entry.id), entry)
        self.clip = clip
        if clip is not None and self.films is not None:
            self.films.keep(entry.id, clip)
        self.frame, self.outline_px = 0, None
        self._load_view()
        self._load_serves()
        self._resume()
        self._announce_clip()

    def _resume(self) -> None:
        """Go on with what was chosen for this practice and view, after the last serve of the clip."""
        self._kept_choices = kept = self._stored_choices()
        self._own_orders = kept.orders if kept else None
        if kept is not None:
            self.aim, self.serve_type = kept.aim, kept.serve_type
        self._take_orders()
        for serve in self.serves:
            half = served_to(serve)
            if half is not None:
                self.turns = self.turns.after(other_end(half), serve.player_id)
        if kept is not None:
            self.turns = replace(self.turns, end=kept.end)
        self._kept_choices = self._chosen_now()

    def _stored_choices(self) -> NextServes | None:
        practice, entry = self.practice, self.clip_entry
        if practice is None or entry is None:
            return None
        return next((kept for kept in self.book().next_serves(practice.id) if kept.view_id == entry.view_id), None)

    def _take_orders(self) -> None:
        """Let the orders of the view hold, else those of the practice."""
        if self.practice is not None:
            orders = self._own_orders or (self.practice.order_a, self.practice.order_b)
            there = (tuple(key for key in order if key in self.players) for order in orders)
            self.turns = self.turns.with_orders(*there).known_to(self.players)

    def _chosen_now(self) -> NextServes | None:
        """What is chosen now, as it is kept for this practice and view; None without a clip."""
        practice, entry = self.practice, self.clip_entry
        if practice is None or entry is None:
            return None
        kept = self._kept_choices or NextServes(id=new_id(), practice_id=practice.id, view_id=entry.view_id)
        return replace(kept, end=self.turns.end, aim=self.aim, serve_type=self.serve_type, orders=self._own_orders)

    def _keep_choices(self) -> None:
        """Write what is chosen, where that is new; a file that cannot be written is said."""
        chosen = self._chosen_now()
        if chosen is None or chosen == self._kept_choices:
            return
        try:
            self.book().put(chosen)
            self._kept_choices = chosen
        except UserError as error:
            self.message.emit(str(error))

    def put_clip(self, entry: ClipEntry) -> None:
        """Write a clip's entry, for instance after its file has moved."""
        self.book().put(entry)
        if self.clip_entry is not None and self.clip_entry.id == entry.id:
            self.clip_entry = entry

    def _announce_clip(self) -> None:
        self.clip_changed.emit()
        self.view_changed.emit()
        self.serves_changed.emit()
        self.turn_changed.emit()
        self.selection_changed.emit()

    # The frame and what the next click means

    def set_frame(self, index: int) -> None:
        """Show another frame."""
        if self.clip is None:
            return
        index = min(max(index, 0), self.clip.frame_count - 1)
        if index != self.frame:
            self.frame = index
            self._follow_stretch()
            self.frame_changed.emit(index)
            self._leave_behind()

    def _leave_behind(self) -> None:
        marks = [mark for serve in self.chosen_serves for mark in (serve.contact, serve.landing) if mark is not None]
        away_s = (abs(mark.time_s - self.now_s) * self.time_scale for mark in marks)
        if marks and min(away_s) > STAYS_CHOSEN_S:
            self.select(())

    def _follow_stretch(self) -> None:
        """Take the view that holds at the frame shown, where the camera was moved within the clip."""
        state = self.view_state
        if state is not None and segment_at(state.clip, self.now_s)[0] != state.from_s:
            self._load_view()
            self.view_changed.emit()

    def set_turns(self, turns: ServingOrder) -> None:
        """Change whose turn it is."""
        self.turns = turns
        self._keep_choices()
        self.turn_changed.emit()

    def set_order(self, end: Half, order: Iterable[str]) -> None:
        """Let an order begin at one end, for this view."""
        turns = self.turns.with_order(end, order)
        self._own_orders = turns.order_a, turns.order_b
        self.set_turns(turns)

    def set_aim(self, aim: str) -> None:
        """Change what the next servers are asked to hit."""
        self.aim = aim
        self._keep_choices()
        self.turn_changed.emit()

    def set_on_ball(self, on_ball: bool) -> None:
        """Change whether landing clicks are on the ball's centre instead of the floor."""
        self.on_ball = on_ball
        self.turn_changed.emit()

    def set_serve_type(self, serve_type: str) -> None:
        """Change the type of the next serves."""
        self.serve_type = serve_type
        self._keep_choices()
        self.turn_changed.emit()

    @property
    def wind_end(self) -> Half | None:
        """The end that has the wind at its back for the next serves."""
        return self.practice.wind_end if self.practice else None

    @property
    def target_kind(self) -> str:
        """What the next serves are hit at."""
        return self.practice.target_kind if self.practice else TARGET_KINDS[0]

    @property
    def formation_id(self) -> str | None:
        """The id of the formation that the next serves are against."""
        return self.practice.formation_id if self.practice else None

    def _load_formation(self) -> None:
        self.formation = formations_of(self.logbook).get(self.formation_id or "") if self.logbook else None

    def set_outline(self, corners_px: tuple[tuple[float, float], ...] | None) -> None:
        """Change the outline of a target that is being clicked; None: no outline is."""
        self.outline_px = corners_px
        self.turn_changed.emit()

    @property
    def time_scale(self) -> float:
        """What the clip's time has to be multiplied by to be true: less than 1 in slow motion."""
        if self.clip is None or self.clip_entry is None:
            return 1.0
        return self.clip.time_scale(self.clip_entry.filmed_at_fps)

    def select(self, serve_ids: Iterable[str], *, by_hand: bool = True) -> None:
        """Choose serves, for instance to give them to another server; a serve just marked is not chosen by hand."""
        self.selection = tuple(serve_ids)
        self._selected_by_hand = by_hand
        self.selection_changed.emit()

    @property
    def chosen(self) -> Serve | None:
        """The serve chosen alone and by hand, None where none is or several are."""
        serves = self.chosen_serves
        return serves[0] if len(serves) == 1 else None

    @property
    def chosen_serves(self) -> list[Serve]:
        """The serves that keys and boxes change: those chosen by hand. None: they set what comes next."""
        return self.selected_serves() if self._selected_by_hand else []

    def leave_chosen(self) -> None:
        """Let keys and boxes set what comes next."""
        if self.chosen_serves:
            self.select(())
            self.message.emit("Keys and boxes set the next serve again.")

    def selected_serves(self) -> list[Serve]:
        """Return the chosen serves of this clip."""
        return [serve for serve in self.serves if serve.id in self.selection]

    def go_to_serve(self, serve_id: str) -> None:
        """Show the frame of a serve of the open clip, or ask the window for its clip."""
        serve = next((serve for serve in self.serves if serve.id == serve_id), None)
        if serve is not None:
            self.select([serve_id])
            if serve.moment_s is not None and self.clip is not None:
                self.set_frame(self.clip.frame_at(serve.moment_s))
        self.serve_shown.emit(serve_id)

    # The court

    @property
    def court(self) -> Court:
        """The court of the open view, else of the landmarks being marked, else the indoor court."""
        return self.view_state.court if self.view_state else COURTS["indoor"]

    @property
    def scheme(self) -> AreaScheme:
        """The team's area borders on this court, or the court's own."""
        return scheme_from_setting(self._scheme_text, self.court)

    @property
    def view_id(self) -> str | None:
        """The id of the stored view that holds at the frame shown."""
        return self.view_state.stored.id if self.view_state and self.view_state.stored else None

    def stored_views(self) -> Mapping[str, StoredView]:
        """Return the stored views by id."""
        return {view.id: view for view in self.logbook.views()} if self.logbook else {}

    # What changes show

    def show(self, touched: Touched) -> None:
        """Show what an edit changed as the logbook now holds it."""
        if touched.clips:
            self._show_clips()
        if touched.records:
            self._show_records()
        if touched.views:
            self._show_view()
        if touched.serve_ids is not None:
            self._show_serves(touched.serve_ids if touched.selects else self.selection, touched.turns)

    def _show_serves(self, selection: tuple[str, ...], turns: ServingOrder | None) -> None:
        if turns is not None:
            self.set_turns(turns.with_orders(self.turns.order_a, self.turns.order_b))
        self._selected_by_hand = self._selected_by_hand and set(selection) == set(self.selection)
        self.selection = selection
        self._load_serves()
        self.serves_changed.emit()
        self.selection_changed.emit()

    def _show_clips(self) -> None:
        """Follow the open clip to another practice, or let go of it where it was removed."""
        book, before = self.book(), self.clip_entry
        entry = next((clip for clip in book.clips() if before is not None and clip.id == before.id), None)
        self.clip_entry = entry
        practice_id = entry.practice_id if entry is not None else self.practice.id if self.practice else None
        practice = next((kept for kept in book.practices() if kept.id == practice_id), None)
        moved = practice != self.practice
        if moved:
            self._set_practice(practice)
        if entry is None:
            self.clip, self.frame = None, 0
        self._load_view()
        self._load_serves()
        if moved:
            self._resume()
        self.practice_changed.emit()
        if entry is None and before is not None:
            self._announce_clip()
            self.clip_removed.emit()
        else:
            self.view_changed.emit()
            self.serves_changed.emit()
            self.turn_changed.emit()

    def _show_records(self) -> None:
        book, before = self.book(), self.practice
        self._read_scheme()
        self.practice = next((p for p in book.practices() if before and p.id == before.id), None)
        self._load_players()
        if self.practice and before and self._own_orders:
            orders = self.practice.order_a, self.practice.order_b
            self._own_orders = self._own_orders if orders == (before.order_a, before.order_b) else orders
        self._take_orders()
        self._keep_choices()
        self._load_formation()
        self.logbook_changed.emit()
        self.practice_changed.emit()
        self.turn_changed.emit()
        self.serves_changed.emit()

    def _show_view(self) -> None:
        entry = self.clip_entry
        if entry is None:
            return
        self.clip_entry = next(clip for clip in self.book().clips() if clip.id == entry.id)
        if self.clip_entry.view_id != entry.view_id:
            self._kept_choices = self._stored_choices()
            self._keep_choices()
        self._load_view()
        self._load_serves()
        self.view_changed.emit()
        self.serves_changed.emit()

    def _load_serves(self) -> None:
        self.serves = self.logbook.serves(clip_id=self.clip_entry.id) if self.logbook and self.clip_entry else []
        self.selection = tuple(serve_id for serve_id in self.selection if any(s.id == serve_id for s in self.serves))

    def _load_view(self) -> None:
        self.view, self.view_state = None, None
        entry = self.clip_entry
        if self.logbook is None or entry is None:
            return
        self.view, self.view_state = view_state_at(self.logbook, entry, self.now_s)

    @property
    def now_s(self) -> float:
        """The time of the frame shown [s]; 0 without a clip."""
        return float(self.clip.time_s(self.frame)) if self.clip is not None else 0.0

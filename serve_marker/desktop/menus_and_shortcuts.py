"""All the window can do, as one table: menus, shortcuts and the card of keys are made from it.

Keys that carry no Ctrl work while the picture has the focus, so that they never fire while someone
types; Esc brings the focus back to the picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence, QUndoStack
from PySide6.QtWidgets import QApplication, QMenu, QMenuBar, QWidget

from serve_marker.desktop.dialogs.capture_rate import CaptureRate
from serve_marker.desktop.dialogs.frame_memory import FrameMemory
from serve_marker.desktop.dialogs.shortcut_card import KeyGroup, key_words
from serve_marker.desktop.film_actions import FilmActions
from serve_marker.desktop.film_page import FilmPage
from serve_marker.desktop.jump_on import JumpOn
from serve_marker.desktop.keeping_actions import KeepingActions
from serve_marker.desktop.logbook_actions import LogbookActions
from serve_marker.desktop.mark.passer_actions import PasserActions
from serve_marker.desktop.moving_actions import MovingActions
from serve_marker.desktop.session.rally_editor import RallyEditor
from serve_marker.desktop.session.serve_editor import ServeEditor
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.window_looks import COLOURS, TEXTS, WindowLooks

EVERYWHERE = "everywhere"
PICTURE = "picture"
FOR_CHOSEN_SERVES = ("delete_serves", "give_serves")
ALSO_ON = {"delete_serves": ("Delete",)}
"""Keys that do what another does that the menu names."""
GOES_ON_WHILE_HELD = (
    *("frame_on", "frame_back", "ten_on", "ten_back", "next_mark", "previous_mark", "next_spike", "previous_spike"),
    *("faster", "slower", "zoom_in", "zoom_out"),
)
"""The keys that go on while they are held; any other held down, or still held as a dialog closes, acts once."""
MENUS = ("File", "Edit", "Practice", "Set up", "Mark", "Find", "Play", "View", "Help")
STEP_OF_MENU = {"Set up": "setup", "Mark": "mark", "Find": "mark"}
"""The step in which the keys of a menu work that carry no Ctrl."""
FOR_SHOWN_PROPOSAL = ("accept_proposal", "reject_proposal", "later_proposal", "missed_serve")

HEADINGS = {
    "new_logbook": "Logbook",
    "add_clip": "Clips",
    "quit": "Program",
    "edit_practice": "Practice and clips",
    "edit_players": "Team and court",
    "edit_consents": "Consents",
    "say_filmed_at": "Film and settings",
    "landmark_here": "Landmarks",
    "choose_view": "Stored views",
    "show_error": "This view",
    "landing_here": "Landing",
    "mark_contact": "Hit",
    "outcome_net": "How it ended",
    "delete_serves": "Chosen serves",
    "type_server": "Server",
    "next_aim": "Aim and type",
    "rate_0": "Pass and rally",
    "play": "Speed",
    "frame_on": "Frames",
    "next_mark": "Serves",
    "next_likely": "Sounds",
    "clip_start": "Ends of the film",
    "set_frame_memory": "Memory",
    "step_setup": "Steps",
    "zoom_in": "Picture",
    "show_list": "List and picture",
    "text_100": "Text",
    "light_colours": "Colours",
}
"""What stands in the menus above a row and those that follow it."""


@dataclass(frozen=True)
class ActionSpec:
    """Something the window can do; ``handler`` is what its key and its menu entry call."""

    id: str
    text: str
    key: str
    menu: str
    handler: Callable[[], object]
    where: str = PICTURE


class StepWindow(Protocol):
    """What the table needs of the window itself."""

    def close(self) -> bool: ...
    def go_to_step(self, step: str) -> None: ...
    def find_serves(self) -> None: ...
    def show_list(self) -> None: ...
    def focus_picture(self) -> None: ...
    def show_guide(self) -> None: ...
    def show_keys(self) -> None: ...
    def show_messages(self) -> None: ...


def window_actions(
    window: StepWindow,
    workspace: Workspace,
    page: FilmPage,
    marking: ServeEditor,
    rally: RallyEditor,
    film: FilmActions,
    books: LogbookActions,
    keeping: KeepingActions,
    moving: MovingActions,
    passers: PasserActions,
    rate: CaptureRate,
    memory: FrameMemory,
    jump_on: JumpOn,
    looks: WindowLooks,
) -> tuple[ActionSpec, ...]:
    """Return all the window can do, each row with what it calls."""
    return (
        ActionSpec("new_logbook", "New logbook…", "Ctrl+N", "File", books.new_logbook, EVERYWHERE),
        ActionSpec("open_logbook", "Open logbook…", "Ctrl+O", "File", books.open_logbook, EVERYWHERE),
        ActionSpec("restore_backup", "Backups…", "Ctrl+Shift+O", "File", keeping.restore, EVERYWHERE),
        ActionSpec("merge", "Merge with another logbook…", "Ctrl+Shift+G", "File", keeping.merge, EVERYWHERE),
        ActionSpec("pack", "Pack for another computer…", "Ctrl+Shift+K", "File", moving.pack, EVERYWHERE),
        ActionSpec("unpack", "Unpack…", "Ctrl+Shift+X", "File", moving.unpack, EVERYWHERE),
        ActionSpec("add_clip", "Add clips…", "Ctrl+I", "File", books.add_clip, EVERYWHERE),
        ActionSpec("find_clip", "Find a moved clip…", "Ctrl+Shift+I", "File", books.find_clip, EVERYWHERE),
        ActionSpec("find_clips", "Find all moved clips…", "Ctrl+Shift+A", "File", moving.find_clips, EVERYWHERE),
        ActionSpec("quit", "Quit", "Ctrl+Q", "File", window.close, EVERYWHERE),
        ActionSpec("undo", "Undo", "Ctrl+Z", "Edit", page.undo, EVERYWHERE),
        ActionSpec("redo", "Redo", "Ctrl+Shift+Z", "Edit", workspace.history.redo, EVERYWHERE),
        ActionSpec("edit_practice", "This practice…", "Ctrl+D", "Practice", books.edit_practice, EVERYWHERE),
        ActionSpec("choose_clip", "Another practice or clip…", "Ctrl+G", "Practice", books.choose_clip, EVERYWHERE),
        ActionSpec("next_clip", "Next clip", "F3", "Practice", partial(books.step_clip, 1), EVERYWHERE),
        ActionSpec("previous_clip", "Previous clip", "Shift+F3", "Practice", partial(books.step_clip, -1), EVERYWHERE),
        ActionSpec("edit_players", "Players…", "Ctrl+P", "Practice", books.edit_players, EVERYWHERE),
        ActionSpec("edit_areas", "Area borders…", "Ctrl+B", "Practice", books.edit_areas, EVERYWHERE),
        ActionSpec("edit_plan", "Plan of a practice…", "Ctrl+Shift+N", "Practice", books.edit_plan, EVERYWHERE),
        ActionSpec("edit_tallies", "Unfilmed serves…", "Ctrl+Shift+T", "Practice", books.edit_tallies, EVERYWHERE),
        ActionSpec("edit_trial", "Trial by chance…", "Ctrl+Shift+R", "Practice", books.edit_trial, EVERYWHERE),
        ActionSpec("edit_ladder", "Steps of the ladder…", "Ctrl+Shift+P", "Practice", books.edit_ladder, EVERYWHERE),
        ActionSpec("edit_passers", "Passers…", "Ctrl+R", "Practice", passers.edit_passers, EVERYWHERE),
        ActionSpec("edit_consents", "Consents…", "Ctrl+Shift+C", "Practice", keeping.edit_consents, EVERYWHERE),
        ActionSpec("erase_player", "Erase a player…", "Ctrl+Shift+E", "Practice", keeping.erase_player, EVERYWHERE),
        ActionSpec("say_filmed_at", "Slow motion…", "Ctrl+M", "Practice", rate.say_filmed_at, EVERYWHERE),
        ActionSpec("edit_study", "Units and settings…", "Ctrl+,", "Practice", passers.edit_study, EVERYWHERE),
        ActionSpec(
            "landmark_here", "Landmark at the cross-hair", "Return", "Set up", partial(film.click_here, "plain")
        ),
        ActionSpec(
            "landmark_exact", "Landmark exactly there", "Shift+Return", "Set up", partial(film.click_here, "ball")
        ),
        ActionSpec("skip_landmark", "Skip this landmark", "K", "Set up", film.skip_landmark),
        ActionSpec("trace_line", "Trace a line, or end it", "L", "Set up", film.trace_line),
        ActionSpec("remove_landmark", "Remove landmark or point", "D", "Set up", film.remove_landmark),
        ActionSpec("choose_view", "Use a stored view…", "Ctrl+U", "Set up", books.choose_view, EVERYWHERE),
        ActionSpec("check_view", "Compare with stored views", "Ctrl+Shift+U", "Set up", page.checking.look, EVERYWHERE),
        ActionSpec(
            "show_moved", "Show where the camera moved", "Ctrl+J", "Set up", page.checking.show_moved, EVERYWHERE
        ),
        ActionSpec("say_yes", "Answer Yes", "Ctrl+Y", "Set up", partial(page.answer, True), EVERYWHERE),
        ActionSpec("say_no", "Answer No", "Ctrl+Shift+Y", "Set up", partial(page.answer, False), EVERYWHERE),
        ActionSpec("show_error", "Error on the floor", "X", "Set up", page.setup_pane.show_error),
        ActionSpec("click_exercise", "Your own click error", "I", "Set up", film.click_exercise),
        ActionSpec(
            "new_stretch", "Camera moved here: new view", "Ctrl+Shift+M", "Set up", film.new_stretch, EVERYWHERE
        ),
        ActionSpec(
            "start_view_over", "Start the view over", "Ctrl+Shift+Backspace", "Set up", film.start_view_over, EVERYWHERE
        ),
        ActionSpec("edit_court", "Measures of the court…", "Ctrl+K", "Set up", books.edit_court, EVERYWHERE),
        ActionSpec("landing_here", "Landing at the cross-hair", "Return", "Mark", partial(film.click_here, "plain")),
        ActionSpec("to_last_landing", "Cross-hair to the last landing", "Q", "Mark", film.to_last_landing),
        ActionSpec("to_ball", "Cross-hair to the ball near it", "Z", "Mark", film.to_ball),
        ActionSpec("second_serve", "Make it a second serve", "U", "Mark", film.second_serve),
        ActionSpec("landing_kind", "Landing: ball's centre or floor", "C", "Mark", film.change_landing_kind),
        ActionSpec(
            "ball_here", "Ball on a neighbouring frame", "Shift+Return", "Mark", partial(film.click_here, "ball")
        ),
        ActionSpec("move_landing", "Move the landing to the cross-hair", "M", "Mark", partial(film.click_here, "move")),
        ActionSpec("refuse_film", "Let the clicks stand, not the film", "Shift+M", "Mark", page.touches.refuse),
        ActionSpec("mark_contact", "The server hits the ball", "H", "Mark", film.mark_contact),
        ActionSpec(
            "feet_here", "Floor under the ball at the hit", "Ctrl+Return", "Mark", partial(film.click_here, "feet")
        ),
        ActionSpec(
            "ball_at_hit",
            "The ball itself at the hit",
            "Alt+Return",
            "Mark",
            partial(film.click_here, "ball at the hit"),
        ),
        ActionSpec("outcome_net", "Into the net", "N", "Mark", partial(film.mark_outcome, "net")),
        ActionSpec("outcome_received", "Received", "R", "Mark", partial(film.mark_outcome, "received")),
        ActionSpec(
            "received_here", "Received here, at the ball", "Shift+R", "Mark", partial(film.click_here, "received")
        ),
        ActionSpec("next_reception", "Played, over or a shank", "P", "Mark", rally.next_reception),
        ActionSpec("outcome_target", "Struck the target", "T", "Mark", partial(film.mark_outcome, "target")),
        ActionSpec("outcome_out", "Out, landing not seen", "O", "Mark", partial(film.mark_outcome, "out")),
        ActionSpec("outcome_fault", "Fault", "F", "Mark", partial(film.mark_outcome, "fault")),
        ActionSpec("outcome_blocked", "Blocked (sitting)", "V", "Mark", partial(film.mark_outcome, "blocked")),
        ActionSpec("delete_serves", "Delete the chosen serves", "Backspace", "Mark", marking.delete),
        ActionSpec("give_serves", "Give the chosen serves to…", "G", "Mark", film.give_serves),
        ActionSpec("type_server", "Server by shirt number", "S", "Mark", film.type_server),
        ActionSpec("type_order", "Serving order, by shirt numbers", "Shift+S", "Mark", page.mark_pane.turn.type_order),
        ActionSpec("other_end", "Serve from the other end", "E", "Mark", film.change_end),
        ActionSpec("next_aim", "Next aim", "A", "Mark", partial(film.step_aim, 1)),
        ActionSpec("previous_aim", "Previous aim", "Shift+A", "Mark", partial(film.step_aim, -1)),
        ActionSpec("type_aim", "Aim by name", "Alt+A", "Mark", page.mark_pane.turn.type_aim),
        ActionSpec("outline_target", "Outline of a target, Enter closes", "J", "Mark", passers.outline_target),
        ActionSpec("next_type", "Next serve type", "Y", "Mark", partial(film.step_type, 1)),
        ActionSpec("previous_type", "Previous serve type", "Shift+Y", "Mark", partial(film.step_type, -1)),
        ActionSpec("full_pace", "Full-pace series, on or off", "W", "Mark", passers.change_full_pace),
        *(
            ActionSpec(
                f"rate_{rating}", f"Pass rated {rating}", f"Alt+{rating}", "Mark", partial(rally.rate_pass, rating)
            )
            for rating in range(5)
        ),
        ActionSpec("next_rally", "Rally won or lost", "L", "Mark", rally.next_rally),
        ActionSpec("find_serves", "Find serves", "Ctrl+F", "Find", window.find_serves, EVERYWHERE),
        ActionSpec("stop_finding", "Cancel finding", "Ctrl+Shift+F", "Find", page.finder.stop, EVERYWHERE),
        ActionSpec("accept_proposal", "Keep the found serve", "K", "Find", page.review.accept),
        ActionSpec("reject_proposal", "Not a serve", "X", "Find", page.review.reject),
        ActionSpec("later_proposal", "Leave it for later", "D", "Find", page.review.leave_for_later),
        ActionSpec("missed_serve", "One was missed here", "I", "Find", page.review.mark_missed),
        ActionSpec("play", "Play or pause", "Space", "Play", page.player.play_or_pause),
        ActionSpec("play_back", "Play back or pause", "Shift+Space", "Play", page.player.play_backward),
        ActionSpec("faster", "Faster", "Up", "Play", partial(page.player.change_speed, 1)),
        ActionSpec("slower", "Slower", "Down", "Play", partial(page.player.change_speed, -1)),
        ActionSpec("frame_on", "One frame on", "Right", "Play", partial(film.step_frames, 1)),
        ActionSpec("frame_back", "One frame back", "Left", "Play", partial(film.step_frames, -1)),
        ActionSpec("ten_on", "Ten frames on", "Shift+Right", "Play", partial(film.step_frames, 10)),
        ActionSpec("ten_back", "Ten frames back", "Shift+Left", "Play", partial(film.step_frames, -10)),
        ActionSpec("next_mark", "Next serve", "Ctrl+Right", "Play", partial(film.step_serve, 1)),
        ActionSpec("previous_mark", "Previous serve", "Ctrl+Left", "Play", partial(film.step_serve, -1)),
        ActionSpec("next_likely", "Next hit or landing", "B", "Play", partial(film.step_likely, 1)),
        ActionSpec("previous_likely", "Hit or landing before", "Shift+B", "Play", partial(film.step_likely, -1)),
        ActionSpec("next_spike", "Next sound", ".", "Play", partial(film.step_spike, 1)),
        ActionSpec("previous_spike", "Sound before", ",", "Play", partial(film.step_spike, -1)),
        ActionSpec("jump_on", "Jump on after serves", "F4", "Play", jump_on.change),
        ActionSpec("clip_start", "First frame", "Home", "Play", partial(film.step_frames, -(10**9))),
        ActionSpec("clip_end", "Last frame", "End", "Play", partial(film.step_frames, 10**9)),
        ActionSpec("set_frame_memory", "Memory for frames…", "F9", "Play", memory.set_frame_memory, EVERYWHERE),
        ActionSpec("step_setup", "Set up", "Ctrl+1", "View", partial(window.go_to_step, "setup"), EVERYWHERE),
        ActionSpec("step_mark", "Mark", "Ctrl+2", "View", partial(window.go_to_step, "mark"), EVERYWHERE),
        ActionSpec("step_study", "Study", "Ctrl+3", "View", partial(window.go_to_step, "study"), EVERYWHERE),
        ActionSpec("step_share", "Share", "Ctrl+4", "View", partial(window.go_to_step, "share"), EVERYWHERE),
        ActionSpec("zoom_in", "Zoom in", "+", "View", page.picture.zoom_in),
        ActionSpec("zoom_out", "Zoom out", "-", "View", page.picture.zoom_out),
        ActionSpec("zoom_fit", "Fit", "Ctrl+0", "View", page.picture.fit),
        ActionSpec("show_list", "Serve list", "Ctrl+L", "View", window.show_list, EVERYWHERE),
        ActionSpec("focus_picture", "Back to the picture", "Esc", "View", window.focus_picture, EVERYWHERE),
        *(
            ActionSpec(action_id, f"Text {percent} %", key, "View", partial(looks.choose_text, percent), EVERYWHERE)
            for (action_id, percent), key in zip(TEXTS.items(), ("F6", "F7", "F8"), strict=True)
        ),
        *(
            ActionSpec(action_id, text, key, "View", partial(looks.choose_colours, COLOURS[action_id]), EVERYWHERE)
            for action_id, text, key in (
                ("light_colours", "Light colours", "Ctrl+Shift+L"),
                ("dark_colours", "Dark colours", "Ctrl+Shift+D"),
                ("system_colours", "The system's colours", "Ctrl+Shift+S"),
            )
        ),
        ActionSpec("show_guide", "Guide", "F1", "Help", window.show_guide, EVERYWHERE),
        ActionSpec("show_keys", "Card of all keys", "Shift+F1", "Help", window.show_keys, EVERYWHERE),
        ActionSpec("show_messages", "Messages", "F2", "Help", window.show_messages, EVERYWHERE),
    )


def key_groups(specs: Sequence[ActionSpec]) -> list[KeyGroup]:
    """Return the keys of all actions in the groups of the menus, for the card of keys."""
    groups: list[KeyGroup] = []
    for menu in MENUS:
        rows: list[tuple[str, str]] = []
        heading = menu
        for spec in (spec for spec in specs if spec.menu == menu):
            if spec.id in HEADINGS:
                if rows:
                    groups.append(KeyGroup(heading, menu, tuple(rows)))
                heading, rows = HEADINGS[spec.id], []
            rows.append((key_words(spec.key), spec.text))
        groups.append(KeyGroup(heading, "" if heading == menu else menu, tuple(rows)))
    return groups


def make_actions(
    specs: Iterable[ActionSpec],
    window: QWidget,
    menu_bar: QMenuBar,
    picture: QWidget,
    serve_choosers: Sequence[QWidget],
    guard: Callable[[Callable[..., object]], Callable[..., None]],
) -> dict[str, QAction]:
    """Return the table as actions of the window, in its menus and on their keys.

    ``picture`` has the keys without Ctrl, ``serve_choosers`` those for chosen serves; ``guard`` turns
    what stands in the way of a handler into words.
    """
    menus: Mapping[str, QMenu] = {title: menu_bar.addMenu(f"&{title}") for title in MENUS}
    actions: dict[str, QAction] = {}
    for spec in specs:
        action = QAction(spec.text, window)
        action.setObjectName(spec.id)
        action.setShortcuts([QKeySequence(spec.key), *map(QKeySequence, ALSO_ON.get(spec.id, ()))])
        action.setToolTip(tooltip(f"{spec.text} ({key_words(spec.key)})"))
        action.setAutoRepeat(spec.id in GOES_ON_WHILE_HELD)
        if spec.where == PICTURE:
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            for widget in (picture, *(serve_choosers if spec.id in FOR_CHOSEN_SERVES else ())):
                widget.addAction(action)
        action.triggered.connect(partial(_call, guard(spec.handler)))
        if spec.id in HEADINGS:
            _add_heading(menus[spec.menu], HEADINGS[spec.id])
        menus[spec.menu].addAction(action)
        actions[spec.id] = action
    return actions


def _add_heading(menu: QMenu, words: str) -> None:
    menu.addSeparator()
    heading = menu.addAction(words)
    font = heading.font()
    font.setBold(True)
    heading.setFont(font)
    heading.setEnabled(False)


def name_undone(undo: QAction, redo: QAction, stack: QUndoStack) -> None:
    """Let the entries of undo and redo name what they would undo and redo."""
    for action, named in ((undo, stack.undoTextChanged), (redo, stack.redoTextChanged)):
        named.connect(partial(_name, action, action.text()))


def _name(action: QAction, plain: str, what: str) -> None:
    action.setText(f"{plain}: {what.replace('&', '&&')}" if what else plain)


def _call(handler: Callable[[], None], _checked: bool = False) -> None:
    """Do it, but never behind an open menu, list or dialog."""
    if QApplication.activePopupWidget() is None and QApplication.activeModalWidget() is None:
        handler()

"""All the window can do, as one table: menus, shortcuts and the card of keys are made from it.

Keys that carry no Ctrl work while the picture has the focus, so that they never fire while someone
types; Esc brings the focus back to the picture.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

Slot = Callable[..., None]

EVERYWHERE = "everywhere"
PICTURE = "picture"
FOR_CHOSEN_SERVES = ("delete_serves", "give_serves")
MENUS = ("File", "Practice", "Set up", "Mark", "Play", "View", "Help")


@dataclass(frozen=True)
class ActionSpec:
    """Something the window can do. ``handler`` names the window's method; ``argument`` is handed to it."""

    id: str
    text: str
    key: str
    menu: str
    handler: str
    argument: str | int | float | None = None
    where: str = PICTURE


def _always(action_id: str, text: str, key: str, menu: str, argument: str | int | float | None = None) -> ActionSpec:
    return ActionSpec(action_id, text, key, menu, action_id, argument, EVERYWHERE)


def _step(action_id: str, text: str, key: str, frames: int) -> ActionSpec:
    return ActionSpec(action_id, text, key, "Play", "step_frames", frames)


def _outcome(outcome: str, text: str, key: str) -> ActionSpec:
    return ActionSpec(f"outcome_{outcome}", text, key, "Mark", "mark_outcome", outcome)


ACTIONS: tuple[ActionSpec, ...] = (
    _always("new_logbook", "New logbook...", "Ctrl+N", "File"),
    _always("open_logbook", "Open logbook...", "Ctrl+O", "File"),
    _always("add_clip", "Add a clip...", "Ctrl+I", "File"),
    _always("find_clip", "Find a moved clip...", "Ctrl+Shift+I", "File"),
    ActionSpec("quit", "Quit", "Ctrl+Q", "File", "quit", where=EVERYWHERE),
    _always("edit_practice", "This practice...", "Ctrl+D", "Practice"),
    _always("choose_clip", "Another practice or clip...", "Ctrl+G", "Practice"),
    ActionSpec("next_clip", "Next clip", "F3", "Practice", "step_clip", 1, EVERYWHERE),
    ActionSpec("previous_clip", "Previous clip", "Shift+F3", "Practice", "step_clip", -1, EVERYWHERE),
    _always("edit_players", "Players...", "Ctrl+P", "Practice"),
    _always("edit_areas", "Area borders...", "Ctrl+B", "Practice"),
    _always("edit_passers", "Passers...", "Ctrl+R", "Practice"),
    _always("say_filmed_at", "Filmed at...", "Ctrl+M", "Practice"),
    _always("edit_study", "Units and settings...", "Ctrl+,", "Practice"),
    ActionSpec("landmark_here", "Landmark at the cross-hair", "Return", "Set up", "click_here", "plain"),
    ActionSpec("landmark_exact", "Landmark exactly there", "Shift+Return", "Set up", "click_here", "ball"),
    ActionSpec("skip_landmark", "Skip this landmark", "K", "Set up", "skip_landmark"),
    ActionSpec("trace_line", "Trace a line, or end it", "L", "Set up", "trace_line"),
    ActionSpec("remove_landmark", "Take landmark or point away", "D", "Set up", "remove_landmark"),
    ActionSpec("show_error", "Error on the floor", "X", "Set up", "show_error"),
    _always("check_view", "Compare with stored views", "Ctrl+Shift+U", "Set up"),
    _always("show_moved", "Show where the camera moved", "Ctrl+J", "Set up"),
    _always("say_yes", "Yes, the lines lie right", "Ctrl+Y", "Set up"),
    _always("say_no", "No, leave it as it is", "Ctrl+Shift+Y", "Set up"),
    _always("new_stretch", "Camera moved here: new view", "Ctrl+Shift+M", "Set up"),
    ActionSpec("click_exercise", "Your own click error", "I", "Set up", "click_exercise"),
    _always("start_view_over", "Start the view over", "Ctrl+Shift+Backspace", "Set up"),
    _always("choose_view", "Use a stored view...", "Ctrl+U", "Set up"),
    _always("edit_court", "Measures of the court...", "Ctrl+K", "Set up"),
    ActionSpec("landing_here", "Landing at the cross-hair", "Return", "Mark", "click_here", "plain"),
    ActionSpec("landing_kind", "Landing: ball's centre or floor", "C", "Mark", "change_landing_kind"),
    ActionSpec("ball_here", "Ball on a neighbouring frame", "Shift+Return", "Mark", "click_here", "ball"),
    ActionSpec("mark_contact", "The server hits the ball", "H", "Mark", "mark_contact"),
    ActionSpec("feet_here", "Floor under the ball at the hit", "Ctrl+Return", "Mark", "click_here", "feet"),
    ActionSpec("ball_at_hit", "The ball itself at the hit", "Alt+Return", "Mark", "click_here", "ball at the hit"),
    _outcome("net", "Into the net", "N"),
    _outcome("received", "Received", "R"),
    ActionSpec("received_here", "Received here, at the ball", "Shift+R", "Mark", "click_here", "received"),
    _outcome("target", "Struck the target", "T"),
    _outcome("out", "Out, landing not seen", "O"),
    _outcome("fault", "Fault", "F"),
    ActionSpec("move_landing", "Move the landing to the cross-hair", "M", "Mark", "click_here", "move"),
    ActionSpec("delete_serves", "Delete the chosen serves", "Backspace", "Mark", "delete_serves"),
    ActionSpec("give_serves", "Give the chosen serves to...", "G", "Mark", "give_serves"),
    ActionSpec("type_server", "Server by shirt number", "S", "Mark", "type_server"),
    ActionSpec("other_end", "Serve from the other end", "E", "Mark", "change_end"),
    ActionSpec("next_aim", "Next aim", "A", "Mark", "step_aim", 1),
    ActionSpec("previous_aim", "Previous aim", "Shift+A", "Mark", "step_aim", -1),
    ActionSpec("outline_target", "Outline of a target, Enter closes", "J", "Mark", "outline_target"),
    ActionSpec("full_pace", "Full-pace series, on or off", "W", "Mark", "change_full_pace"),
    ActionSpec("next_type", "Next serve type", "Y", "Mark", "step_type", 1),
    ActionSpec("previous_type", "Previous serve type", "Shift+Y", "Mark", "step_type", -1),
    *(
        ActionSpec(f"rate_{rating}", f"Pass rated {rating}", f"Alt+{rating}", "Mark", "rate_pass", rating)
        for rating in range(5)
    ),
    _always("undo", "Undo", "Ctrl+Z", "Mark"),
    _always("redo", "Redo", "Ctrl+Shift+Z", "Mark"),
    ActionSpec("play", "Play or pause", "Space", "Play", "play_or_pause"),
    ActionSpec("play_back", "Play back or pause", "Shift+Space", "Play", "play_backward"),
    ActionSpec("faster", "Faster", "Up", "Play", "change_speed", 1),
    ActionSpec("slower", "Slower", "Down", "Play", "change_speed", -1),
    _step("frame_on", "One frame on", "Right", 1),
    _step("frame_back", "One frame back", "Left", -1),
    _step("ten_on", "Ten frames on", "Shift+Right", 10),
    _step("ten_back", "Ten frames back", "Shift+Left", -10),
    ActionSpec("next_mark", "Next serve", "Ctrl+Right", "Play", "step_serve", 1),
    ActionSpec("previous_mark", "Previous serve", "Ctrl+Left", "Play", "step_serve", -1),
    ActionSpec("next_spike", "Next hit heard", "B", "Play", "step_spike", 1),
    ActionSpec("previous_spike", "Previous hit heard", "Shift+B", "Play", "step_spike", -1),
    ActionSpec("clip_start", "First frame", "Home", "Play", "step_frames", -(10**9)),
    ActionSpec("clip_end", "Last frame", "End", "Play", "step_frames", 10**9),
    _always("set_frame_memory", "Memory for frames...", "F9", "Play"),
    ActionSpec("step_setup", "Set up", "Ctrl+1", "View", "go_to_step", "setup", EVERYWHERE),
    ActionSpec("step_mark", "Mark", "Ctrl+2", "View", "go_to_step", "mark", EVERYWHERE),
    ActionSpec("step_study", "Study", "Ctrl+3", "View", "go_to_step", "study", EVERYWHERE),
    ActionSpec("step_share", "Share", "Ctrl+4", "View", "go_to_step", "share", EVERYWHERE),
    ActionSpec("zoom_in", "Nearer", "+", "View", "zoom_in"),
    ActionSpec("zoom_out", "Farther", "-", "View", "zoom_out"),
    ActionSpec("zoom_fit", "Whole picture", "Ctrl+0", "View", "zoom_fit"),
    _always("show_list", "Serve list", "Ctrl+L", "View"),
    _always("focus_picture", "Back to the picture", "Esc", "View"),
    _always("show_keys", "Card of all keys", "F1", "Help"),
)


def keys_by_menu() -> dict[str, list[tuple[str, str]]]:
    """Return the key and the text of each action, menu by menu, for the card of keys."""
    return {menu: [(spec.key, spec.text) for spec in ACTIONS if spec.menu == menu] for menu in MENUS}


def make_actions(
    window: QWidget,
    menu_bar: QMenuBar,
    picture: QWidget,
    serve_choosers: Sequence[QWidget],
    owners: Sequence[object],
    guard: Callable[[Callable[..., object]], Slot],
) -> dict[str, QAction]:
    """Return the table as actions of the window, in its menus and on their keys.

    ``picture`` has the keys without Ctrl, ``serve_choosers`` those for chosen serves; ``owners`` hold the
    handlers; ``guard`` turns what stands in the way of one into words.
    """
    menus: Mapping[str, QMenu] = {title: menu_bar.addMenu(f"&{title}") for title in MENUS}
    actions: dict[str, QAction] = {}
    for spec in ACTIONS:
        action = QAction(spec.text, window)
        action.setObjectName(spec.id)
        action.setShortcut(QKeySequence(spec.key))
        if spec.where == PICTURE:
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            for widget in (picture, *(serve_choosers if spec.id in FOR_CHOSEN_SERVES else ())):
                widget.addAction(action)
        action.triggered.connect(_call(guard(handler_of(owners, spec)), spec.argument))
        menus[spec.menu].addAction(action)
        actions[spec.id] = action
    return actions


def handler_of(owners: Sequence[object], spec: ActionSpec) -> Callable[..., object]:
    """Return the one handler of a spec: a method of exactly one owner, which its class itself names.

    What a class inherits from Qt is no spec, however it is called.
    """
    own = [owner for owner in owners if spec.handler in {**vars(type(owner)), **vars(owner)}]
    if len(own) != 1:
        raise LookupError(f"the action {spec.id} has {len(own)} handlers")
    return cast("Callable[..., object]", getattr(own[0], spec.handler))


def _call(handler: Slot, argument: str | int | float | None) -> Callable[[], None]:
    def run() -> None:
        handler() if argument is None else handler(argument)

    return run

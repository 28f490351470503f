"""The two buttons every dialog ends with, and Enter on a button that has the focus."""

from __future__ import annotations

from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPushButton, QWidget

from serve_marker.desktop.widgets.plain_text import tooltip

KEEP_KEY = "Ctrl+Return"
"""Keeps from wherever the hand is in a dialog, where Enter goes on to the next cell."""


def accept_reject_buttons(
    dialog: QDialog, keep: str = "Keep", leave: str = "Cancel", enter_keeps: bool = True
) -> QDialogButtonBox:
    """Return the two buttons a dialog ends with; Enter presses the first, or the second where work would be lost."""
    box = QDialogButtonBox()
    accept = box.addButton(keep, QDialogButtonBox.ButtonRole.AcceptRole)
    reject = box.addButton(leave, QDialogButtonBox.ButtonRole.RejectRole)
    if enter_keeps:
        accept.setShortcut(QKeySequence(KEEP_KEY))
        accept.setToolTip(tooltip(f"{keep} ({KEEP_KEY})"))
    accept.setAutoDefault(enter_keeps)
    pressed_by_enter = accept if enter_keeps else reject
    pressed_by_enter.setDefault(True)
    box.setFocusProxy(pressed_by_enter)
    box.accepted.connect(dialog.accept)
    box.rejected.connect(dialog.reject)
    return box


def let_enter_press(room: QWidget) -> None:
    """Let Enter press the buttons of a pane that has the focus, as it does in dialogs; else only Space would."""
    for button in room.findChildren(QPushButton):
        button.setAutoDefault(True)

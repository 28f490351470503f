"""The top row: menus, what is open, and the four steps, always all reachable."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QMenuBar, QPushButton, QSizePolicy, QWidget

from serve_marker.desktop.widgets.plain_text import ElidedLabel

STEPS = {"setup": "Set up", "mark": "Mark", "study": "Study", "share": "Share"}


class Header(QWidget):
    """One row, so that the picture gets the room."""

    step_picked = Signal(str)

    def __init__(self, menu_bar: QMenuBar) -> None:
        super().__init__()
        menu_bar.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Preferred)
        self.title = ElidedLabel()
        self.title.setAccessibleName("Logbook, practice and clip")
        self.title.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._buttons: dict[str, QPushButton] = {}
        group = QButtonGroup(self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(4, 4, 10, 4)
        layout.setSpacing(6)
        layout.addWidget(menu_bar)
        layout.addWidget(self.title, 1)
        for step, text in STEPS.items():
            button = QPushButton(text)
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setAccessibleName(f"Step: {text}")
            button.clicked.connect(lambda _checked=False, step=step: self.step_picked.emit(step))
            group.addButton(button)
            layout.addWidget(button)
            self._buttons[step] = button

    def show_step(self, step: str) -> None:
        """Mark the step shown."""
        self._buttons[step].setChecked(True)

    def button(self, step: str) -> QPushButton:
        """Return the button of a step."""
        return self._buttons[step]

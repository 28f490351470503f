"""Light, dark, or as the system has it: chosen in the window and kept in the settings of this computer."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QObject, QSettings
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.widgets.theme import apply_theme

KEY = "colours"
CHOICES = {"light_colours": "light", "dark_colours": "dark", "system_colours": "system"}
"""The choice behind each action."""


class WindowColours:
    """Handlers of the actions that choose the colours."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    @property
    def chosen(self) -> str:
        """The colours chosen last: "light", "dark" or "system"."""
        kept = str(self._settings.value(KEY, "system"))
        return kept if kept in CHOICES.values() else "system"

    def choose(self, colours: str) -> None:
        """Dress the window in other colours, from now on."""
        self._settings.setValue(KEY, colours)
        app = QApplication.instance()
        if isinstance(app, QApplication):
            apply_theme(app, colours)

    def show_in(self, window: QObject, actions: Mapping[str, QAction]) -> None:
        """Let the menu mark the choice that holds."""
        group = QActionGroup(window)
        for key, colours in CHOICES.items():
            actions[key].setCheckable(True)
            actions[key].setChecked(colours == self.chosen)
            group.addAction(actions[key])

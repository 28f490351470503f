"""How the window looks: its colours and the size of its text, kept in the settings of this computer."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QObject, QSettings, QSize
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.widgets.text_sizes import PERCENTS, growth, system_scale
from serve_marker.desktop.widgets.theme import apply_text_scale, apply_theme

COLOURS_KEY, TEXT_KEY = "colours", "text percent"
COLOURS = {"light_colours": "light", "dark_colours": "dark", "system_colours": "system"}
TEXTS = {f"text_{percent}": percent for percent in PERCENTS}
"""The choice behind each action."""


class WindowLooks:
    """Handlers of the actions that choose colours and text; text grows with the window too."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings
        self._size = QSize()

    @property
    def colours(self) -> str:
        """The colours chosen last: "light", "dark" or "system"."""
        kept = str(self._settings.value(COLOURS_KEY, "system"))
        return kept if kept in COLOURS.values() else "system"

    @property
    def text_percent(self) -> int:
        """The size of text chosen last [%]."""
        kept = str(self._settings.value(TEXT_KEY, PERCENTS[0]))
        return next((percent for percent in PERCENTS if kept == str(percent)), PERCENTS[0])

    def choose_colours(self, colours: str) -> None:
        """Dress the window in other colours, from now on."""
        self._settings.setValue(COLOURS_KEY, colours)
        app = QApplication.instance()
        if isinstance(app, QApplication):
            apply_theme(app, colours)

    def choose_text(self, percent: int) -> None:
        """Write the window in larger or smaller letters, from now on."""
        self._settings.setValue(TEXT_KEY, percent)
        self.fit(self._size)

    def fit(self, window: QSize) -> None:
        """Let letters be as large as the system, the choice and a window of that size ask for."""
        self._size = window
        app = QApplication.instance()
        if isinstance(app, QApplication):
            chosen = self.text_percent / 100
            apply_text_scale(app, system_scale() * chosen * growth(window.width(), window.height()))

    def show_in(self, window: QObject, actions: Mapping[str, QAction]) -> None:
        """Let the menu mark the choices that hold."""
        for choices, chosen in ((COLOURS, self.colours), (TEXTS, self.text_percent)):
            group = QActionGroup(window)
            for key, choice in choices.items():
                actions[key].setCheckable(True)
                actions[key].setChecked(choice == chosen)
                group.addAction(actions[key])

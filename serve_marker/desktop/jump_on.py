"""Whether the film goes on to the next likely hit once a serve has ended, kept in the settings of this computer."""

from __future__ import annotations

from PySide6.QtCore import QSettings

from serve_marker.desktop.session.workspace import Workspace

KEY = "jump on after a serve"


class JumpOn:
    """The setting, off until switched on, and the handler of the action that changes it."""

    def __init__(self, workspace: Workspace, settings: QSettings) -> None:
        self._workspace = workspace
        self._settings = settings

    @property
    def on(self) -> bool:
        """Whether the film jumps on; nonsense in the settings is off."""
        return str(self._settings.value(KEY, "no")) == "yes"

    def change(self) -> None:
        """Switch it on or off, and say so."""
        self._settings.setValue(KEY, "no" if self.on else "yes")
        words = "After a serve the film goes on to the next likely hit." if self.on else "After a serve the film stays."
        self._workspace.message.emit(words)

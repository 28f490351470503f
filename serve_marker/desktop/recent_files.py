"""The logbooks opened lately, kept in the settings of this computer."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings

KEY = "recent logbooks"
KEPT, SHOWN = 8, 5


class RecentFiles:
    """Paths of logbooks, the latest first."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    def paths(self) -> list[str]:
        """Return the logbooks that are still there."""
        kept = self._settings.value(KEY, [])
        texts = [kept] if isinstance(kept, str) else kept if isinstance(kept, list) else []
        return [text for text in texts if Path(text).is_file()]

    def add(self, path: Path) -> None:
        """Put a logbook first."""
        text = str(path.absolute())
        others = [other for other in self.paths() if other != text]
        self._settings.setValue(KEY, [text, *others][:KEPT])

"""The logbooks opened lately and the folder clips came from, kept in the settings of this computer."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSettings

KEY, CLIP_FOLDER = "recent logbooks", "clip folder"
KEPT, SHOWN = 8, 5


class RecentFiles:
    """Paths of logbooks, the latest first, and the last folder of clips."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    def paths(self) -> list[str]:
        """Return the logbooks that are still there."""
        return [text for text in self._kept() if Path(text).is_file()]

    def last(self) -> Path | None:
        """Return the logbook opened last, whether or not it is still there."""
        return next(map(Path, self._kept()), None)

    def add(self, path: Path) -> None:
        """Put a logbook first."""
        text = str(path.absolute())
        others = [other for other in self.paths() if other != text]
        self._settings.setValue(KEY, [text, *others][:KEPT])

    @property
    def clip_folder(self) -> Path | None:
        """The folder clips were last taken from, where it is still there."""
        kept = self._settings.value(CLIP_FOLDER, "")
        return Path(kept) if isinstance(kept, str) and kept and Path(kept).is_dir() else None

    def keep_clip_folder(self, folder: Path) -> None:
        """Remember from which folder clips were taken."""
        self._settings.setValue(CLIP_FOLDER, str(folder.absolute()))

    def _kept(self) -> list[str]:
        kept = self._settings.value(KEY, [])
        return [kept] if isinstance(kept, str) else kept if isinstance(kept, list) else []

"""Folders of clips that the coach allowed on this computer, beside those that logbooks lie in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from PySide6.QtCore import QSettings

KEY = "clip folders"
KEPT = 50


class ClipFolders:
    """The folders, the latest first: those clips were added from, and those allowed when asked.

    They belong to this computer, never to a logbook, which may come from anywhere.
    """

    def __init__(self, settings: QSettings | None = None) -> None:
        self._settings = settings
        self._folders: list[str] = _texts(settings.value(KEY, [])) if settings is not None else []

    def __iter__(self) -> Iterator[Path]:
        return map(Path, self._folders)

    def allow(self, *folders: Path) -> None:
        """Keep that clips in these folders may be opened."""
        texts = [str(folder.absolute()) for folder in folders]
        self._folders = list(dict.fromkeys([*texts, *self._folders]))[:KEPT]
        if self._settings is not None:
            self._settings.setValue(KEY, self._folders)


def _texts(kept: object) -> list[str]:
    texts = [kept] if isinstance(kept, str) else kept if isinstance(kept, list) else []
    return [text for text in texts if isinstance(text, str) and text]

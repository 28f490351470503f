"""The logbooks opened lately and the folder clips came from, kept in the settings of this computer."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSettings
from PySide6.QtGui import QImage

KEY, CLIP_FOLDER, CARDS = "recent logbooks", "clip folder", "recent cards"
KEPT, SHOWN = 8, 4
PICTURE_PX = 320
JPEG_QUALITY = 80


@dataclass(frozen=True)
class RecentLogbook:
    """A logbook opened lately: where it is, its last practice's date in words, and the last picture seen of it."""

    path: str
    date: str
    picture: QImage


class RecentFiles:
    """Logbooks, the latest first, and the last folder of clips."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    def logbooks(self) -> list[RecentLogbook]:
        """Return the logbooks that are still there."""
        found = []
        for path in self._paths()[:SHOWN]:
            card = f"{CARDS}/{_key(path)}"
            if not Path(str(self._settings.value(f"{card}/film", ""))).is_file():
                self._settings.remove(f"{card}/picture")
            kept = self._settings.value(f"{card}/picture", QByteArray())
            picture = QImage.fromData(kept) if isinstance(kept, QByteArray) else QImage()
            found.append(RecentLogbook(path, str(self._settings.value(f"{card}/date", "")), picture))
        return found

    def last(self) -> Path | None:
        """Return the logbook opened last, whether or not it is still there."""
        return next(map(Path, self._kept()), None)

    def add(self, path: Path) -> None:
        """Put a logbook first; what was kept of those that have gone goes too."""
        text = str(path.absolute())
        others = [other for other in self._paths() if other != text]
        paths = [text, *others][:KEPT]
        for gone in {*self._kept()} - {*paths}:
            self._settings.remove(f"{CARDS}/{_key(gone)}")
        self._settings.setValue(KEY, paths)

    def keep_card(self, path: Path, date: str, picture: QImage, film: Path) -> None:
        """Remember what a logbook's card shows; its picture goes with the film that it is of."""
        packed = QByteArray()
        buffer = QBuffer(packed)
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        picture.scaledToWidth(PICTURE_PX).save(buffer, "JPEG", JPEG_QUALITY)  # type: ignore[call-overload]
        card = f"{CARDS}/{_key(str(path.absolute()))}"
        self._settings.setValue(f"{card}/date", date)
        self._settings.setValue(f"{card}/picture", packed)
        self._settings.setValue(f"{card}/film", str(film.absolute()))

    def drop_card(self, path: Path) -> None:
        """Forget what a logbook's card shows: somebody in the picture is to be forgotten."""
        self._settings.remove(f"{CARDS}/{_key(str(path.absolute()))}")

    @property
    def clip_folder(self) -> Path | None:
        """The folder clips were last taken from, where it is still there."""
        kept = self._settings.value(CLIP_FOLDER, "")
        return Path(kept) if isinstance(kept, str) and kept and Path(kept).is_dir() else None

    def keep_clip_folder(self, folder: Path) -> None:
        """Remember from which folder clips were taken."""
        self._settings.setValue(CLIP_FOLDER, str(folder.absolute()))

    def _paths(self) -> list[str]:
        return [text for text in self._kept() if Path(text).is_file()]

    def _kept(self) -> list[str]:
        kept = self._settings.value(KEY, [])
        return [kept] if isinstance(kept, str) else kept if isinstance(kept, list) else []


def _key(path: str) -> str:
    """A name for a path that settings may carry: theirs takes slashes for groups."""
    return hashlib.sha256(path.encode()).hexdigest()[:16]

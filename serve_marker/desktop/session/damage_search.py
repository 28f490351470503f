"""Looks for damage in the clip on the screen, in a process of its own, some time after it was opened."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QTimer, Signal

from serve_marker.desktop.session.film_library import is_long, kept_beside
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.video.clip_warnings import FrameRange, damage_sentence
from serve_marker.video.damage_process import read_search_line, search_command

REST_MS = 2000
END_MS = 2000


class DamageSearch(QObject):
    """One search at a time, for the clip shown last.

    Signals
    -------
    progressed(thousandths) : so far is the search; 1000 where none is under way.
    found(ranges, sentence) : the damaged ranges of the clip, and what to tell.
    """

    progressed = Signal(int)
    found = Signal(object, str)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._wait = QTimer(self, singleShot=True, interval=REST_MS)
        self._wait.timeout.connect(self._start)
        self._process: QProcess | None = None
        self._found_file: Path | None = None
        workspace.clip_changed.connect(self._clip_changed)

    def close(self) -> None:
        """End a search under way."""
        self._wait.stop()
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.waitForFinished(END_MS)
            process.deleteLater()

    def _clip_changed(self) -> None:
        self.close()
        self.progressed.emit(1000)
        if self._workspace.clip is not None:
            self._wait.start()

    def _start(self) -> None:
        self.close()
        workspace = self._workspace
        clip, entry, book = workspace.clip, workspace.clip_entry, workspace.logbook
        if clip is None or entry is None or book is None:
            return
        times = kept_beside(book.path, entry.fingerprint, ".times")
        self._found_file = times.with_suffix(".damage") if is_long(clip.duration_s) else None
        kept = kept_damage(self._found_file) if self._found_file is not None else None
        if kept is not None:
            self._take(kept)
            return
        program, *words = search_command(clip.path, times if times.is_file() else None)
        self._process = process = QProcess(self)
        process.readyReadStandardOutput.connect(self._listen)
        process.finished.connect(self._ended)
        process.start(program, words)

    def _listen(self) -> None:
        while self._process is not None and self._process.canReadLine():
            line = bytes(self._process.readLine().data()).decode()
            told = read_search_line(line)
            if isinstance(told, int):
                self.progressed.emit(told)
            else:
                self._keep(line)
                self._take(told)

    def _ended(self) -> None:
        said = bytes(self._process.readAllStandardError().data()).decode(errors="replace") if self._process else ""
        try:
            self._listen()
        finally:
            self.progressed.emit(1000)
            self.close()
        if "Traceback (most recent call last)" in said:
            raise RuntimeError(f"the search for damage broke off\n{said}")

    def _take(self, ranges: tuple[FrameRange, ...]) -> None:
        clip = self._workspace.clip
        if clip is not None and ranges:
            self.found.emit(ranges, damage_sentence(clip.path, ranges))

    def _keep(self, line: str) -> None:
        if self._found_file is None:
            return
        try:
            self._found_file.parent.mkdir(exist_ok=True)
            self._found_file.write_text(line, encoding="utf-8")
        except OSError:
            return


def kept_damage(path: Path) -> tuple[FrameRange, ...] | None:
    """Return what an earlier search found, None where nothing is kept that can be read."""
    try:
        told = read_search_line(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, TypeError):
        return None
    return told if isinstance(told, tuple) else None

"""How much memory decoded frames may take, kept in the settings of this computer."""

from __future__ import annotations

from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import QInputDialog, QWidget

from serve_marker.desktop.session.frame_loader import FrameLoader
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.video.frame_cache import DEFAULT_CACHE_BYTES

KEY = "memory for frames [MB]"
MEGABYTE = 1024 * 1024
DEFAULT_MB, LEAST_MB, MOST_MB = DEFAULT_CACHE_BYTES // MEGABYTE, 64, 4096


class FrameMemory:
    """Handlers of that action; the bound set before is taken at the start."""

    def __init__(self, window: QWidget, workspace: Workspace, settings: QSettings, frames: FrameLoader) -> None:
        self._window = window
        self._workspace = workspace
        self._settings = settings
        self._frames = frames
        frames.set_cache_bytes(self.megabytes() * MEGABYTE)

    def megabytes(self) -> int:
        """Return the bound; nonsense in the settings is the default."""
        kept = str(self._settings.value(KEY, DEFAULT_MB))
        return min(max(int(kept), LEAST_MB), MOST_MB) if kept.isdecimal() else DEFAULT_MB

    def set_frame_memory(self) -> None:
        """Ask for another bound."""
        dialog = QInputDialog(self._window)
        dialog.setWindowTitle("Memory for frames")
        dialog.setLabelText("Megabytes for frames kept ready; more lets you turn further back without waiting:")
        dialog.setInputMode(QInputDialog.InputMode.IntInput)
        dialog.setIntRange(LEAST_MB, MOST_MB)
        dialog.setIntStep(LEAST_MB)
        dialog.setIntValue(self.megabytes())
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(show_errors(self._workspace, lambda: self._keep(dialog.intValue())))
        dialog.open()

    def _keep(self, megabytes: int) -> None:
        self._settings.setValue(KEY, megabytes)
        self._frames.set_cache_bytes(megabytes * MEGABYTE)
        self._workspace.message.emit(f"Frames may take {megabytes} MB.")

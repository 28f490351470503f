"""Asking for a file or a folder, by the system's own dialog wherever the system has one."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QWidget


def file_dialog(parent: QWidget, title: str, folder: Path, files: str = "") -> QFileDialog:
    """Return the dialog, to be opened; ``files`` are its filters, "" for folders alone."""
    dialog = QFileDialog(parent, title, str(folder), files)
    if not files:
        dialog.setFileMode(QFileDialog.FileMode.Directory)
        dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    return dialog

"""The two buttons every dialog ends with."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox


def accept_reject_buttons(dialog: QDialog, keep: str = "Keep", leave: str = "Cancel") -> QDialogButtonBox:
    """Return the two buttons every dialog ends with."""
    box = QDialogButtonBox()
    accept = box.addButton(keep, QDialogButtonBox.ButtonRole.AcceptRole)
    accept.setDefault(True)
    box.addButton(leave, QDialogButtonBox.ButtonRole.RejectRole)
    box.accepted.connect(dialog.accept)
    box.rejected.connect(dialog.reject)
    return box

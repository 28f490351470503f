"""The two buttons every dialog ends with."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox


def accept_reject_buttons(
    dialog: QDialog, keep: str = "Keep", leave: str = "Cancel", enter_keeps: bool = True
) -> QDialogButtonBox:
    """Return the two buttons a dialog ends with; Enter presses the first, or the second where work would be lost."""
    box = QDialogButtonBox()
    accept = box.addButton(keep, QDialogButtonBox.ButtonRole.AcceptRole)
    accept.setDefault(True)
    reject = box.addButton(leave, QDialogButtonBox.ButtonRole.RejectRole)
    if not enter_keeps:
        reject.setDefault(True)
        reject.setFocus()
    box.accepted.connect(dialog.accept)
    box.rejected.connect(dialog.reject)
    return box

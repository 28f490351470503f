"""A player to be erased: which one, what becomes of her serves, and where else to look for her."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtWidgets import QDialog, QFormLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.dialogs.file_dialog import file_dialog
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.logbook.records import Player, player_words

NOTE = (
    "This cannot be undone. She goes from the logbook, its backups and its copies. "
    "Sheets and stills that show her are deleted. The films are yours to delete."
)


class ErasePlayerDialog(QDialog):
    """Nobody is chosen at first, and Enter presses Cancel."""

    def __init__(self, players: Sequence[Player], sheets: Path, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Erase a player")
        self._beside = sheets.parent
        self.folders = [sheets]
        self.player = ComboBox()
        self.player.setAccessibleName("Player")
        self.player.addItem("Choose a player", "")
        for player in players:
            self.player.addItem(player_words(player), player.id)
        self.serves = ComboBox()
        self.serves.setAccessibleName("Her serves")
        self.serves.addItem("Erase them too", False)
        self.serves.addItem("Keep them, without her name", True)
        note = PlainLabel(NOTE)
        note.setWordWrap(True)
        note.setMinimumWidth(pixels(440))
        self.places = PlainLabel()
        self.places.setWordWrap(True)
        self.places.setProperty("role", "muted")
        folder = QPushButton("Folder…", autoDefault=False)
        folder.setAccessibleName("Another folder with sheets or stills")
        folder.clicked.connect(self._ask_folder)
        form = QFormLayout()
        form.addRow("Player", self.player)
        form.addRow("Serves", self.serves)
        form.addRow("Sheets in", self.places)
        form.addRow("", folder)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.setSpacing(12)
        layout.addWidget(note)
        layout.addLayout(form)
        buttons = accept_reject_buttons(self, "Erase", enter_keeps=False)
        erase = buttons.buttons()[0]
        erase.setEnabled(False)
        self.player.currentIndexChanged.connect(lambda place: erase.setEnabled(place > 0))
        layout.addWidget(buttons)
        self._show_places()

    def player_id(self) -> str:
        """Return the id of the player chosen, "" for none."""
        return str(self.player.currentData())

    def add_folder(self, folder: Path) -> None:
        """Look for sheets and stills in another folder too."""
        if folder not in self.folders:
            self.folders.append(folder)
        self._show_places()

    def _ask_folder(self) -> None:
        dialog = file_dialog(self, "Another folder with sheets or stills", self._beside)
        dialog.fileSelected.connect(lambda text: self.add_folder(Path(text)))
        dialog.open()

    def _show_places(self) -> None:
        self.places.setText(", ".join(folder.name for folder in self.folders))

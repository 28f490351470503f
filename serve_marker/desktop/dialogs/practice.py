"""Details of a practice."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import (
    QDialog,
    QFormLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.dialogs.date_field import DateField
from serve_marker.desktop.widgets.combo_box import ComboBox
from serve_marker.logbook.records import PURPOSES, Gym, Practice, new_id


class PracticeDialog(QDialog):
    """Name, date, gym, drill or match."""

    def __init__(self, practice: Practice, gyms: list[Gym], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("This practice")
        self._practice = practice
        self._gyms = {gym.name: gym for gym in gyms}
        self.name = QLineEdit(practice.name)
        self.name.setAccessibleName("Name of the practice")
        self.date = DateField(QDate.fromString(practice.date, Qt.DateFormat.ISODate), "Date of the practice")
        self.gym = ComboBox()
        self.gym.setEditable(True)
        self.gym.addItems(list(self._gyms))
        self.gym.setAccessibleName("Gym")
        self.gym.setCurrentText(next((gym.name for gym in gyms if gym.id == practice.gym_id), ""))
        self.purpose = ComboBox()
        self.purpose.addItems(PURPOSES)
        self.purpose.setCurrentText(practice.purpose)
        self.purpose.setAccessibleName("Drill or match")
        form = QFormLayout()
        for text, control in (
            ("Name", self.name),
            ("Date", self.date),
            ("Gym", self.gym),
            ("Purpose", self.purpose),
        ):
            form.addRow(text, control)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(form)
        layout.addWidget(accept_reject_buttons(self))

    def accept(self) -> None:
        if self.date.is_understood():
            super().accept()

    def result_records(self) -> tuple[Gym | None, Practice]:
        """Return the practice as edited, and its gym."""
        gym_name = self.gym.currentText().strip()
        gym = self._gyms.get(gym_name) or (Gym(id=new_id(), name=gym_name) if gym_name else None)
        practice = replace(
            self._practice,
            name=self.name.text().strip() or self._practice.name,
            date=self.date.date().toString(Qt.DateFormat.ISODate),
            gym_id=gym.id if gym else None,
            purpose=self.purpose.currentText(),
        )
        return gym, practice

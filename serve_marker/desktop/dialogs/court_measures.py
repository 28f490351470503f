"""Measures a coach may change: the court's own, and the borders between areas."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QDialog, QDoubleSpinBox, QFormLayout, QPushButton, QVBoxLayout, QWidget

from serve_marker.court.areas import AreaScheme, default_scheme
from serve_marker.court.dimensions import Court
from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.errors import UserError


class Metres(QDoubleSpinBox):
    """A length shown to the millimetre; one that is not edited stays what it was to the last digit."""

    def __init__(self, name: str, value_m: float, low_m: float, high_m: float) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setRange(min(low_m, value_m), max(high_m, value_m))
        self.setDecimals(3)
        self.setSingleStep(0.1)
        self.setSuffix(" m")
        self.show_m(value_m)

    def show_m(self, value_m: float) -> None:
        """Show a length [m]."""
        self._given_m = value_m
        self.setValue(value_m)
        self._shown_m = self.value()

    def metres(self) -> float:
        """Return the length as edited, or else as given [m]."""
        return self._given_m if self.value() == self._shown_m else self.value()


class CourtMeasuresDialog(QDialog):
    """Length, width, attack line and net of a court, for youth sizes and marked-out gyms."""

    def __init__(self, court: Court, net_height_m: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Measures of the court")
        self._court = court
        self.length_field = Metres("Length of the court", court.length_m, 6.0, 30.0)
        self.width_field = Metres("Width of the court", court.width_m, 3.0, 15.0)
        self.attack_field = Metres(
            "Net to the rear edge of the attack line, 0 for none", court.attack_line_m or 0.0, 0.0, 6.0
        )
        self.net_field = Metres("Height of the net", net_height_m, 1.0, 3.0)
        form = QFormLayout()
        form.addRow("Length", self.length_field)
        form.addRow("Width", self.width_field)
        form.addRow("Attack line from the net", self.attack_field)
        form.addRow("Net height", self.net_field)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(form)
        layout.addWidget(accept_reject_buttons(self))

    def court(self) -> Court:
        """Return the court as edited; an edited one says so in its title."""
        attack_m = self.attack_field.metres() or None
        edited = replace(
            self._court, length_m=self.length_field.metres(), width_m=self.width_field.metres(), attack_line_m=attack_m
        )
        if edited == self._court:
            return edited
        title = f"Own court, {edited.length_m:g} × {edited.width_m:g} m"
        return replace(edited, name="own", title=title, source="Measures entered by the coach.")

    def net_height_m(self) -> float:
        """Return the net's height as edited [m]."""
        return self.net_field.metres()


class AreaBordersDialog(QDialog):
    """The borders between the nine areas, the depth bands, and the width of a seam."""

    def __init__(self, court: Court, scheme: AreaScheme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Area borders")
        self._court = court
        width_m, depth_m = court.width_m, court.half_length_m
        first, second = scheme.column_borders_m
        front, back = scheme.row_borders_m
        short, deep = scheme.depth_borders_m
        self.fields = {
            "first column": Metres("First column ends, from the server's left", first, 0.1, width_m - 0.1),
            "second column": Metres("Second column ends, from the server's left", second, 0.1, width_m - 0.1),
            "front row": Metres("Short areas end, from the net", front, 0.1, depth_m - 0.1),
            "back row": Metres("Deep areas begin, from the net", back, 0.1, depth_m - 0.1),
            "short": Metres("Short balls end, from the net", short, 0.1, depth_m - 0.1),
            "deep": Metres("Deep balls begin, from the net", deep, 0.1, depth_m - 0.1),
            "seam": Metres("Width of a seam", scheme.seam_width_m, 0.2, 3.0),
        }
        form = QFormLayout()
        for field in self.fields.values():
            form.addRow(field.accessibleName(), field)
        usual = QPushButton("Reset", autoDefault=False)
        usual.clicked.connect(self._usual)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(form)
        layout.addWidget(usual)
        self.trouble = PlainLabel(" ")
        self.trouble.setWordWrap(True)
        layout.addWidget(self.trouble)
        layout.addWidget(accept_reject_buttons(self))

    def accept(self) -> None:
        try:
            self.scheme()
        except UserError as error:
            self.trouble.setText(str(error))
            return
        super().accept()

    def scheme(self) -> AreaScheme | None:
        """Return the borders as edited, None where they are the court's own."""
        value = {name: field.metres() for name, field in self.fields.items()}
        scheme = AreaScheme(
            column_borders_m=_rising(value["first column"], value["second column"]),
            row_borders_m=_rising(value["front row"], value["back row"]),
            depth_borders_m=_rising(value["short"], value["deep"]),
            seam_width_m=value["seam"],
        )
        return None if scheme == default_scheme(self._court) else scheme

    def _usual(self) -> None:
        scheme = default_scheme(self._court)
        values = (*scheme.column_borders_m, *scheme.row_borders_m, *scheme.depth_borders_m, scheme.seam_width_m)
        for field, metres in zip(self.fields.values(), values, strict=True):
            field.show_m(metres)


def _rising(one: float, other: float) -> tuple[float, float]:
    if one == other:
        raise UserError(f"Two borders lie at {one:g} m, with nothing between them. Set them apart.")
    return (one, other) if one < other else (other, one)

"""Where the passers stand: a usual formation to begin with, passers dragged on the half court, names and roles."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QComboBox, QDialog, QFormLayout, QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.court.formations import COUNT_WORDS, DEPTHS, Formation, Passer, preset
from serve_marker.desktop.half_court_drawing import HalfCourtDrawing
from serve_marker.desktop.practice_dialog import keep_or_leave
from serve_marker.desktop.theme import current
from serve_marker.errors import UserError

REACH_PX = 20.0
STEP_M = 0.1
NOBODY = "No passers"


class PasserCourt(QWidget):
    """The receiving half as the server sees it, with passers that can be dragged or moved by the arrow keys."""

    moved = Signal()

    def __init__(self, court: Court, scheme: AreaScheme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Passers on the receiving half; Tab takes the next passer, arrows move her")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(320, 420)
        self._court = court
        self._drawing = HalfCourtDrawing(court, scheme)
        self.passers: list[Passer] = []
        self.held = 0

    def sizeHint(self) -> QSize:
        return QSize(380, 480)

    def set_passers(self, passers: list[Passer]) -> None:
        """Show passers."""
        self.passers, self.held = list(passers), 0
        self.update()

    def place_of(self, passer: Passer) -> QPointF:
        """Where a passer is drawn."""
        return self._drawing.place(passer.x_m, passer.y_m)

    def move_to(self, number: int, x_m: float, y_m: float) -> None:
        """Move a passer, kept on the court, to the nearest five centimetres."""
        x_m, y_m = min(max(x_m, 0.0), self._court.width_m), min(max(y_m, 0.0), self._court.half_length_m)
        self.passers[number] = replace(self.passers[number], x_m=round(x_m * 20) / 20, y_m=round(y_m * 20) / 20)
        self.moved.emit()
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._drawing.lay_out(self.width(), self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        look = current()
        painter = QPainter(self)
        self._drawing.draw_ground(painter, look, None, (), self.font())
        for number, passer in enumerate(self.passers):
            at = self.place_of(passer)
            held = number == self.held and self.hasFocus()
            painter.setPen(QPen(look.of("focus" if held else "cursor"), 3.0 if held else 1.8))
            painter.setBrush(look.of("floor"))
            painter.drawRect(int(at.x()) - 7, int(at.y()) - 7, 14, 14)
            painter.setPen(QPen(look.of("cursor"), 1.0))
            wide = painter.fontMetrics().horizontalAdvance(passer.label)
            painter.drawText(QPointF(at.x() - wide / 2, at.y() + 24), passer.label)
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        away = [(self.place_of(passer) - event.position()).manhattanLength() for passer in self.passers]
        if away and min(away) <= REACH_PX:
            self.held = away.index(min(away))
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton and self.passers:
            origin, corner = self._drawing.place(0.0, 0.0), self._drawing.place(1.0, 1.0)
            at = event.position() - origin
            self.move_to(self.held, at.x() / (corner.x() - origin.x()), at.y() / (corner.y() - origin.y()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (-STEP_M, 0.0),
            Qt.Key.Key_Right: (STEP_M, 0.0),
            Qt.Key.Key_Up: (0.0, STEP_M),
            Qt.Key.Key_Down: (0.0, -STEP_M),
        }
        step = steps.get(Qt.Key(event.key()))
        if step is not None and self.passers:
            passer = self.passers[self.held]
            self.move_to(self.held, passer.x_m + step[0], passer.y_m + step[1])
        elif event.key() == Qt.Key.Key_Space and self.passers:
            self.held = (self.held + 1) % len(self.passers)
            self.update()
        else:
            super().keyPressEvent(event)


class FormationEditor(QDialog):
    """Set a formation. ``formation()`` is what was set, None for no passers."""

    def __init__(
        self, court: Court, scheme: AreaScheme, formation: Formation | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Passers")
        self._court = court
        self.usual = QComboBox()
        self.usual.setAccessibleName("Begin with a usual formation")
        self.usual.addItem("Usual formations...", None)
        self.usual.addItem(NOBODY, (0, ""))
        for count, word in COUNT_WORDS.items():
            for depth in DEPTHS:
                self.usual.addItem(f"{word.capitalize()} passers {depth}", (count, depth))
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the formation")
        self.plan = PasserCourt(court, scheme)
        self.labels: list[QLineEdit] = []
        self._form = QFormLayout()
        self._form.addRow("Begin with", self.usual)
        self._form.addRow("Name", self.name)
        self.hint = QLabel(
            "Drag passers on the court. Give each the name of a player, or her role: libero, swing hitter."
        )
        self.hint.setWordWrap(True)
        self.hint.setProperty("role", "muted")
        right = QVBoxLayout()
        right.addLayout(self._form)
        right.addWidget(self.hint)
        right.addStretch(1)
        middle = QHBoxLayout()
        middle.addWidget(self.plan, 1)
        middle.addLayout(right)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addLayout(middle, 1)
        layout.addWidget(keep_or_leave(self))
        self.usual.activated.connect(lambda _index: self._begin_with())
        self.plan.moved.connect(self._is_own_now)
        self._show(formation or Formation(""))

    def accept(self) -> None:
        """Keep the formation; one that makes no sense keeps the dialog open and says why."""
        try:
            self.formation()
        except UserError as error:
            self.hint.setText(str(error))
            return
        super().accept()

    def formation(self) -> Formation | None:
        """Return what was set; names that make no sense are refused with a sentence."""
        if not self.plan.passers:
            return None
        name = self.name.text().strip() or "own formation"
        return Formation.from_dict(Formation(name, tuple(self.plan.passers)).to_dict())

    def _begin_with(self) -> None:
        chosen = self.usual.currentData()
        if chosen is not None:
            count, depth = chosen
            self._show(preset(count, depth, self._court) if count else Formation(""))

    def _is_own_now(self) -> None:
        if self.name.text() and self.name.text() in [
            preset(count, depth, self._court).name for count in COUNT_WORDS for depth in DEPTHS
        ]:
            self.name.setText(f"{self.name.text()}, own")

    def _show(self, formation: Formation) -> None:
        self.name.setText(formation.name)
        self.plan.set_passers(list(formation.passers))
        for field in self.labels:
            self._form.removeRow(field)
        self.labels = []
        for number, passer in enumerate(formation.passers):
            field = QLineEdit(passer.label)
            field.setAccessibleName(f"Name or role of passer {number + 1}")
            field.setPlaceholderText("name or role")
            field.textEdited.connect(lambda text, number=number: self._rename(number, text))
            self._form.addRow(passer.role or f"Passer {number + 1}", field)
            self.labels.append(field)

    def _rename(self, number: int, text: str) -> None:
        passer = self.plan.passers[number]
        name = "" if text.strip() == passer.role else text.strip()
        self.plan.passers[number] = replace(passer, name=name)
        self.plan.update()

"""The strip of chips, one for each serve: its shape, the server's number below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QAccessible,
    QColor,
    QContextMenuEvent,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QSizePolicy, QToolTip, QWidget

from serve_marker.desktop.widgets.accessible_items import DrawnItem, tell_current
from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.desktop.widgets.theme import Palette, current

CHIP_WIDTH = 42
CHIP_HEIGHT = 50
EDGE = 6


@dataclass(frozen=True)
class ServeChip:
    """What the strip shows of one serve."""

    serve_id: str
    shape: str
    number_text: str
    tooltip: str = ""


class ServeStrip(QAbstractScrollArea):
    """All serves of a clip in a row. Shift selects a run, Ctrl adds or takes away one.

    Signals
    -------
    chosen(serve_id) : go to this serve.
    selection_changed(serve_ids) : in the order of the strip.
    menu_asked(global_point) : a menu for the selection is wanted.
    """

    chosen = Signal(str)
    selection_changed = Signal(list)
    menu_asked = Signal(QPoint)
    items_role = QAccessible.Role.List

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Serves of this clip")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.viewport().setAutoFillBackground(False)
        self._chips: list[ServeChip] = []
        self._place_of: dict[str, int] = {}
        self._selected: set[str] = set()
        self._current: str | None = None
        self._anchor: str | None = None

    def set_chips(self, chips: Sequence[ServeChip]) -> None:
        """Show these chips; place and selection stay as far as the serves are still there."""
        self._chips = list(chips)
        self._place_of = {chip.serve_id: place for place, chip in enumerate(self._chips)}
        before = set(self._selected)
        self._selected &= self._place_of.keys()
        self._current = self._current if self._current in self._place_of else None
        self._anchor = self._anchor if self._anchor in self._place_of else None
        self._measure()
        self.viewport().update()
        if self._selected != before:
            self.selection_changed.emit(self.selection())

    def set_current(self, serve_id: str | None, bring_into_sight: bool = True) -> None:
        """Ring one chip as the serve on the screen, without changing the selection."""
        self._current = serve_id if serve_id in self._place_of else None
        self._tell_reader()
        if self._current is not None and bring_into_sight:
            self._bring_into_sight(self._place_of[self._current])
        self.viewport().update()

    def select(self, serve_ids: Sequence[str]) -> None:
        """Select these serves."""
        self._set_selection(set(serve_ids) & self._place_of.keys())

    def selection(self) -> list[str]:
        """The selected serves in the order of the strip."""
        return sorted(self._selected, key=self._place_of.__getitem__)

    @property
    def current(self) -> str | None:
        """The ringed serve."""
        return self._current

    def sizeHint(self) -> QSize:
        return QSize(600, pixels(CHIP_HEIGHT) + 14)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, pixels(CHIP_HEIGHT) + 14)

    def item_count(self) -> int:
        """How many serves there are."""
        return len(self._chips)

    def drawn_item(self, number: int) -> DrawnItem:
        """What a reader is told of a serve."""
        chip = self._chips[number]
        words = f"{chip.number_text}, {chip.tooltip or chip.shape}"
        return DrawnItem(words, self.chip_rect(chip.serve_id).toRect(), chip.serve_id in self._selected)

    # -- places

    def _measure(self) -> None:
        bar = self.horizontalScrollBar()
        shown = self.viewport().width()
        bar.setPageStep(shown)
        bar.setSingleStep(pixels(CHIP_WIDTH))
        bar.setRange(0, max(0, 2 * EDGE + pixels(CHIP_WIDTH) * len(self._chips) - shown))

    def _bring_into_sight(self, place: int) -> None:
        bar = self.horizontalScrollBar()
        left, right = place * pixels(CHIP_WIDTH), EDGE * 2 + (place + 1) * pixels(CHIP_WIDTH)
        if left < bar.value():
            bar.setValue(left)
        elif right > bar.value() + self.viewport().width():
            bar.setValue(right - self.viewport().width())

    def chip_rect(self, serve_id: str) -> QRectF:
        """Where a chip stands in the viewport."""
        left = EDGE + self._place_of[serve_id] * pixels(CHIP_WIDTH) - self.horizontalScrollBar().value()
        return QRectF(left, 2, pixels(CHIP_WIDTH), pixels(CHIP_HEIGHT))

    def _chip_at(self, x: float) -> ServeChip | None:
        place = int((x + self.horizontalScrollBar().value() - EDGE) // pixels(CHIP_WIDTH))
        return self._chips[place] if 0 <= place < len(self._chips) else None

    # -- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self.viewport())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = current()
        if not self._chips:
            painter.setPen(QColor(look.muted))
            painter.drawText(
                self.viewport().rect().adjusted(EDGE * 2, 0, 0, 0),
                Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft,
                "Each serve you mark gets a chip here.",
            )
        first = max(0, (self.horizontalScrollBar().value() - EDGE) // pixels(CHIP_WIDTH))
        last = first + self.viewport().width() // pixels(CHIP_WIDTH) + 2
        for chip in self._chips[first:last]:
            self._draw_chip(painter, look, chip, self.chip_rect(chip.serve_id).adjusted(2, 2, -2, -2))
        painter.end()

    def _draw_chip(self, painter: QPainter, look: Palette, chip: ServeChip, box: QRectF) -> None:
        selected, ringed = chip.serve_id in self._selected, chip.serve_id == self._current
        painter.setBrush(QColor(look.raised if selected else look.panel))
        edge = QColor(look.accent if ringed or selected else look.line)
        painter.setPen(QPen(edge, 2.4 if ringed and self.hasFocus() else 1.6 if ringed or selected else 1.0))
        painter.drawRoundedRect(box, 8, 8)
        middle = QPointF(box.center().x(), box.top() + pixels(15))
        draw_shape(painter, chip.shape, middle, pixels(7), look.of(chip.shape))
        painter.setPen(QColor(look.text))
        shown = painter.fontMetrics().elidedText(chip.number_text, Qt.TextElideMode.ElideRight, int(box.width()) - 4)
        painter.drawText(box.adjusted(0, pixels(26), 0, -2), Qt.AlignmentFlag.AlignCenter, shown)
        if selected:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(look.accent))
            painter.drawRoundedRect(QRectF(box.left() + 8, box.bottom() - 3.5, box.width() - 16, 3), 1.5, 1.5)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._measure()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._measure()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.viewport().update()

    # -- pointer and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        chip = self._chip_at(event.position().x())
        if chip is None:
            return
        if event.button() == Qt.MouseButton.RightButton:
            if chip.serve_id not in self._selected:
                self._take(chip.serve_id, Qt.KeyboardModifier.NoModifier)
        elif event.button() == Qt.MouseButton.LeftButton:
            self._take(chip.serve_id, event.modifiers())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        if self._selected:
            self.menu_asked.emit(event.globalPos())

    def wheelEvent(self, event: QWheelEvent) -> None:
        moved, turned = event.pixelDelta(), event.angleDelta()
        by = moved.x() or moved.y()
        if moved.isNull():
            by = round((turned.x() or turned.y()) / 120 * pixels(CHIP_WIDTH))
        self.horizontalScrollBar().setValue(self.horizontalScrollBar().value() - by)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        places = len(self._chips)
        here = self._place_of.get(self._current or "", -1)
        target = {
            Qt.Key.Key_Left: max(here - 1, 0),
            Qt.Key.Key_Right: min(here + 1, places - 1),
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: places - 1,
        }.get(Qt.Key(event.key()))
        if places and target is not None:
            self._take(self._chips[target].serve_id, event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._current is not None:
            self.chosen.emit(self._current)
        elif event.key() == Qt.Key.Key_Menu and self._selected:
            self.menu_asked.emit(self.viewport().mapToGlobal(self.viewport().rect().center()))
        else:
            event.ignore()

    def viewportEvent(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            chip = self._chip_at(event.pos().x())
            QToolTip.showText(event.globalPos(), tooltip(chip.tooltip if chip else ""), self)
            return True
        return super().viewportEvent(event)

    def _take(self, serve_id: str, modifiers: Qt.KeyboardModifier) -> None:
        if modifiers & Qt.KeyboardModifier.ShiftModifier and self._anchor is not None:
            first, last = sorted((self._place_of[self._anchor], self._place_of[serve_id]))
            wanted = {chip.serve_id for chip in self._chips[first : last + 1]}
        elif modifiers & Qt.KeyboardModifier.ControlModifier:
            wanted = self._selected ^ {serve_id}
            self._anchor = serve_id
        else:
            wanted = {serve_id}
            self._anchor = serve_id
        self.set_current(serve_id)
        self._set_selection(wanted)
        if wanted == {serve_id}:
            self.chosen.emit(serve_id)

    def _set_selection(self, wanted: set[str]) -> None:
        if wanted != self._selected:
            self._selected = wanted
            self._tell_reader()
            self.viewport().update()
            self.selection_changed.emit(self.selection())

    def _tell_reader(self) -> None:
        words = f"{len(self._selected)} selected"
        if self._current is not None:
            chip = self._chips[self._place_of[self._current]]
            words = f"{chip.number_text}, {chip.tooltip or chip.shape}; {words}"
            tell_current(self, self._place_of[self._current])
        self.setAccessibleDescription(words)

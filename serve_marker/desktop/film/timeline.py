"""The time bar: where the film stands, with a tick in its own shape for each serve; damaged ranges are hatched."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from PySide6.QtCore import QEvent, QPointF, QRectF, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractSlider, QSizePolicy, QToolTip, QWidget

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.desktop.widgets.text_sizes import SMALL_PT, pixels, sized
from serve_marker.desktop.widgets.theme import Palette, current

HEIGHT = 34
READOUT_PT, REMARK_PT = 10.0, SMALL_PT
EDGE = 12.0
TICK_RADIUS, PROPOSED_RADIUS = 5.0, 3.0
TICK_REACH = 7.0
DAMAGED_HERE = "damaged here"
LONGEST_READOUT, LONGEST_REMARK = "00:00.000  frame 000000", "searching for damage, 99 %"
DAMAGED_WORDS = "The film is damaged here; the picture may be wrong or missing."
STEPS = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_PageDown: -10,
    Qt.Key.Key_PageUp: 10,
}


def time_text(time_s: float) -> str:
    """Minutes, seconds and milliseconds.

    Examples
    --------
    >>> time_text(41.7331), time_text(605.0), time_text(59.9996)
    ('0:41.733', '10:05.000', '1:00.000')
    """
    milliseconds = round(time_s * 1000)
    minutes, rest = divmod(milliseconds, 60_000)
    return f"{minutes}:{rest / 1000:06.3f}"


class Timeline(QAbstractSlider):
    """A slider over the clip's frames; its value is the frame shown.

    Signals
    -------
    seek(frame_index) : go there; sent all along a drag.
    let_go() : a drag has ended.
    """

    seek = Signal(int)
    let_go = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Time bar")
        self.setOrientation(Qt.Orientation.Horizontal)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._times_s = np.zeros(0)
        self._ticks: list[tuple[float, str, str]] = []
        self._proposed_s: tuple[float, ...] = ()
        self._index = 0
        self._remark = ""
        self._damaged: tuple[tuple[int, int], ...] = ()
        self._time_scale = 1.0
        self._dragging = False
        self._hover: QPointF | None = None
        self.valueChanged.connect(self._go)

    def set_clip(self, times_s: ArrayLike) -> None:
        """Take the presentation times of all frames, array (N,) rising [s]; empty without a clip."""
        self._times_s = np.asarray(times_s, dtype=float)
        self._index = 0
        self._damaged = ()
        with QSignalBlocker(self):
            self.setRange(0, max(0, len(self._times_s) - 1))
            self.setValue(0)
        self.update()

    def set_time_scale(self, scale: float) -> None:
        """What a time has to be multiplied by to be told as it was when filmed."""
        self._time_scale = scale
        self.update()

    def set_damaged(self, ranges: Sequence[tuple[int, int]]) -> None:
        """Take first and last frame of each damaged range."""
        self._damaged = tuple(ranges)
        self.update()

    def set_remark(self, remark: str) -> None:
        """A few words below the readout, such as how far the search for damage is."""
        self._remark = remark
        self.update()

    def set_ticks(self, ticks: Sequence[tuple[float, str, str]]) -> None:
        """Take (time_s, shape, label) for each serve."""
        self._ticks = sorted(ticks)
        self.update()

    def set_proposed(self, times_s: Sequence[float]) -> None:
        """Take when the serves came down that were found and wait for an answer [s]."""
        self._proposed_s = tuple(times_s)
        self.update()

    def set_position(self, index: int) -> None:
        """Show that frame ``index`` is on the screen."""
        if len(self._times_s):
            self._index = min(max(index, 0), len(self._times_s) - 1)
            with QSignalBlocker(self):
                self.setValue(self._index)
        self.setAccessibleDescription(f"{self.position_text()} {self._below()}".strip())
        self.update()

    @property
    def dragging(self) -> bool:
        """Whether the hand is dragging along the bar."""
        return self._dragging

    @property
    def position(self) -> int:
        """The frame shown."""
        return self._index

    def position_text(self) -> str:
        """Time and frame number as the bar shows them."""
        if not len(self._times_s):
            return ""
        return f"{self._time_text(self._index)}  frame {self._index}"

    def _time_text(self, index: int) -> str:
        return time_text(self._times_s[index] * self._time_scale)

    def _is_damaged(self, index: int) -> bool:
        return any(first <= index <= last for first, last in self._damaged)

    def _below(self) -> str:
        return DAMAGED_HERE if self._is_damaged(self._index) else self._remark

    def sizeHint(self) -> QSize:
        return QSize(600, pixels(HEIGHT))

    def minimumSizeHint(self) -> QSize:
        return QSize(320, pixels(HEIGHT))

    # -- places

    def _readout_font(self) -> QFont:
        return sized(QFont("DejaVu Sans Mono"), READOUT_PT)

    def _remark_font(self) -> QFont:
        return sized(self.font(), REMARK_PT)

    def _track(self) -> QRectF:
        written = ((self._readout_font(), LONGEST_READOUT), (self._remark_font(), LONGEST_REMARK))
        widest = max(QFontMetricsF(font).horizontalAdvance(words) for font, words in written)
        return QRectF(EDGE, 0, max(50.0, self.width() - widest - 3 * EDGE), self.height())

    def x_of_time(self, time_s: float) -> float:
        """Where a time stands in the widget."""
        track = self._track()
        span_s = self._times_s[-1] - self._times_s[0] if len(self._times_s) > 1 else 0.0
        share = (time_s - self._times_s[0]) / span_s if span_s > 0 else 0.0
        return track.left() + min(max(share, 0.0), 1.0) * track.width()

    def frame_at(self, x: float) -> int:
        """The frame nearest to a place in the widget."""
        track = self._track()
        share = min(max((x - track.left()) / track.width(), 0.0), 1.0)
        time_s = self._times_s[0] + share * (self._times_s[-1] - self._times_s[0])
        after = int(np.searchsorted(self._times_s, time_s))
        if after == 0:
            return 0
        if after == len(self._times_s):
            return after - 1
        return after - int(time_s - self._times_s[after - 1] <= self._times_s[after] - time_s)

    def _tick_at(self, at: QPointF) -> tuple[float, str, str] | None:
        near = [
            (abs(self.x_of_time(tick[0]) - at.x()), place)
            for place, tick in enumerate(self._ticks)
            if at.y() < self.height() / 2
        ]
        distance, place = min(near, default=(TICK_REACH + 1, -1))
        return self._ticks[place] if distance <= TICK_REACH else None

    # -- drawing

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = current()
        track = self._track()
        groove = QRectF(track.left(), self.height() - 14, track.width(), 6)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(look.line))
        painter.drawRoundedRect(groove, 3, 3)
        if len(self._times_s):
            self._draw_position(painter, look, groove)
            self._draw_readout(painter, look)
        painter.end()

    def _draw_position(self, painter: QPainter, look: Palette, groove: QRectF) -> None:
        here = self.x_of_time(self._times_s[self._index])
        painter.setBrush(QColor(look.accent))
        painter.drawRoundedRect(QRectF(groove.left(), groove.top(), here - groove.left(), groove.height()), 3, 3)
        self._draw_damage(painter, look, groove)
        for time_s, shape, _label in self._ticks:
            x = self.x_of_time(time_s)
            painter.setPen(QPen(QColor(look.muted), 1))
            painter.drawLine(QPointF(x, pixels(18)), QPointF(x, groove.top() - 1))
            draw_shape(painter, shape, QPointF(x, pixels(10)), pixels(TICK_RADIUS), look.of(shape))
        painter.setPen(QPen(QColor(look.muted), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        radius = pixels(PROPOSED_RADIUS)
        for time_s in self._proposed_s:
            painter.drawEllipse(QPointF(self.x_of_time(time_s), pixels(10)), radius, radius)
        if self._hover is not None:
            painter.setPen(QPen(QColor(look.muted), 1, Qt.PenStyle.DashLine))
            painter.drawLine(QPointF(self._hover.x(), pixels(18)), QPointF(self._hover.x(), groove.bottom() + 4))
        handle = QRectF(here - 4, groove.top() - 7, 8, 20)
        if self.hasFocus():
            painter.setPen(QPen(QColor(look.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(handle.adjusted(-3, -3, 3, 3), 6, 6)
        painter.setPen(QPen(QColor(look.panel), 1.5))
        painter.setBrush(QColor(look.text))
        painter.drawRoundedRect(handle, 4, 4)

    def _draw_damage(self, painter: QPainter, look: Palette, groove: QRectF) -> None:
        for first, last in self._damaged:
            left, right = self.x_of_time(self._times_s[first]), self.x_of_time(self._times_s[last])
            hatched = QRectF(left - 2, groove.top() - 4, max(right - left, 0.0) + 4, groove.height() + 8)
            painter.setPen(QPen(look.of("cross"), 1.5))
            painter.setBrush(QColor(look.panel))
            painter.drawRect(hatched)
            painter.setBrush(QBrush(look.of("cross"), Qt.BrushStyle.BDiagPattern))
            painter.drawRect(hatched)

    def _draw_readout(self, painter: QPainter, look: Palette) -> None:
        room = QRectF(self._track().right() + EDGE, 0, self.width(), self.height())
        room.setRight(self.width() - EDGE)
        painter.setFont(self._readout_font())
        painter.setPen(QColor(look.text))
        painter.drawText(room, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight, self.position_text())
        painter.setFont(self._remark_font())
        painter.setPen(QColor(look.text if self._is_damaged(self._index) else look.muted))
        painter.drawText(room, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignRight, self._below())

    # -- pointer and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or not len(self._times_s):
            return
        tick = self._tick_at(event.position())
        self._go(self.frame_at(self.x_of_time(tick[0]) if tick else event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if not len(self._times_s):
            return
        self._hover = event.position()
        self.update()
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._dragging = True
            self._go(self.frame_at(event.position().x()))
        else:
            tick = self._tick_at(event.position())
            index = self.frame_at(event.position().x())
            words = tick[2] if tick else f"{self._time_text(index)}  frame {index}"
            if self._is_damaged(index):
                words += f"\n{DAMAGED_WORDS}"
            QToolTip.showText(event.globalPosition().toPoint(), tooltip(words), self)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._dragging and event.button() == Qt.MouseButton.LeftButton:
            self._dragging = False
            self.let_go.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def leaveEvent(self, event: QEvent) -> None:
        self._hover = None
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if not len(self._times_s) or event.modifiers() & Qt.KeyboardModifier.AltModifier:
            event.ignore()
        elif key in STEPS:
            self._go(self._index + STEPS[key])
        elif key == Qt.Key.Key_Home:
            self._go(0)
        elif key == Qt.Key.Key_End:
            self._go(len(self._times_s) - 1)
        else:
            event.ignore()

    def _go(self, index: int) -> None:
        index = min(max(index, 0), len(self._times_s) - 1)
        if index != self._index:
            self.set_position(index)
            self.seek.emit(index)

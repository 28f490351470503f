"""One drawing of the whole job: a phone films a court, four crossings are marked, one dot is a serve."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.theme import Palette, current

DRAWN = QSize(440, 190)
"""The size everything below is drawn at; the widget scales it."""
LEAST_HEIGHT_PX, MOST_TIMES = 56, 2.6
NEAR, FAR = (QPointF(150, 166), QPointF(424, 166)), (QPointF(212, 44), QPointF(362, 44))
NET_SHARE, NET_HEIGHT = 0.62, 24.0
PHONE, LENS = QRectF(46, 52, 28, 50), QPointF(60, 62)
LANDING = QPointF(258, 58)
HAND = QPointF(322, 128)


class StartDrawing(QWidget):
    """Drawn in the colours of the look, as large as there is room."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("A phone films a court. Four crossings are ringed, one landing is a dot.")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        return DRAWN

    def minimumSizeHint(self) -> QSize:
        return QSize(DRAWN.width() // 2, LEAST_HEIGHT_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, look = QPainter(self), current()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        times = min(self.width() / DRAWN.width(), self.height() / DRAWN.height(), MOST_TIMES)
        painter.translate(QRectF(self.rect()).center() - QPointF(DRAWN.width(), DRAWN.height()) / 2 * times)
        painter.scale(times, times)
        _draw_sight(painter, look)
        _draw_court(painter, look)
        _draw_phone(painter, look)
        for corner in (*NEAR, *FAR):
            painter.setBrush(QColor(look.panel))
            painter.setPen(QPen(QColor(look.accent), 3))
            painter.drawEllipse(corner, 7, 7)
        _draw_serve(painter, look)
        painter.end()


def _between(one: QPointF, other: QPointF, share: float) -> QPointF:
    return one + (other - one) * share


def _draw_sight(painter: QPainter, look: Palette) -> None:
    """What the phone sees: dashed lines to the court's outermost corners."""
    painter.setPen(QPen(QColor(look.muted), 1.2, Qt.PenStyle.DashLine))
    for corner in (FAR[0], NEAR[1]):
        painter.drawLine(LENS, corner)


def _draw_court(painter: QPainter, look: Palette) -> None:
    painter.setBrush(look.of("floor"))
    painter.setPen(QPen(look.of("court-line"), 3))
    painter.drawPolygon(QPolygonF([NEAR[0], NEAR[1], FAR[1], FAR[0]]))
    painter.setPen(QPen(look.of("court-line"), 1.6))
    for share in (0.42, 0.78):
        painter.drawLine(_between(NEAR[0], FAR[0], share), _between(NEAR[1], FAR[1], share))
    left, right = (_between(near, far, NET_SHARE) for near, far in zip(NEAR, FAR, strict=True))
    up = QPointF(0, -NET_HEIGHT)
    mesh = look.of("net")
    mesh.setAlphaF(0.25)
    painter.setBrush(mesh)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawPolygon(QPolygonF([left, right, right + up, left + up]))
    painter.setPen(QPen(look.of("net"), 2.4))
    for line in ((left, left + up), (right, right + up), (left + up, right + up)):
        painter.drawLine(*line)


def _draw_phone(painter: QPainter, look: Palette) -> None:
    painter.setPen(QPen(QColor(look.text), 3))
    foot = QPointF(PHONE.center().x(), PHONE.bottom())
    for aside in (-22, 0, 22):
        painter.drawLine(foot, QPointF(foot.x() + aside, 172))
    painter.setBrush(QColor(look.raised))
    painter.drawRoundedRect(PHONE, 5, 5)
    painter.setBrush(QColor(look.accent))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawEllipse(LENS, 4, 4)


def _draw_serve(painter: QPainter, look: Palette) -> None:
    """The ball's way over the net, and where it landed."""
    way = QPainterPath(HAND)
    way.quadTo(QPointF(300, 8), LANDING)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(look.of("disc"), 2, Qt.PenStyle.DotLine))
    painter.drawPath(way)
    draw_shape(painter, "disc", LANDING, 8, look.of("disc"), look.of("floor"))

"""The sound strip under the time bar: how loud the clip is over time, with hits and bounces as spikes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.widgets.theme import current

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip
    from serve_marker.video.sound import Loudness

HEIGHT = 20
QUIETEST_DB, LOUDEST_DB = -60.0, 0.0
SPIKE_HALF_WIDTH, SPIKE_HEIGHT = 3.0, 5.0


class LoudnessStrip(QWidget):
    """Listens to a clip in the background; hidden while the clip has no sound.

    ``x_of_time`` gives the place of a time [s] in the widget, usually the time bar's own.

    Signals
    -------
    seek(time_s) : go there.
    """

    seek = Signal(float)

    def __init__(self, x_of_time: Callable[[float], float], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Sound strip")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._x_of_time = x_of_time
        self._worker = Worker("sound", self)
        self._worker.progressed.connect(self._progressed)
        self._loudness: Loudness | None = None
        self._position_s = 0.0
        self._share = 0.0
        self._columns: NDArray[np.float64] | None = None
        self.hide()

    def listen(self, clip: Clip | None) -> None:
        """Work out the loudness of this clip from now on; None forgets what was heard."""
        self.set_loudness(None)
        if clip is None or not clip.has_sound:
            self._worker.cancel()
            return
        from serve_marker.video.sound import loudness

        self._share = 0.0
        self.show()
        self._worker.submit(
            loudness,
            clip,
            self._worker.progressed.emit,
            self._worker.cancelled,
            done=self.set_loudness,
            failed=lambda _error: self.set_loudness(None),
        )

    def set_loudness(self, heard: Loudness | None) -> None:
        """Show this; None hides the strip."""
        self._loudness, self._columns = heard, None
        self.setVisible(heard is not None)
        self.setAccessibleDescription(f"{len(heard.spikes.times_s)} hits or bounces heard" if heard is not None else "")
        self.update()

    def set_position(self, time_s: float) -> None:
        """Show where the film stands."""
        self._position_s = time_s
        self.update()

    @property
    def busy(self) -> bool:
        """Whether it is still listening."""
        return self._worker.busy

    @property
    def spikes_s(self) -> NDArray[np.float64]:
        """Times (S,) of hits and bounces [s]; empty as long as nothing was heard."""
        return self._loudness.spikes.times_s if self._loudness is not None else np.zeros(0)

    def close_worker(self) -> None:
        """Stop listening and join the thread."""
        self._worker.cancel()
        self._worker.close()

    def sizeHint(self) -> QSize:
        return QSize(600, HEIGHT)

    def _progressed(self, done: int, of: int) -> None:
        self._share = done / of
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._columns = None

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = current()
        if self._loudness is None:
            painter.setPen(QColor(look.muted))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, f"Listening for hits, {self._share:.0%}")
            painter.end()
            return
        painter.setPen(QPen(QColor(look.muted), 1))
        for x, height in enumerate(self._levels(self._loudness)):
            if height > 0:
                painter.drawLine(QPointF(x + 0.5, self.height()), QPointF(x + 0.5, self.height() - height))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(look.text))
        for time_s in self._loudness.spikes.times_s:
            at = self._x_of_time(float(time_s))
            points = [(at - SPIKE_HALF_WIDTH, 0.0), (at + SPIKE_HALF_WIDTH, 0.0), (at, SPIKE_HEIGHT)]
            painter.drawPolygon(QPolygonF([QPointF(*point) for point in points]))
        painter.setPen(QPen(QColor(look.accent), 2))
        here = self._x_of_time(self._position_s)
        painter.drawLine(QPointF(here, 0), QPointF(here, self.height()))
        painter.end()

    def _levels(self, heard: Loudness) -> NDArray[np.float64]:
        """Height [px] of the loudest sound in each column of pixels."""
        if self._columns is None:
            start, stop = self._x_of_time(float(heard.times_s[0])), self._x_of_time(float(heard.times_s[-1]))
            span_s = float(heard.times_s[-1] - heard.times_s[0])
            places = start + (heard.times_s - heard.times_s[0]) * ((stop - start) / span_s if span_s > 0 else 0.0)
            columns = np.clip(places.astype(int), 0, max(self.width() - 1, 0))
            loudest = np.full(max(self.width(), 1), QUIETEST_DB)
            np.maximum.at(loudest, columns, heard.level_db)
            share = np.clip((loudest - QUIETEST_DB) / (LOUDEST_DB - QUIETEST_DB), 0, 1)
            self._columns = share * (self.height() - SPIKE_HEIGHT - 2)
        return self._columns

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._loudness is None:
            return
        times_s = self._loudness.times_s
        places = np.array([self._x_of_time(float(times_s[0])), self._x_of_time(float(times_s[-1]))])
        self.seek.emit(float(np.interp(event.position().x(), places, [times_s[0], times_s[-1]])))

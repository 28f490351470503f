"""The sound strip under the time bar: how loud the clip is over time, with likely serves among its spikes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractSlider, QSizePolicy, QWidget

from serve_marker.desktop.session.worker import Worker
from serve_marker.desktop.widgets.theme import current
from serve_marker.study.sentences import count_words

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip
    from serve_marker.video.likely_serves import LikelyServe
    from serve_marker.video.sound import Loudness

HEIGHT = 20
QUIETEST_DB, LOUDEST_DB = -60.0, 0.0
SPIKE_HALF_WIDTH, SPIKE_HEIGHT = 2.0, 4.0
HIT_HALF_WIDTH, HIT_HEIGHT = 4.0, 8.0
LANDING_RADIUS = 3.5


class LoudnessStrip(QAbstractSlider):
    """Listens to a clip in the background; hidden while the clip has no sound.

    Its value is where the film stands [ms].
    ``x_of_time`` gives the place of a time [s] in the widget, usually the time bar's own.

    Signals
    -------
    seek(time_s) : go there.
    """

    seek = Signal(float)

    def __init__(self, x_of_time: Callable[[float], float], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Sound strip")
        self.setOrientation(Qt.Orientation.Horizontal)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._x_of_time = x_of_time
        self._worker = Worker("sound", self)
        self._worker.progressed.connect(self._progressed)
        self._loudness: Loudness | None = None
        self._likely: tuple[LikelyServe, ...] = ()
        self._time_scale = 1.0
        self._marked_s: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())
        self._position_s = 0.0
        self._share = 0.0
        self._columns: NDArray[np.float64] | None = None
        self.valueChanged.connect(lambda value_ms: self.seek.emit(value_ms / 1000))
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
        """Show this, and look for serves in it; None hides the strip."""
        self._loudness, self._columns = heard, None
        with QSignalBlocker(self):
            self.setRange(0, 0 if heard is None else round(1000 * heard.times_s[-1]))
            self.setValue(round(1000 * self._position_s))
        self.setVisible(heard is not None)
        self._show_likely(())
        self._look_for_serves()

    def set_time_scale(self, scale: float) -> None:
        """Take this for what the clip's time has to be multiplied by to be true; serves fly longer in slow motion."""
        if scale != self._time_scale:
            self._time_scale = scale
            self._look_for_serves()

    def set_marked(self, contacts_s: Sequence[float], landings_s: Sequence[float]) -> None:
        """Take these for hits and landings that are known: they tell how loud the others are."""
        marked_s = (tuple(contacts_s), tuple(landings_s))
        if marked_s != self._marked_s:
            self._marked_s = marked_s
            self._look_for_serves()

    def _look_for_serves(self) -> None:
        if self._loudness is None:
            return
        from serve_marker.video.likely_serves import likely_serves

        asked = (self._loudness.spikes, self._time_scale, *self._marked_s)
        self._worker.submit(likely_serves, *asked, done=self._show_likely)

    def _show_likely(self, likely: tuple[LikelyServe, ...]) -> None:
        self._likely = likely
        sounds, serves = count_words(len(self.spikes_s), "sudden sound"), count_words(len(likely), "likely serve")
        self.setAccessibleDescription(f"{serves} among {sounds}" if self._loudness is not None else "")
        self.update()

    def set_position(self, time_s: float) -> None:
        """Show where the film stands."""
        self._position_s = time_s
        with QSignalBlocker(self):
            self.setValue(round(1000 * time_s))
        self.update()

    @property
    def busy(self) -> bool:
        """Whether it is still listening."""
        return self._worker.busy

    @property
    def spikes_s(self) -> NDArray[np.float64]:
        """Times (S,) of hits and bounces [s]; empty as long as nothing was heard."""
        return self._loudness.spikes.times_s if self._loudness is not None else np.zeros(0)

    @property
    def likely(self) -> tuple[LikelyServe, ...]:
        """The likely serves among what was heard; none as long as nothing can be told."""
        return self._likely

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
        painter.setBrush(QColor(look.muted))
        for time_s in self.spikes_s:
            self._draw_wedge(painter, float(time_s), SPIKE_HALF_WIDTH, SPIKE_HEIGHT)
        painter.setBrush(QColor(look.text))
        for serve in self._likely:
            self._draw_wedge(painter, serve.hit_s, HIT_HALF_WIDTH, HIT_HEIGHT)
            landing = QPointF(self._x_of_time(serve.landing_s), LANDING_RADIUS)
            painter.drawEllipse(landing, LANDING_RADIUS, LANDING_RADIUS)
        painter.setPen(QPen(QColor(look.accent), 2))
        here = self._x_of_time(self._position_s)
        painter.drawLine(QPointF(here, 0), QPointF(here, self.height()))
        painter.end()

    def _draw_wedge(self, painter: QPainter, time_s: float, half_width: float, height: float) -> None:
        """Draw a triangle that stands on its tip at that time."""
        at = self._x_of_time(time_s)
        points = [(at - half_width, 0.0), (at + half_width, 0.0), (at, height)]
        painter.drawPolygon(QPolygonF([QPointF(*point) for point in points]))

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

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._loudness is None:
            return
        times_s = self._loudness.times_s
        places = np.array([self._x_of_time(float(times_s[0])), self._x_of_time(float(times_s[-1]))])
        self.seek.emit(float(np.interp(event.position().x(), places, [times_s[0], times_s[-1]])))

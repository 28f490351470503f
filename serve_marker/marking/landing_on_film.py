"""The touch of a landing on film: the ball's way down and its rebound, found around the coach's click.

The click says roughly when and where. Where no set of spots falls and rebounds as a ball does nothing is found, and
the click stands.
"""

from __future__ import annotations

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.bounce import expected_bounce
from serve_marker.flight.shutter import RESTITUTION, Arrival
from serve_marker.flight.touch import seen_from
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.ball_search import Balls, BallSearch
from serve_marker.marking.landing import arrival_at
from serve_marker.marking.landing_from_marks import arrival_drag_per_m
from serve_marker.video.frames import FrameReader

FEWEST_SEEN, FEWEST_MOVED_BEFORE, FEWEST_MOVED_AFTER = 4, 2, 3
MOST_SQUARES_PER_VALUE = 1.6
MOST_STRAIN = 16.0
REBOUND_UP, REBOUND_ALONG = (0.45, 1.05), (0.25, 1.2)
"""Shares of the fall's speed that a rebound keeps upwards and along; spin takes and gives (own bounds)."""
OFF_CLICK_PX, OFF_CLICK_RADII = 4.0, 0.5


def film_marks(serve: Serve, view: View, reader: FrameReader, time_scale: float = 1.0) -> tuple[Mark, ...]:
    """Return the ball's centre on the frames around a landing, () where the film does not tell the touch.

    Parameters
    ----------
    serve : with the landing as clicked; only a floor landing has a touch.
    reader : of the serve's clip.
    time_scale : what the clip's time is multiplied by to be true.

    Raises
    ------
    UserError
        Where the film cannot be read there.
    """
    found = landing_balls(serve, view, reader, time_scale)
    return found.marks(reader.clip) if found else ()


def landing_balls(
    serve: Serve, view: View, reader: FrameReader, time_scale: float = 1.0, within_s: float = 0.0
) -> Balls | None:
    """As `film_marks`, with the touch that the balls tell; it may be ``within_s`` of the landing's time."""
    if serve.outcome != "floor" or serve.landing is None or serve.landing.pixel is None:
        return None
    near = arrival_at(serve, view, time_scale)
    if near is None or view.camera_position_m is None or view.camera_position_m[2] <= 2 * view.court.ball.radius_m:
        return None
    return _LandingSearch(serve.landing, view, reader, time_scale, *near, within_s).found()


class _LandingSearch(BallSearch):
    def __init__(
        self,
        mark: Mark,
        view: View,
        reader: FrameReader,
        time_scale: float,
        start_m: Floats,
        arrival: Arrival,
        within_s: float,
    ) -> None:
        bounce, drag_per_m = expected_bounce(start_m, arrival), arrival_drag_per_m(arrival, view.court)
        super().__init__(mark, view, reader, time_scale, view.court.ball.radius_m, bounce, drag_per_m, within_s)
        self._on_ball, self._within_s = mark.on_ball, within_s
        self._start_m, self._arrival = start_m, arrival

    def _possible_states(self) -> Floats:
        falls = self._arrival.samples()[0]
        return np.hstack([np.tile(self._start_m, (len(falls), 1)), falls, RESTITUTION * falls * (1, 1, -1)])

    def _clicked(self, state: Floats, moment_s: float) -> tuple[Floats, float]:
        radius_px = float(self._radii_px(state, np.array([-moment_s]))[0])
        return self._ball_clicked(self._pixel - (0.0, 0.0 if self._on_ball else radius_px), radius_px)

    def _is_believable(self, found: Balls) -> bool:
        touch, before, moved = found.touch, self._is_before(found), self._moved(found)
        speed_mps = float(np.hypot(*touch.before_mps[:2]))
        up = -touch.after_mps[2] / touch.before_mps[2]
        along = float(touch.after_mps[:2] @ touch.before_mps[:2]) / speed_mps**2
        since_s = np.array([-touch.moment_s, -self._within_s, 0.0])
        seen, _ = seen_from(found.state[None], since_s, self._projection, self._drag_per_m)
        clicked, _ = self._clicked(found.state, touch.moment_s)
        radius_px = float(self._radii_px(found.state, np.array([-touch.moment_s]))[0])
        return bool(
            min(before.sum(), (~before).sum()) >= FEWEST_SEEN
            and moved[before].sum() >= FEWEST_MOVED_BEFORE
            and moved[~before].sum() >= FEWEST_MOVED_AFTER
            and touch.misfit <= MOST_SQUARES_PER_VALUE * 2 * len(before)
            and touch.strain <= MOST_STRAIN
            and REBOUND_UP[0] <= up <= REBOUND_UP[1]
            and REBOUND_ALONG[0] <= along <= REBOUND_ALONG[1]
            and np.hypot(*(seen[0, 0] - clicked))
            <= OFF_CLICK_PX + OFF_CLICK_RADII * radius_px + np.hypot(*(seen[0, 2] - seen[0, 1]))
        )

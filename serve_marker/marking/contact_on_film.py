"""The hit of a serve on film: the end of the toss and the flight it begins, found around the coach's click.

The click says roughly when, and above which floor point or where on the ball. Where no set of spots turns as a ball
does that is hit nothing is found, and the click stands.
"""

from __future__ import annotations

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.contact_height import usual_contact_height_m
from serve_marker.flight.touch import Expected
from serve_marker.logbook.records import Mark, Serve
from serve_marker.marking.ball_search import Balls, BallSearch
from serve_marker.marking.contact_from_marks import hit_drag_per_m, hit_expected
from serve_marker.marking.landing import GUESSED_FLOOR_SD_M, in_true_time
from serve_marker.video.frames import FrameReader

HIT_OUTCOMES = ("floor", "target", "received")
LEAST_AIM_SD_PX = 6.0
"""How far off the ball's centre a place above the foot point is at least (own estimate)."""
PLACE_SD_M = (0.25, 0.35)
FEWEST_BEFORE, FEWEST_AFTER = 4, 5
FEWEST_MOVED_BEFORE, FEWEST_MOVED_AFTER = 3, 4
MOST_SQUARES_PER_VALUE = 1.0
MOST_STRAIN = 8.0
SLOWEST_MPS = 9.0
MOST_SD_FRAMES = 0.5
"""A ball that flies on past the click without a turn has no moment: anywhere within the window leaves 0.87 frames."""


def contact_film_marks(serve: Serve, view: View, reader: FrameReader, time_scale: float = 1.0) -> tuple[Mark, ...]:
    """Return the ball's centre on the frames around a contact, () where the film does not tell the hit.

    ``serve`` has contact and landing as placed, for both tell how the ball was hit; the others, and what is raised,
    are as in `serve_marker.marking.landing_on_film.film_marks`.
    """
    found = contact_balls(serve, view, reader, time_scale)
    return found.marks(reader.clip) if found else ()


def contact_balls(
    serve: Serve, view: View, reader: FrameReader, time_scale: float = 1.0, within_s: float = 0.0
) -> Balls | None:
    """As `contact_film_marks`, with the hit that the balls tell; it may be ``within_s`` of the contact's time."""
    hit, down = serve.contact_point, serve.landing_point
    if serve.outcome not in HIT_OUTCOMES or serve.contact is None or serve.contact.pixel is None:
        return None
    if hit is None or down is None:
        return None
    height_m = usual_contact_height_m(serve.serve_type)
    ends_m = np.array([(hit.x_m, hit.y_m), (down.x_m, down.y_m)])
    expected = hit_expected(in_true_time(serve, time_scale), ends_m, height_m)
    if expected is None or view.camera_position_m is None:
        return None
    return _HitSearch(serve.contact, view, reader, time_scale, height_m, expected, within_s).found()


class _HitSearch(BallSearch):
    def __init__(
        self,
        mark: Mark,
        view: View,
        reader: FrameReader,
        time_scale: float,
        height_m: float,
        expected: Expected,
        within_s: float,
    ) -> None:
        drag_per_m = hit_drag_per_m(expected, view)
        super().__init__(mark, view, reader, time_scale, height_m, expected, drag_per_m, within_s)
        self._on_ball = mark.on_ball

    def _possible_states(self) -> Floats:
        mean = self._expected.mean
        spread = np.zeros((8, 8))
        spread[:2, :2] = np.diag(PLACE_SD_M)
        spread[2:, 2:] = np.linalg.cholesky(np.linalg.inv(self._expected.information[2:, 2:])).T
        return np.vstack([mean, mean + 2 * spread, mean - 2 * spread])

    def _clicked(self, state: Floats, moment_s: float) -> tuple[Floats, float]:
        if self._on_ball:
            return self._ball_clicked(self._pixel, float(self._radii_px(state, np.array([-moment_s]))[0]))
        x_m, y_m = self._expected.mean[:2]
        near_m = np.array([(x_m, y_m, 0.0, 1.0), (x_m, y_m + GUESSED_FLOOR_SD_M[1], 0.0, 1.0)])
        seen = near_m @ self._projection.T
        above, beside = seen[:, :2] / seen[:, 2:]
        return above, max(LEAST_AIM_SD_PX, float(np.hypot(*(beside - above))))

    def _is_believable(self, found: Balls) -> bool:
        touch, before, moved = found.touch, self._is_before(found), self._moved(found)
        return bool(
            before.sum() >= FEWEST_BEFORE
            and (~before).sum() >= FEWEST_AFTER
            and moved[before].sum() >= FEWEST_MOVED_BEFORE
            and moved[~before].sum() >= FEWEST_MOVED_AFTER
            and touch.misfit <= MOST_SQUARES_PER_VALUE * 2 * len(before)
            and touch.strain <= MOST_STRAIN
            and np.linalg.norm(touch.after_mps) >= SLOWEST_MPS
            and touch.moment_sd_s <= MOST_SD_FRAMES * self._frame_s
        )

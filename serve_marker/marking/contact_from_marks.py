"""When a server hit the ball, told by the ball as the film shows it around the contact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.hit import expected_hit, rough_launch_velocity
from serve_marker.flight.pace import FLIGHT_S
from serve_marker.flight.touch import Expected, seen_from, touch_point
from serve_marker.logbook.records import Serve
from serve_marker.marking.landing_from_marks import CENTRE_SD_PX, FILM_FRAMES_OFF, drag_per_m

HIT_FIT_SD, HIT_SD_FRAMES = 2.0, 0.15
"""Times the fit's own deviation of the moment that is stated, and what the way within a frame adds to it (measured on
rendered film, see docs/measurement.md)."""


@dataclass(frozen=True, eq=False)
class PlacedHit:
    """How long after the contact's frame the ball was hit and its deviation, and where it then was in the picture."""

    after_s: float
    sd_s: float
    pixel: tuple[float, float]


def hit_expected(serve: Serve, ends_m: Floats, height_m: float) -> Expected | None:
    """Return what is known of the hit of a serve in true time, None where its ends are not those of one flight.

    ``ends_m`` (2, 2) are the floor points where it was hit and where it came down, ``height_m`` that of the hit.
    """
    if serve.contact is None or serve.landing is None:
        return None
    flight_s = serve.landing.time_s - serve.contact.time_s
    way_m = ends_m[1] - ends_m[0]
    if not FLIGHT_S[0] < flight_s < FLIGHT_S[1] or not np.hypot(*way_m) > 0:
        return None
    return expected_hit(ends_m[0], rough_launch_velocity(way_m, flight_s, height_m))


def hit_drag_per_m(expected: Expected, view: View) -> float:
    """Return the drag per metre of path [1/m] of a ball just hit."""
    return drag_per_m(float(np.hypot(*expected.mean[5:7])), view.court)


def hit_around(serve: Serve, view: View, ends_m: Floats, height_m: float) -> PlacedHit | None:
    """Return the hit told by what the film shows around a contact in true time; ends and height as `hit_expected`."""
    expected = hit_expected(serve, ends_m, height_m)
    marks = [mark for mark in serve.contact_film_marks if mark.pixel]
    if expected is None or serve.contact is None or len(marks) < 2 or view.camera_position_m is None:
        return None
    gap_before_s, gap_after_s = serve.contact.gap_before_s, serve.contact.gap_after_s
    since_s = np.array([mark.time_s - serve.contact.time_s for mark in marks])
    straight = view.lens.straighten(np.array([mark.pixel for mark in marks], dtype=float))
    projection, pull_per_m = view.projection_above(height_m), hit_drag_per_m(expected, view)
    window_s = (-FILM_FRAMES_OFF * gap_before_s, FILM_FRAMES_OFF * gap_after_s)
    touch = touch_point(
        since_s, straight, np.full(len(marks), CENTRE_SD_PX), projection, window_s, expected, pull_per_m
    )
    if touch is None:
        return None
    state = np.concatenate([touch.point_m, touch.before_mps, touch.after_mps])
    seen, _ = seen_from(state[None], np.zeros(1), projection, pull_per_m)
    x_px, y_px = view.lens.bend(seen[0])[0].tolist()
    sd_s = float(np.hypot(HIT_FIT_SD * touch.moment_sd_s, HIT_SD_FRAMES * max(gap_before_s, gap_after_s)))
    return PlacedHit(touch.moment_s, sd_s, (x_px, y_px))

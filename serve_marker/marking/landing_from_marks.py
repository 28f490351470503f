"""The touch of a landing from marks of the ball on the frames around it: the coach's own, or those of the film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Court, Floats
from serve_marker.flight.bounce import expected_bounce
from serve_marker.flight.forces import likely_drag
from serve_marker.flight.shutter import Arrival
from serve_marker.flight.touch import touch_point
from serve_marker.flight.trajectory import PER_METRE, against_indoor
from serve_marker.logbook.records import Mark, Serve

NEAR_TOUCH_S = 0.2
SAME_FRAME_S = 1e-4
TRACK_SHARE = 0.03
"""What drag and the camera's place do to a short flight, over its length in the picture (own estimate)."""
NEAREST_FRAME_OFF, FILM_FRAMES_OFF = 0.5, 2.0
"""How many frames from the one clicked the touch is looked for: with the coach's marks on one side of it only, and with
the film's. With marks on both sides it is looked for as far as the middle of the frame beside and the next."""
CENTRE_SD_PX, FILM_FIT_SD, SHADE_SD_PX = 0.7, 1.35, 0.6
"""The film's balls: error of a centre, times the fit's own deviation that is stated, and the error that all centres
of a landing share, since shade draws them down (measured on rendered film, see docs/measurement.md)."""
POOR_FIT_SQUARES_PER_VALUE = 6.0


@dataclass(frozen=True, eq=False)
class PlacedTouch:
    """The touch (2,) [m], its covariance (2, 2) [m2], how long after the landing's frame it was and its deviation."""

    point_m: Floats
    cov_m2: Floats
    after_s: float
    sd_s: float


def arrival_drag_per_m(arrival: Arrival, court: Court) -> float:
    """Return the drag per metre of path [1/m] of the first ball of an arrival."""
    return drag_per_m(float(np.hypot(*arrival.velocity_mps[0, :2])), court)


def drag_per_m(pace_mps: float, court: Court) -> float:
    """Return the drag per metre of path [1/m] of a ball at that pace."""
    return PER_METRE * float(likely_drag(pace_mps)[0]) * float(against_indoor(court.ball))


def touch_around(
    serve: Serve, mark: Mark, view: View, near_m: Floats, gaps_s: Floats, arrival: Arrival
) -> PlacedTouch | None:
    """The touch told by the ball on frames around it; None where they disagree."""
    on_film = bool(serve.film_marks)
    frames = list(serve.film_marks) if on_film else _clicked_around(serve, mark)
    if len(frames) < 2:
        return None
    if on_film:
        view = view.without_hand()
    if on_film or mark.on_ball:
        view = view.raised(view.court.ball.radius_m)
    pixels = np.array([m.pixel for m in frames], dtype=float)
    straight = view.lens.straighten(pixels)
    bend = np.sqrt(np.abs(np.linalg.det(view.lens.bend_jacobian(straight))))
    away_px = np.hypot(*(pixels - np.array(mark.pixel)).T)
    sd_px = np.full(len(frames), CENTRE_SD_PX) if on_film else np.hypot(view.click_sd_px, TRACK_SHARE * away_px)
    since_s = np.array([m.time_s - mark.time_s for m in frames])
    both_sides = since_s.min() < 0 < since_s.max()
    if on_film or not both_sides:
        frames_off = FILM_FRAMES_OFF if on_film else NEAREST_FRAME_OFF
        window_s = (-gaps_s[0] * frames_off, gaps_s[1] * frames_off)
    else:
        window_s = _one_frame_off_s(mark, frames, gaps_s)
    touch = touch_point(
        since_s,
        straight,
        sd_px / bend,
        view.projection,
        window_s,
        expected_bounce(near_m, arrival),
        arrival_drag_per_m(arrival, view.court),
    )
    if touch is None or touch.misfit > POOR_FIT_SQUARES_PER_VALUE * 2 * len(frames):
        return None
    stated, shade_px = (FILM_FIT_SD, SHADE_SD_PX) if on_film else (1.0, 0.0)
    pixel, pixel_cov = view.to_pixels(touch.point_m, touch.cov_m2 * stated**2)
    (point_m,), (cov_m2,) = view.locate_with(pixel, pixel_cov + np.eye(2) * shade_px**2)
    return PlacedTouch(point_m, cov_m2, touch.moment_s, touch.moment_sd_s * stated)


def _one_frame_off_s(mark: Mark, frames: Sequence[Mark], gaps_s: Floats) -> tuple[float, float]:
    """The earliest and latest touch [s after the landing's frame] of which that frame or one beside it is the nearest.

    How long the gap beyond the frame beside is, a mark on that frame tells; it is taken as equal where there is none.
    """
    before_s, after_s = gaps_s.tolist()
    earlier = [m.gap_before_s for m in frames if abs(m.time_s - mark.time_s + before_s) < SAME_FRAME_S]
    later = [m.gap_after_s for m in frames if abs(m.time_s - mark.time_s - after_s) < SAME_FRAME_S]
    beyond_before_s = next((gap_s for gap_s in earlier if gap_s > 0), before_s)
    beyond_after_s = next((gap_s for gap_s in later if gap_s > 0), after_s)
    return -before_s - beyond_before_s / 2, after_s + beyond_after_s / 2


def _clicked_around(serve: Serve, mark: Mark) -> list[Mark]:
    """The landing and the coach's marks of the ball on frames near it, in order."""
    near = [
        m
        for m in serve.ball_marks
        if m.pixel
        and m.on_ball == mark.on_ball
        and m.time_s != mark.time_s
        and abs(m.time_s - mark.time_s) <= NEAR_TOUCH_S
    ]
    return sorted([mark, *near], key=lambda m: m.time_s)

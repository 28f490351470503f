"""What a careful coach clicks of serves nobody filmed: frames and pixels, as a camera in the view would show them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.demo_season.attempts import DrawnServes
from serve_marker.demo_season.endings import Endings
from serve_marker.demo_season.flights import PLAYED_AT_M, DrawnFlights
from serve_marker.demo_season.scenario import Evening
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.shutter import RESTITUTION
from serve_marker.flight.trajectory import BALL_RADIUS_M
from serve_marker.logbook.records import Mark, Serve, new_id
from serve_marker.marking.landing import GUESSED_FLOOR_SD_M
from serve_marker.marking.landing_from_marks import CENTRE_SD_PX, FILM_FIT_SD, SHADE_SD_PX

FRAME_S = 1 / 60
FIRST_S, EVERY_S, UNEVEN_S = 4.0, 8.0, 1.5
BALL_FRAMES = np.arange(-4, 5)
"""Around the touch, on which the ball is seen."""
PLAYED_SD_M = 0.15
"""How far from the height that the coach leaves passers play the ball."""


def marked(
    evening: Evening,
    attempts: DrawnServes,
    flights: DrawnFlights,
    endings: Endings,
    view: View,
    common: Serve,
    player_ids: Mapping[str, str],
    formation_ids: Mapping[str, str],
    rng: np.random.Generator,
) -> list[Serve]:
    """Return the serves with their marks, not placed yet.

    Parameters
    ----------
    common : what all of them share: clip and view.
    player_ids, formation_ids : by name.
    """
    count = len(attempts)
    contact_s = FIRST_S + EVERY_S * np.arange(count) + rng.uniform(0, UNEVEN_S, count)
    received = endings.outcomes == "received"
    end_s = contact_s + np.where(received, flights.played_s, flights.flight_s)
    hit_frame_s, end_frame_s = (FRAME_S * np.round(times_s / FRAME_S) for times_s in (contact_s, end_s))
    late_s = end_frame_s - end_s
    feet_px = _clicked(view, flights.contact_m + rng.normal(0, GUESSED_FLOOR_SD_M, (count, 2)), rng)
    played_m = _in_the_air_m(flights, late_s, PLAYED_AT_M + rng.normal(0, PLAYED_SD_M, count))
    end_px = _clicked(view, np.where(received[:, None], played_m, _about_the_touch_m(flights, late_s)), rng)
    end_px[endings.unplaced] = np.nan
    ball_s = end_frame_s[:, None] + FRAME_S * BALL_FRAMES
    balls_px = np.stack([_balls_px(view, flights, late_s + FRAME_S * frame, rng) for frame in BALL_FRAMES], axis=1)
    balls_px += rng.normal(0, SHADE_SD_PX, (count, 1, 2))
    serves = [
        replace(
            common,
            id=new_id(),
            served_to="a",
            player_id=player_ids[attempts.spreads[k].server],
            serve_type=attempts.spreads[k].serve_type,
            aim=attempts.blocks[k].aim,
            target_kind=evening.target_kind_of(attempts.blocks[k]),
            full_pace=attempts.blocks[k].full_pace,
            formation_id=formation_ids.get(attempts.blocks[k].passers),
            outcome=_outcome(endings, k, _shown(view, end_px[k])),
            contact=_mark(view, hit_frame_s[k], feet_px[k]),
            landing=None if endings.outcomes[k] == "net" else _mark(view, end_frame_s[k], end_px[k], received[k]),
            film_marks=_balls(view, ball_s[k], balls_px[k]) if endings.outcomes[k] == "floor" else (),
        )
        for k in range(count)
    ]
    return [
        _received(serve, int(endings.ratings[k]), player_ids[endings.passers[k]]) if received[k] else serve
        for k, serve in enumerate(serves)
    ]


def _outcome(endings: Endings, k: int, shown: bool) -> str:
    """How serve k ended as far as the picture shows it."""
    return "out" if endings.outcomes[k] == "floor" and endings.out[k] and not shown else str(endings.outcomes[k])


def _received(serve: Serve, rating: int, passer_id: str) -> Serve:
    reception = "played" if rating else "shank"
    return replace(serve, pass_rating=rating, passer_id=passer_id, reception=reception, landing_height_m=PLAYED_AT_M)


def _about_the_touch_m(flights: DrawnFlights, late_s: Floats) -> Floats:
    """Undersides of balls (N, 3) [m] so long (N,) after their touch [s], or before it: fallen so far, or rebounding."""
    kept = np.where(late_s > 0, RESTITUTION, 1.0)
    level_m = flights.landing_m + (kept * late_s)[:, None] * flights.arrival_mps[:, :2]
    rise_m = kept * np.abs(late_s * flights.arrival_mps[:, 2]) - GRAVITY_MPS2 / 2 * late_s**2
    return np.column_stack([level_m, rise_m])


def _in_the_air_m(flights: DrawnFlights, late_s: Floats, height_m: Floats) -> Floats:
    """Balls (N, 3) [m] so long (N,) after they were where a passer plays them [s]."""
    return np.column_stack([flights.played_m, height_m]) + late_s[:, None] * flights.arrival_mps


def _balls_px(view: View, flights: DrawnFlights, late_s: Floats, rng: np.random.Generator) -> Floats:
    """Pixels (N, 2) of the middles of balls so long (N,) after their touch [s], as well as a film shows them."""
    middle_m = _about_the_touch_m(flights, late_s) + np.array([0.0, 0.0, BALL_RADIUS_M])
    return np.asarray(view.project(middle_m) + rng.normal(0, CENTRE_SD_PX * FILM_FIT_SD, (len(late_s), 2)))


def _balls(view: View, times_s: Floats, pixels: Floats) -> tuple[Mark, ...]:
    shown = (_mark(view, time_s, pixel, on_ball=True) for time_s, pixel in zip(times_s, pixels, strict=True))
    return tuple(mark for mark in shown if mark.pixel)


def _clicked(view: View, points_m: Floats, rng: np.random.Generator) -> Floats:
    """Pixels (N, 2) of points, to a tenth, as far off as a coach's hand is."""
    return np.asarray(np.round(view.project(points_m) + rng.normal(0, view.click_sd_px, (len(points_m), 2)), 1))


def _shown(view: View, pixel: Floats) -> bool:
    return bool((pixel >= 0).all() and (pixel <= np.array(view.image_size) - 1).all())


def _mark(view: View, time_s: float, pixel: Floats, on_ball: bool = False) -> Mark:
    shown = (float(pixel[0]), float(pixel[1])) if _shown(view, pixel) else None
    return Mark(float(time_s), shown, FRAME_S, FRAME_S, on_ball=bool(on_ball and shown))

"""The launch that a serve must have had: solved back from its distance, flight time and heights.

Two numbers are sought, the speeds along and up at contact, and two are known: after the flight time the ball is
at the landing's distance and height. A secant method over the drag model finds them for all serves at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.trajectory import BALL_RADIUS_M, FLIGHT_STEPS, PER_METRE, Motion, advance, level_flight

PASSES = 12
NUDGE_MPS = 1e-3
SETTLED_M = 1e-6
MISFIT_M = 1e-4
"""A launch whose flight ends further than this from the landing is none."""
FASTEST_MPS = 60.0
"""Far beyond any serve: the fastest jump serves published average some 30 m/s (Hayrinen et al. 2011)."""


def solve_launch(
    distance_m: ArrayLike,
    flight_s: ArrayLike,
    contact_height_m: ArrayLike,
    drag_coefficient: ArrayLike,
    lift_coefficient: ArrayLike = 0.0,
    landing_height_m: ArrayLike = BALL_RADIUS_M,
    steps: int = FLIGHT_STEPS,
) -> Motion:
    """Return the motion at contact, arrays of the arguments' common shape; NaN where no launch fits.

    Parameters
    ----------
    distance_m, flight_s : floor distance and time from contact to landing.
    contact_height_m, landing_height_m : of the ball's centre; a ball on the floor has its centre a radius above it.
    drag_coefficient, lift_coefficient : Cd and CL, constant over the flight; CL > 0 is topspin.
    steps : of the integration.

    Examples
    --------
    >>> launch = solve_launch(16.987388, 0.943167, 2.6, 0.15, landing_height_m=0.0)
    >>> round(float(launch.speed_mps), 4), round(float(launch.angle_deg), 4)
    (20.0, 5.0)
    """
    arguments = (distance_m, flight_s, contact_height_m, drag_coefficient, lift_coefficient, landing_height_m)
    distance, flight, height, drag, lift, landing_height = np.broadcast_arrays(
        *(np.asarray(argument, dtype=float) for argument in arguments)
    )
    drag, lift = drag * PER_METRE, lift * PER_METRE
    with np.errstate(all="ignore"):
        possible = (distance > 0) & (flight > 0) & np.isfinite(height + drag + lift + landing_height)
        flight = np.where(possible, flight, np.nan)
        along, up = _first_guess(distance, flight, height - landing_height, drag)
        start_m = np.zeros_like(height)

        def miss(vx: Floats, vz: Floats) -> Floats:
            end = advance(Motion(start_m, height, vx, vz), flight, drag, lift, steps)
            return np.stack([end.along_m - distance, end.height_m - landing_height])

        missed = miss(along, up)
        by_along = (miss(along + NUDGE_MPS, up) - missed) / NUDGE_MPS
        by_up = (miss(along, up + NUDGE_MPS) - missed) / NUDGE_MPS
        for _ in range(PASSES):
            open_yet = np.abs(missed).max(axis=0) > SETTLED_M
            if not open_yet.any():
                break
            determinant = by_along[0] * by_up[1] - by_up[0] * by_along[1]
            step_along = np.where(open_yet, (missed[1] * by_up[0] - missed[0] * by_up[1]) / determinant, 0.0)
            step_up = np.where(open_yet, (missed[0] * by_along[1] - missed[1] * by_along[0]) / determinant, 0.0)
            along, up = along + step_along, up + step_up
            last, missed = missed, miss(along, up)
            by_along, by_up = _improved(by_along, by_up, missed - last, step_along, step_up)
        found = (np.abs(missed).max(axis=0) < MISFIT_M) & (along > 0) & (np.hypot(along, up) < FASTEST_MPS)
    along, up = np.where(found, along, np.nan), np.where(found, up, np.nan)
    return Motion(start_m, height, along, up)


def _first_guess(distance: Floats, flight: Floats, drop: Floats, drag: Floats) -> tuple[Floats, Floats]:
    """Level flight for the speed along, a flight without air for the speed up."""
    return level_flight(distance / flight, drag, distance)[0] * (distance / flight) / flight, (
        GRAVITY_MPS2 * flight / 2 - drop / flight
    )


def _improved(
    by_along: Floats, by_up: Floats, changed: Floats, step_along: Floats, step_up: Floats
) -> tuple[Floats, Floats]:
    """Derivatives brought up to date by what the last step changed (Broyden 1965, first method)."""
    unexplained = changed - by_along * step_along - by_up * step_up
    squared = np.maximum(step_along**2 + step_up**2, 1e-30)
    return by_along + unexplained * step_along / squared, by_up + unexplained * step_up / squared

"""A received ball's flight carried on from where a passer played it to where it would have come down."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.balls import INDOOR_BALL, Ball
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.launch_and_clearance import FLIGHT_MOMENTS, NUDGE_SHARE
from serve_marker.flight.trajectory import PER_METRE, against_indoor, come_down

NUDGE_M = 1e-3
"""How far a place is moved for the same [m]."""


def carry_on(
    contact_xy_m: ArrayLike,
    contact_cov_m2: ArrayLike,
    reception_xy_m: ArrayLike,
    reception_cov_m2: ArrayLike,
    flight_s: ArrayLike,
    flight_sd_s: ArrayLike,
    contact_height_m: ArrayLike,
    contact_height_sd_m: ArrayLike,
    reception_height_m: ArrayLike,
    reception_height_sd_m: ArrayLike,
    reception_by_height: ArrayLike,
    serve_types: Sequence[str],
    ball: Ball = INDOOR_BALL,
) -> tuple[Floats, Floats]:
    """Where received balls would have come down, (N, 2) [m], and the covariances (N, 2, 2) [m2].

    An estimate: the flight from contact to the reception (both (N, 2)) goes on with likely drag and lift; NaN where no
    launch fits. The reception is seen under a line of sight: ``reception_by_height`` (N, 2) is how far it moves for
    each metre that the ball's centre was higher, which its own covariance leaves out. A higher ball also has longer to
    fly. To first order, as `flights`.

    Examples
    --------
    >>> still, by_height = np.zeros((1, 2, 2)), np.array([[0.0, -2.0]])
    >>> seen = ([(0, 9)], still, [(1, -6)], still, [1.1], 0.01)
    >>> landing, cov = carry_on(*seen, 2.5, 0.1, [0.6], 0.2, by_height, ["float"])
    >>> landing.round(2).tolist(), np.sqrt(cov[0].diagonal()).round(2).tolist()
    ([[1.05, -6.8]], [0.02, 0.74])
    """
    count = len(serve_types)
    contact, reception = np.asarray(contact_xy_m, dtype=float), np.asarray(reception_xy_m, dtype=float)
    if contact.shape != (count, 2) or reception.shape != (count, 2):
        raise ValueError(f"need points ({count}, 2) for {count} serve types, not {contact.shape} and {reception.shape}")
    by_height = np.broadcast_to(np.asarray(reception_by_height, dtype=float), (count, 2))
    with np.errstate(all="ignore"):
        drag, drag_sd = likely_drag(np.hypot(*(reception - contact).T) / np.asarray(flight_s, dtype=float))
    lift, lift_sd = likely_lift(serve_types)
    drag, drag_sd, lift, lift_sd = (part * against_indoor(ball) for part in (drag, drag_sd, lift, lift_sd))
    scalars = (flight_s, contact_height_m, reception_height_m, drag, lift)
    spreads = (flight_sd_s, contact_height_sd_m, reception_height_sd_m, drag_sd, lift_sd)
    mean = np.concatenate(
        [contact.T, reception.T, [np.broadcast_to(np.asarray(p, dtype=float), count) for p in scalars]]
    )
    steps = np.zeros((9, *mean.shape))
    steps[:4, :4] = NUDGE_M * np.eye(4)[:, :, None]
    for row, sd in enumerate(spreads, start=4):
        steps[row, row] = NUDGE_SHARE * np.asarray(sd, dtype=float)
    steps[6, 2:4] = by_height.T * steps[6, 6]
    moved = np.concatenate([mean[None], mean + steps, mean - steps])
    landed = _come_down(moved.transpose(1, 0, 2).reshape(9, -1), ball.radius_m).reshape(19, count, 2)
    by = (landed[1:10] - landed[10:]) / 2
    places_by = by[:4].transpose(1, 2, 0) / NUDGE_M
    cov = by[4:].transpose(1, 2, 0) / NUDGE_SHARE
    told = cov @ cov.transpose(0, 2, 1)
    for first, part in ((0, contact_cov_m2), (2, reception_cov_m2)):
        of = places_by[:, :, first : first + 2]
        told = told + of @ np.asarray(part, dtype=float) @ of.transpose(0, 2, 1)
    return landed[0], told


def _come_down(flown: Floats, radius_m: float) -> Floats:
    """Landings (N, 2) of flights from contact to reception that go on; (9, N): both places, time, heights, Cd, CL."""
    contact, way = flown[:2].T, (flown[2:4] - flown[:2]).T
    distance, (flight, height, end_height, drag, lift) = np.hypot(*way.T), flown[4:]
    with np.errstate(all="ignore"):
        launch = solve_launch(distance, flight, height, drag, lift, end_height, FLIGHT_MOMENTS)
        landing = come_down(launch, drag * PER_METRE, lift * PER_METRE, radius_m)[1]
        return np.asarray(contact + way * (landing.along_m / distance)[:, None])

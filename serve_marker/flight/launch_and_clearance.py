"""How a serve left the hand, how high it flew and by how much it cleared the net, each with a 95 % interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.confidence_level import NORMAL_95
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.trajectory import BALL_RADIUS_M, PER_METRE, Motion, track

REACH_SD_M = 0.15 / 3**0.5
"""Deviation of a contact height taken from the server's reach: evenly within 0.15 m of it (own choice)."""
NET_HEIGHT_SD_M = 0.01
"""The net's top may be 2 cm higher over the sidelines (FIVB Official Volleyball Rules 2025-2028, 2.1.2)."""

SERVES_AT_ONCE = 1000
NUDGE_SHARE = 0.02
"""Share of a deviation by which an unknown is moved to see what it does."""
FLIGHT_MOMENTS = 10
"""Moments per flight here: within 0.1 mm at the net of flights followed ten times as finely."""


@dataclass(frozen=True, eq=False)
class Interval:
    """A number per serve and its 95 % interval, three arrays (N,); NaN = cannot tell."""

    value: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class Flights:
    """What N serves did in the air.

    ``speed_mps`` and ``angle_deg`` (over the level) are those at contact; ``apex_m`` is the highest place of the
    ball's centre; ``net_clearance_m`` is the ball's centre minus the net's top, in the plane of the net. The daylight
    under the ball is a radius (0.105 m) less. ``end`` is the motion where the flight ended, ``drag_per_m`` and
    ``lift_per_m`` what was taken for likely.
    """

    speed_mps: Interval
    angle_deg: Interval
    apex_m: Interval
    net_clearance_m: Interval
    end: Motion
    drag_per_m: Floats
    lift_per_m: Floats


def flights(
    contact_xy_m: ArrayLike,
    contact_cov_m2: ArrayLike,
    landing_xy_m: ArrayLike,
    landing_cov_m2: ArrayLike,
    flight_s: ArrayLike,
    flight_sd_s: ArrayLike,
    contact_height_m: ArrayLike,
    contact_height_sd_m: ArrayLike,
    net_height_m: ArrayLike,
    serve_types: Sequence[str],
    landing_height_m: ArrayLike = BALL_RADIUS_M,
    landing_height_sd_m: ArrayLike = 0.0,
    landing_by_height: ArrayLike = 0.0,
    air_share: ArrayLike = 1.0,
) -> Flights:
    """Solve N serves back from what was marked, with the spread of everything that was not.

    Parameters
    ----------
    contact_xy_m, landing_xy_m : (N, 2) in the court frame [m], the net at y = 0.
    contact_cov_m2, landing_cov_m2 : their covariances (N, 2, 2) [m2].
    flight_s, flight_sd_s : (N,), time from contact to landing and its deviation.
    contact_height_m, contact_height_sd_m : (N,) or one number, of the ball's centre at contact.
    net_height_m : (N,) or one number.
    landing_height_m : of the ball's centre where its flight ended: a radius for a floor landing, more for a reception.
    landing_height_sd_m : (N,) or one number, its deviation.
    landing_by_height : (N, 2) or one number, how far the end moves for each metre that it was higher; its covariance
        leaves that out.
    air_share : (N,) or one number, what `serve_marker.flight.trajectory.against_indoor` says of the ball.

    Notes
    -----
    The path is taken as straight from above. Intervals are value +- 1.96 deviations, to first order in the seven
    unknowns (way before and after the net, time, height, Cd, CL, height at the end), which are taken as independent.
    ``net_clearance_m`` is NaN where contact and landing lie on one side of the net.

    Examples
    --------
    >>> still = np.zeros((1, 2, 2))
    >>> told = flights([(0, -9)], still, [(0, 7)], still, [1.2], [0.01], 2.5, 0.09, 2.24, ["jump float"])
    >>> told.net_clearance_m.value.round(2).tolist(), told.net_clearance_m.low.round(2).tolist()
    ([0.68], [0.57])
    """
    contact, landing = np.asarray(contact_xy_m, dtype=float), np.asarray(landing_xy_m, dtype=float)
    contact_cov, landing_cov = np.asarray(contact_cov_m2, dtype=float), np.asarray(landing_cov_m2, dtype=float)
    count = len(serve_types)
    if contact.shape != (count, 2) or landing.shape != (count, 2):
        raise ValueError(f"need points ({count}, 2) for {count} serve types, not {contact.shape} and {landing.shape}")
    if contact_cov.shape != (count, 2, 2) or landing_cov.shape != (count, 2, 2):
        raise ValueError(f"covariances must have shape ({count}, 2, 2), not {contact_cov.shape}, {landing_cov.shape}")
    with np.errstate(all="ignore"):
        before, before_sd, after, after_sd = _ways(contact, contact_cov, landing, landing_cov)
        pace = (before + after) / np.asarray(flight_s, dtype=float)
        by_height = np.broadcast_to(np.asarray(landing_by_height, dtype=float), (count, 2))
        along = (landing - contact) / (before + after)[:, None]
    drags, lifts = (np.multiply(part, air_share) for part in (likely_drag(pace), likely_lift(serve_types)))
    means = (before, after, flight_s, contact_height_m, drags[0], lifts[0])
    spreads = (
        *(before_sd, after_sd, flight_sd_s, contact_height_sd_m),
        *(drags[1], lifts[1]),
    )
    mean = np.stack([np.broadcast_to(np.asarray(part, dtype=float), (count,)) for part in means])
    spread = np.stack([np.broadcast_to(np.asarray(part, dtype=float), (count,)) for part in spreads])
    landing_height = np.broadcast_to(np.asarray(landing_height_m, dtype=float), (count,))
    end_sd = np.asarray(landing_height_sd_m, dtype=float) * np.stack([(along * by_height).sum(axis=1), np.ones(count)])
    values, deviations = np.full((4, count), np.nan), np.full((4, count), np.nan)
    ends = np.full((4, count), np.nan)
    for first in range(0, count, SERVES_AT_ONCE):
        some = slice(first, first + SERVES_AT_ONCE)
        found = _spread_through(mean[:, some], spread[:, some], landing_height[some], end_sd[:, some])
        values[:, some], deviations[:, some], ends[:, some] = found
    crosses = (contact[:, 1] * landing[:, 1] < 0) & np.isfinite(values[3])
    values[3] = np.where(crosses, values[3] - np.asarray(net_height_m, dtype=float), np.nan)
    deviations[3] = np.hypot(deviations[3], NET_HEIGHT_SD_M)
    reach = NORMAL_95 * deviations
    speed, angle, apex, clearance = (Interval(v, v - r, v + r) for v, r in zip(values, reach, strict=True))
    return Flights(speed, angle, apex, clearance, Motion(*ends), mean[4] * PER_METRE, mean[5] * PER_METRE)


def _ways(
    contact: Floats, contact_cov: Floats, landing: Floats, landing_cov: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Lengths (N,) [m] of the way before and after the net, each with its deviation along the path.

    The net cuts the path at the share ``y0 / (y0 - y1)``; a path that does not cross it is cut at its middle.
    """
    way = landing - contact
    distance = np.hypot(way[:, 0], way[:, 1])
    along = way / distance[:, None]
    crosses = contact[:, 1] * landing[:, 1] < 0
    share = np.where(crosses, contact[:, 1] / (contact[:, 1] - landing[:, 1]), 0.5)
    deviations = [
        np.sqrt(np.maximum(np.einsum("ni,nij,nj->n", along, cov, along), 0.0)) for cov in (contact_cov, landing_cov)
    ]
    return share * distance, deviations[0], (1 - share) * distance, deviations[1]


def _spread_through(
    mean: Floats, spread: Floats, landing_height: Floats, end_sd: Floats
) -> tuple[Floats, Floats, Floats]:
    """Speed, angle, apex and height at the net (4, N), their deviations, and the motion at the end, of unknowns (6, N).

    ``end_sd`` (2, N) is how much further and higher the flight ends with its height one deviation off.

    A launch ``u`` belongs to the unknowns ``p`` by ``G(u, p) = 0``: after its flight time the ball is where it landed.
    Hence ``du = -(dG/du)^-1 dG/dp dp``. Row k of an array ``..._by`` is what unknown k does that is one deviation off.
    """
    before, after, flight, height, drag, lift = mean
    launch = solve_launch(before + after, flight, height, drag, lift, landing_height, FLIGHT_MOMENTS)
    way = track(launch, flight, drag * PER_METRE, lift * PER_METRE, FLIGHT_MOMENTS)
    nudged = _nudged(np.stack([height, drag, lift, launch.along_mps, launch.rise_mps]), spread[3:], flight, before)
    end_by, apex_by, net_by = np.zeros((2, 7, mean.shape[1])), *np.zeros((2, 7, mean.shape[1]))
    end_by[0, :2], end_by[:, 6] = -spread[:2], -end_sd
    end_by[:, 2] = np.stack([way.motion.along_mps[-1], way.motion.rise_mps[-1]]) * spread[2]
    end_by[:, 3:6], apex_by[3:6], net_by[3:6] = nudged[:2, :3], nudged[2, :3], nudged[3, :3]
    aside_m = NUDGE_SHARE * spread[0]
    net_by[0] = (way.height_at(before + aside_m) - way.height_at(before - aside_m)) / (2 * NUDGE_SHARE)

    (end_along, end_rise), apex_u, net_u = nudged[:2, 3:].transpose(1, 0, 2), nudged[2, 3:], nudged[3, 3:]
    determinant = end_along[0] * end_rise[1] - end_rise[0] * end_along[1]
    along_by = (end_rise[0] * end_by[1] - end_rise[1] * end_by[0]) / determinant
    rise_by = (end_along[1] * end_by[0] - end_along[0] * end_by[1]) / determinant
    speed = launch.speed_mps
    values_by = (
        (launch.along_mps * along_by + launch.rise_mps * rise_by) / speed,
        np.degrees(launch.along_mps * rise_by - launch.rise_mps * along_by) / speed**2,
        apex_by + apex_u[0] * along_by + apex_u[1] * rise_by,
        net_by + net_u[0] * along_by + net_u[1] * rise_by,
    )
    values = np.stack([speed, launch.angle_deg, way.apex_m(), way.height_at(before)])
    moved = (way.motion.along_m, way.motion.height_m, way.motion.along_mps, way.motion.rise_mps)
    return values, np.sqrt((np.stack(values_by) ** 2).sum(axis=1)), np.stack([part[-1] for part in moved])


def _nudged(centre: Floats, spread: Floats, flight: Floats, before: Floats) -> Floats:
    """What nudges of a flight do to where it ends (along, up), its apex and its height at the net: (4, 5, N).

    ``centre`` holds height, Cd, CL and launch (5, N); the first three are nudged in deviations, the launch in m/s.
    """
    sizes = np.concatenate([spread, np.ones((2, centre.shape[1]))])
    steps = NUDGE_SHARE * np.eye(5)[:, :, None] * sizes
    height, drag, lift, along, rise = (centre[:, None] + np.stack([steps, -steps])).transpose(1, 0, 2, 3)
    start = Motion(np.zeros_like(height), height, along, rise)
    way = track(start, flight, drag * PER_METRE, lift * PER_METRE, FLIGHT_MOMENTS)
    told = np.stack([way.motion.along_m[-1], way.motion.height_m[-1], way.apex_m(), way.height_at(before)])
    return np.asarray((told[:, 0] - told[:, 1]) / (2 * NUDGE_SHARE))

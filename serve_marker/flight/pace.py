"""The time of flight between two frames, and the average horizontal pace; each with what frames leave open of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.confidence_level import NORMAL_95
from serve_marker.court.dimensions import Floats

FLIGHT_S = (0.3, 3.0)
"""Flights outside this span are not one serve."""
READOUT_S = 0.02
"""Time a phone's sensor takes to read a picture from edge to edge, 7-33 ms (measured by several authors; see
docs/measurement.md), never more than a frame."""
ROWS_APART_SD = 0.2
"""How far apart contact and landing lie along the readout, as a share of the picture (own estimate)."""


def flight_time(
    between_frames_s: ArrayLike, contact_gaps_s: ArrayLike, landing_gaps_s: ArrayLike, frames_off: ArrayLike = 0.0
) -> tuple[Floats, Floats]:
    """Return the expected flight time [s] and its deviation [s], arrays (N,).

    Parameters
    ----------
    between_frames_s : (N,), landing frame minus contact frame.
    contact_gaps_s, landing_gaps_s : (N, 2), time to the frame before and after. The event lies evenly within half
        of each, and the picture is read line by line (`serve_marker.flight.pace`).
    frames_off : how many frames either mark may lie beside the nearest, each as likely; one number, or (2, N) of
        contact and landing.

    Examples
    --------
    >>> frame = [(1/30, 1/30)]
    >>> [part.round(4).tolist() for part in flight_time([1.2], frame, frame)]
    [[1.2], [0.0142]]
    """
    between = np.asarray(between_frames_s, dtype=float)
    gaps = np.stack([np.asarray(contact_gaps_s, dtype=float), np.asarray(landing_gaps_s, dtype=float)])
    if gaps.shape != (2, len(between), 2):
        raise ValueError(f"gaps must have shape ({len(between)}, 2), not {gaps.shape[1:]}")
    late_s = (gaps[..., 1] - gaps[..., 0]) / 4
    frame_s = gaps.mean(axis=2)
    readout_s = np.minimum(frame_s.mean(axis=0), READOUT_S) * ROWS_APART_SD
    return between + late_s[1] - late_s[0], np.sqrt(
        ((frame_s * (1 + 2 * np.asarray(frames_off, dtype=float))) ** 2 / 12).sum(axis=0) + readout_s**2
    )


def pace(
    contact_xy_m: ArrayLike,
    contact_cov_m2: ArrayLike,
    landing_xy_m: ArrayLike,
    landing_cov_m2: ArrayLike,
    contact_gaps_s: ArrayLike,
    landing_gaps_s: ArrayLike,
    time_of_flight_s: ArrayLike,
    frames_off: ArrayLike = 0.0,
) -> tuple[Floats, Floats, Floats]:
    """Return the average horizontal speed and its 95 % interval, three arrays (N,) [m/s].

    Parameters
    ----------
    contact_xy_m, landing_xy_m : floor points (N, 2) [m].
    contact_cov_m2, landing_cov_m2 : their covariances (N, 2, 2) [m2].
    contact_gaps_s, landing_gaps_s : (N, 2), time to the frame before and after the marked one [s]. The event lies
        anywhere within half of each: on average at ``(after - before) / 4`` from the frame, with the variance
        ``((before + after) / 2)^2 / 12``. Where frames were dropped the two gaps differ.
    time_of_flight_s : (N,), landing frame minus contact frame [s].
    frames_off : as `flight_time`; it widens what an event may be off to ``(1 + 2 frames_off)`` frames.

    Notes
    -----
    ``(s_v / v)^2 = (s_d / d)^2 + (s_T / T)^2`` with ``s_d`` along the line from contact to landing (Criminisi, Reid,
    Zisserman, BMVC 1997, section 3, leaving out the view's error that both points share). The interval is
    ``v exp(+-1.96 s_v / v)``. NaN where anything is unknown or the landing does not follow the contact. This is the
    average over the flight, well below a radar's speed at contact.

    Examples
    --------
    >>> still = np.zeros((1, 2, 2))
    >>> v, low, high = pace([(0, -9)], still, [(0, 7)], still, [(1/30, 1/30)], [(1/30, 1/30)], [1.0])
    >>> float(v[0]), low.round(2).tolist(), high.round(2).tolist()
    (16.0, [15.56], [16.45])
    """
    contact, landing = np.asarray(contact_xy_m, dtype=float), np.asarray(landing_xy_m, dtype=float)
    cov = np.asarray(contact_cov_m2, dtype=float) + np.asarray(landing_cov_m2, dtype=float)
    flight_s, flight_sd_s = flight_time(time_of_flight_s, contact_gaps_s, landing_gaps_s, frames_off)
    count = len(flight_s)
    if contact.shape != (count, 2) or landing.shape != (count, 2) or cov.shape != (count, 2, 2):
        raise ValueError(f"need points (N, 2) and covariances (N, 2, 2), not {contact.shape}, {cov.shape}")
    with np.errstate(all="ignore"):
        way = landing - contact
        distance_m = np.hypot(way[:, 0], way[:, 1])
        along = way / distance_m[:, None]
        distance_var = np.einsum("ni,nij,nj->n", along, cov, along)
        relative = NORMAL_95 * np.sqrt(distance_var / distance_m**2 + (flight_sd_s / flight_s) ** 2)
        speed = np.where((flight_s > 0) & (distance_m > 0) & np.isfinite(relative), distance_m / flight_s, np.nan)
        return speed, speed * np.exp(-relative), speed * np.exp(relative)

"""The flight time between two frames, and what the frames leave open of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats
from serve_marker.flight.pace import READOUT_S, ROWS_APART_SD


def flight_time(
    between_frames_s: ArrayLike, contact_gaps_s: ArrayLike, landing_gaps_s: ArrayLike, frames_off: float = 0.0
) -> tuple[Floats, Floats]:
    """Return the expected flight time [s] and its deviation [s], arrays (N,).

    Parameters
    ----------
    between_frames_s : (N,), landing frame minus contact frame.
    contact_gaps_s, landing_gaps_s : (N, 2), time to the frame before and after. The event lies evenly within half
        of each, and the picture is read line by line (`serve_marker.flight.pace`).
    frames_off : how many frames either mark may lie beside the nearest, each as likely.

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
        ((frame_s * (1 + 2 * frames_off)) ** 2 / 12).sum(axis=0) + readout_s**2
    )

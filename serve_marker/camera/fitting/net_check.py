"""Marks of the net's and the antennas' tops: do they agree with the net height chosen, and if not, with which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.fitting.bundle_adjustment import Observations
from serve_marker.camera.fitting.observations import of_marks
from serve_marker.camera.view.model import CameraModel
from serve_marker.court.dimensions import COURTS, Court, Floats, net_landmarks

NET_SD_M = 0.015
"""The net's ends may stand up to 2 cm above the middle (FIVB Official Volleyball Rules 2025-2028, 2.1)."""
AT_ODDS_P = 1e-4
DOUBTFUL_SD = 3.5
DOUBTFUL_M = 0.03
FITS_SD = 2.0
SIZE_FITS_M = 0.06
"""Nets between courts of two sizes differ by 0.2 m and more: a guess of the size need not be sharper than this."""


@dataclass(frozen=True)
class NetSeen:
    """The net's height as marked [m], its deviation, and whether it is at odds with the one chosen.

    Both are NaN where the marks are at odds with one another or with the floor's at any height.
    """

    height_m: float
    sd_m: float
    at_odds: bool


def net_marks(
    marks: Mapping[str, tuple[float, float]], court: Court, net_height_m: float, camera: CameraModel, sd_px: float
) -> Observations | None:
    """The marks of net and antenna tops as observations; None without any."""
    places = net_landmarks(court, net_height_m)
    names = [name for name in places if name in marks]
    if not names:
        return None
    points = np.array([places[name] for name in names])
    depth_m = ((points - camera.place_m) @ camera.rotation.T)[:, 2]
    if (depth_m <= 0).any():
        return None
    pixels = np.array([marks[name] for name in names], dtype=float)
    return of_marks(points, pixels, np.hypot(sd_px, NET_SD_M * camera.focal_px / depth_m))


def net_seen(seen: Observations, net_height_m: float, camera: CameraModel, cov: Floats) -> NetSeen:
    """The height at which the camera (with its covariance (11, 11)) sees the marked tops best."""
    from scipy.special import chdtrc

    raised_m = 0.0
    for _ in range(5):
        shown, jacobian, by_points = camera.derivatives(seen.points_m + np.array([0.0, 0.0, raised_m]))
        residual = (seen.pixels_px - shown).ravel()
        upward = by_points[:, :, 2].ravel()
        rows = jacobian.reshape(len(residual), -1)
        inverse = np.linalg.inv(rows @ cov @ rows.T + np.diag(np.repeat(seen.sd_px**2, 2)))
        weight = float(upward @ inverse @ upward)
        raised_m += float(upward @ inverse @ residual) / weight
    left = residual - upward * (upward @ inverse @ residual) / weight
    sd_m = weight**-0.5
    if len(left) > 1 and chdtrc(len(left) - 1, float(left @ inverse @ left)) < AT_ODDS_P:
        return NetSeen(float("nan"), float("nan"), True)
    return NetSeen(net_height_m + raised_m, sd_m, abs(raised_m) > max(DOUBTFUL_SD * sd_m, DOUBTFUL_M))


def net_sentence(seen: NetSeen, court: Court, net_height_m: float) -> str:
    """What to tell the coach of a net at odds with the height chosen."""
    if not np.isfinite(seen.height_m):
        return "The marks of the net's top fit no net height. Click them again."
    told = f"The marked net is {seen.height_m:.2f} m high, but {net_height_m:.2f} m was chosen."
    room_m = max(FITS_SD * seen.sd_m, 0.01)
    heights = sorted(court.net_heights, key=lambda height: abs(height.height_m - seen.height_m))
    reasons = []
    if heights and abs(heights[0].height_m - seen.height_m) <= room_m:
        reasons.append(f"The net may be {heights[0].height_m:.2f} m high ({heights[0].name}).")
    other = _court_of_other_size(seen, court, net_height_m)
    if other:
        reasons.append(f"{'Or the' if reasons else 'The'} court may be {other.title}.")
    if not reasons:
        return f"{told} Check the net's marks, the net height and the court's size."
    return f"{told} {' '.join(reasons)} Choose that, or check the net's marks."


def _court_of_other_size(seen: NetSeen, court: Court, net_height_m: float) -> Court | None:
    """A court of the same shape: taken for ours, it makes every length look wrong by the ratio of their widths."""
    for other in COURTS.values():
        grown = other.width_m / court.width_m
        same_shape = abs(other.length_m / court.length_m - grown) < 1e-3 and abs(grown - 1) > 1e-3
        if same_shape and abs(seen.height_m * grown - net_height_m) <= max(FITS_SD * seen.sd_m * grown, SIZE_FITS_M):
            return other
    return None

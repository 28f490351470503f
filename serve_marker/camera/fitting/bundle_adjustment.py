"""The likeliest camera for marks and traced lines, how sure it is, and how it foretells a mark left out.

A mark counts in both directions, a point of a traced line only across the line: its place along the line is left free.
What is known of cameras beforehand stands beside the marks as observations of its own, each with its deviation.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.usual_lenses import LEAST_FOCAL, USUAL_FOCAL_LOG_SD
from serve_marker.camera.view.model import CENTRE, UNKNOWNS, CameraModel
from serve_marker.court.dimensions import Floats

FOOT_STEPS = 2
MAX_STEPS = 40
SETTLED = 1e-8
TINY_COST = 1e-18
LEAST_LEVERAGE_LEFT = 1e-6


@dataclass(frozen=True, eq=False)
class Observations:
    """What the picture shows of known points.

    Parameters
    ----------
    points_m : (N, 3); for a traced line any of its points near the one clicked.
    along_m : (N, 3), unit vector along the line for points of a traced line, zero for marks.
    pixels_px : (N, 2).
    sd_px : (N,), deviation of a click per axis.
    reach_m : (N, 2), how far points may slide back and forth along their line.
    crossing : (N,), whether the pixel is the crossing of painted lines that a click moved to.
    """

    points_m: Floats
    along_m: Floats
    pixels_px: Floats
    sd_px: Floats
    reach_m: Floats
    crossing: NDArray[np.bool_]

    @property
    def free(self) -> NDArray[np.bool_]:
        """Which of them (N,) are points of traced lines."""
        return np.asarray((self.along_m != 0).any(axis=1))

    @property
    def values(self) -> int:
        """How many numbers are observed: two a mark, one a point of a line."""
        return int(2 * len(self.pixels_px) - self.free.sum())

    def only(self, kept: NDArray[np.bool_]) -> Observations:
        """Those of them that ``kept`` (N,) names."""
        return Observations(*(getattr(self, field.name)[kept] for field in fields(self)))


@dataclass(frozen=True)
class Known:
    """What is known of a camera beforehand.

    Parameters
    ----------
    centre_px : where the principal point is expected, whatever camera the search starts from.
    centre_sd_px, k1_sd, k2_sd : deviations of the principal point and of the bend from there and from none; 0 holds
        them fast.
    usual_focal_px : the focal length to expect, 0 where the picture itself tells it well.
    """

    centre_px: tuple[float, float]
    centre_sd_px: float
    k1_sd: float
    k2_sd: float
    usual_focal_px: float


@dataclass(frozen=True, eq=False)
class Adjusted:
    """The likeliest camera.

    Parameters
    ----------
    cov : (11, 11), of the unknowns.
    residual_px : (N, 2), of which only the part across the line for points of traced lines.
    squares : sum of squared residuals in deviations of a click, without what was known beforehand.
    foretold : (N,) squares, in deviations of a click, by which each observation misses the camera found without it.
    freedom : observed numbers less those the camera takes up.
    checked : (N, 2, 2), what of an observation's error its own residual shows; 0 where the camera follows it.
    cost : ``squares`` and those of what was known beforehand.
    """

    camera: CameraModel
    cov: Floats
    residual_px: Floats
    squares: float
    foretold: Floats
    freedom: float
    checked: Floats
    cost: float


def adjust(start: CameraModel, seen: Observations, known: Known) -> Adjusted | None:
    """Gauss-Newton with damping from ``start``; None where it settles on no camera with a lens above the floor."""
    loose = np.array([True] * 7 + [known.centre_sd_px > 0] * 2 + [known.k1_sd > 0, known.k2_sd > 0])
    camera, points_m = start, seen.points_m
    with np.errstate(all="ignore"):
        points_m = _slid(camera, seen, points_m)
        residual, jacobian = _observed(camera, seen, points_m)
        pull, rows = _expected(camera, known)
        cost, damping = float((residual**2).sum() + (pull**2).sum()), 1e-4
        for _ in range(MAX_STEPS):
            J = np.vstack([jacobian.reshape(-1, UNKNOWNS), rows])[:, loose]
            e = np.concatenate([residual.ravel(), pull])
            if not np.isfinite(J).all() or not np.isfinite(e).all():
                return None
            scale = np.sqrt((J**2).sum(axis=0)) + 1e-300
            held = np.vstack([J / scale, np.sqrt(damping) * np.eye(len(scale))])
            step = np.zeros(UNKNOWNS)
            step[loose] = np.linalg.lstsq(held, np.concatenate([e, np.zeros(len(scale))]), None)[0] / scale
            tried = camera.moved(step)
            tried_points = _slid(tried, seen, points_m)
            tried_residual, tried_jacobian = _observed(tried, seen, tried_points)
            tried_pull, _ = _expected(tried, known)
            tried_cost = float((tried_residual**2).sum() + (tried_pull**2).sum())
            if tried_cost <= cost:
                gain = cost - tried_cost
                camera, points_m, residual, jacobian = tried, tried_points, tried_residual, tried_jacobian
                pull, cost, damping = tried_pull, tried_cost, max(damping / 10, 1e-12)
                if gain <= SETTLED * cost or cost < TINY_COST:
                    break
            elif damping > 1e8:
                break
            else:
                damping *= 10
    if not np.isfinite(cost) or camera.place_m[2] <= 0 or camera.focal_px < LEAST_FOCAL * camera.lens.scale_px:
        return None
    return _summed_up(camera, seen, residual, jacobian, rows, loose, cost)


def covariance_with(found: Adjusted, seen: Observations, known: Known) -> Floats:
    """Covariance (11, 11) of the camera found, with every doubt of ``known`` in it."""
    _, jacobian = _observed(found.camera, seen, _slid(found.camera, seen, seen.points_m))
    _, rows = _expected(found.camera, known)
    inverse = np.linalg.pinv(np.vstack([jacobian.reshape(-1, UNKNOWNS), rows]))
    return np.asarray(inverse @ inverse.T)


def _summed_up(
    camera: CameraModel,
    seen: Observations,
    residual: Floats,
    jacobian: Floats,
    rows: Floats,
    loose: NDArray[np.bool_],
    cost: float,
) -> Adjusted:
    J = np.vstack([jacobian.reshape(-1, UNKNOWNS), rows])[:, loose]
    inverse = np.linalg.pinv(J)
    cov = np.zeros((UNKNOWNS, UNKNOWNS))
    cov[np.ix_(loose, loose)] = inverse @ inverse.T
    own = jacobian[:, :, loose]
    leverage = own @ cov[np.ix_(loose, loose)] @ own.transpose(0, 2, 1)
    checked = np.eye(2) - leverage
    missed = np.linalg.solve(checked + np.eye(2) * LEAST_LEVERAGE_LEFT, residual[:, :, None])[:, :, 0]
    return Adjusted(
        camera=camera,
        cov=cov,
        residual_px=residual * seen.sd_px[:, None],
        squares=float((residual**2).sum()),
        foretold=(missed**2).sum(axis=1),
        freedom=float(seen.values - np.trace(leverage, axis1=1, axis2=2).sum()),
        checked=checked,
        cost=cost,
    )


def _slid(camera: CameraModel, seen: Observations, points_m: Floats) -> Floats:
    """Points of traced lines slid along them to where they are shown nearest to the click."""
    free = seen.free
    if not free.any():
        return points_m
    home, along, pixels, reach = seen.points_m[free], seen.along_m[free], seen.pixels_px[free], seen.reach_m[free]
    slide = ((points_m[free] - home) * along).sum(axis=1)
    for _ in range(FOOT_STEPS):
        shown, _, by_points = camera.derivatives(home + slide[:, None] * along)
        tangent = (by_points @ along[:, :, None])[:, :, 0]
        slide = slide + ((pixels - shown) * tangent).sum(axis=1) / (tangent**2).sum(axis=1)
        slide = np.clip(slide, reach[:, 0], reach[:, 1])
    slid = points_m.copy()
    slid[free] = home + slide[:, None] * along
    return slid


def _observed(camera: CameraModel, seen: Observations, points_m: Floats) -> tuple[Floats, Floats]:
    """Residuals (N, 2) and derivatives (N, 2, 11) of what is shown, in deviations of a click."""
    shown, jacobian, by_points = camera.derivatives(points_m)
    residual = (seen.pixels_px - shown) / seen.sd_px[:, None]
    jacobian = jacobian / seen.sd_px[:, None, None]
    free = seen.free
    if free.any():
        tangent = (by_points[free] @ seen.along_m[free][:, :, None])[:, :, 0]
        across = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1) / np.hypot(*tangent.T)[:, None]
        only = across[:, :, None] * across[:, None, :]
        residual[free] = (only @ residual[free][:, :, None])[:, :, 0]
        jacobian[free] = only @ jacobian[free]
    return residual, jacobian


def _expected(camera: CameraModel, known: Known) -> tuple[Floats, Floats]:
    """Residuals (5,) and derivatives (5, 11) of what is known beforehand, in its deviations."""
    pull, rows = np.zeros(5), np.zeros((5, UNKNOWNS))
    if known.usual_focal_px:
        pull[0] = -np.log(camera.focal_px / known.usual_focal_px) / USUAL_FOCAL_LOG_SD
        rows[0, 0] = 1 / USUAL_FOCAL_LOG_SD
    if known.centre_sd_px:
        pull[1:3] = np.subtract(known.centre_px, camera.lens.centre_px) / known.centre_sd_px
        rows[1:3, CENTRE] = np.eye(2) / known.centre_sd_px
    for row, (value, sd) in enumerate(((camera.lens.k1, known.k1_sd), (camera.lens.k2, known.k2_sd)), start=3):
        if sd:
            pull[row], rows[row, row + 6] = -value / sd, 1 / sd
    return pull, rows

"""A calibrated view: from the floor to the picture and back, with the error of every located point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.camera.view.homography import (
    entry_jacobian,
    map_points,
    point_jacobian,
)
from serve_marker.camera.view.lens import Lens
from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.court.dimensions import Court, Floats

Marks = Mapping[str, tuple[float, float]]
"""Pixels (x, y) by the name of the landmark seen there."""

HORIZON_SD = 4.0
"""Pixels nearer the horizon than this many standard deviations say nothing about the distance."""

REST = 7
"""Parameters beyond the homography's nine entries: the lens's k1, k2, centre x, y, and the camera's x, y, z."""

USUAL_FRAMES_OFF = 1
"""A click that neither the film nor marks around it tell may be on the frame beside the nearest."""

Trace = tuple[tuple[float, float], ...]


def default_click_sd_px(image_size: tuple[int, int]) -> float:
    """Standard deviation per axis of a careful click: 1 px in a picture 1920 wide.

    Examples
    --------
    >>> default_click_sd_px((960, 540))
    0.5
    """
    return image_size[0] / 1920


@dataclass(frozen=True, eq=False)
class View:
    """One camera position over one court.

    Parameters
    ----------
    image_size : (width, height) of the upright picture [px].
    homography : (3, 3), floor [m] to straight pixels; the third coordinate is positive in front of the camera.
    homography_cov : (9, 9), covariance of its entries row by row.
    marks : what the coach marked [px], net marks included.
    rms_px : root mean square of the marks' residuals, per mark [px].
    misfit_sd_px : what shows in the marks beyond default clicks, per axis [px]; 0 where nothing shows.
    camera_position_m : (x, y, z) in the court frame, None where it cannot be told.
    lens : how straight pixels are bent into those of the picture.
    rest_cov : (7, 16), covariance of the lens's k1, k2, centre and the camera's place with the homography's entries
        and with themselves.
    focal_px : focal length, NaN where it cannot be told.
    own_click_sd_px : the coach's own click deviation per axis, None for the default one.
    click_frames_off : how many frames a click may lie beside the nearest where nothing else tells.
    clicked : where marks were clicked that moved to the crossing of their lines [px], and those that found none, there.
    crossing_misfit_sd_px : the misfit that crossings show, per axis [px], for what no hand clicked; None without them.
    """

    court: Court
    image_size: tuple[int, int]
    net_height_m: float
    homography: Floats
    homography_cov: Floats
    marks: Mapping[str, tuple[float, float]]
    rms_px: float
    misfit_sd_px: float
    camera_position_m: tuple[float, float, float] | None
    traces: Mapping[str, Trace] = field(default_factory=dict)
    lens: Lens = field(default_factory=Lens)
    rest_cov: Floats = field(default_factory=lambda: np.zeros((REST, 9 + REST)))
    focal_px: float = float("nan")
    own_click_sd_px: float | None = None
    click_frames_off: int = USUAL_FRAMES_OFF
    clicked: Marks = field(default_factory=dict)
    crossing_misfit_sd_px: float | None = None

    def __post_init__(self) -> None:
        arrays = ((self.homography, (3, 3)), (self.homography_cov, (9, 9)), (self.rest_cov, (REST, 9 + REST)))
        for array, shape in arrays:
            if array.shape != shape:
                raise ValueError(f"expected an array of shape {shape}, not {array.shape}")
            array.setflags(write=False)

    @property
    def click_sd_px(self) -> float:
        """Standard deviation of a click, per axis [px]: the coach's own, else the default one."""
        return self.own_click_sd_px or default_click_sd_px(self.image_size)

    @property
    def camera_height_m(self) -> float:
        """Height of the camera above the floor [m], NaN where it cannot be told."""
        return self.camera_position_m[2] if self.camera_position_m else float("nan")

    @property
    def parameter_cov(self) -> Floats:
        """Covariance (16, 16) of the homography's entries, the lens's k1, k2, centre x, y, and the camera's place."""
        upper = np.hstack([self.homography_cov, self.rest_cov[:, :9].T])
        return np.vstack([upper, self.rest_cov])

    def without_hand(self) -> View:
        """The view for pixels that the program itself found: the hand that made the marks does not count in them."""
        left_px = self.misfit_sd_px if self.crossing_misfit_sd_px is None else self.crossing_misfit_sd_px
        return replace(self, misfit_sd_px=min(self.misfit_sd_px, left_px))

    def project(self, points_m: ArrayLike) -> Floats:
        """Return the pixels (N, 2) of points (N, 2) on the floor or (N, 3) in the air; NaN behind the camera."""
        points = np.asarray(points_m, dtype=float)
        if points.ndim != 2 or points.shape[1] not in (2, 3):
            raise ValueError(f"points must have shape (N, 2) or (N, 3), not {points.shape}")
        if points.shape[1] == 3:
            q = points @ self.projection[:, :3].T + self.projection[:, 3]
        else:
            q = points @ self.homography[:, :2].T + self.homography[:, 2]
        with np.errstate(all="ignore"):
            straight = np.where(q[:, 2:] > 1e-9 * np.abs(self.homography[2]).max(), q[:, :2] / q[:, 2:], np.nan)
        return self.lens.bend(straight)

    @cached_property
    def projection(self) -> Floats:
        """Court metres to straight pixels, (3, 4): the homography, and an upward column that centres it at the camera.

        NaN in that column where the camera's place cannot be told.
        """
        upward = np.full(3, np.nan)
        if self.camera_position_m is not None:
            x_m, y_m, z_m = self.camera_position_m
            upward = -(self.homography @ np.array([x_m, y_m, 1.0])) / z_m
        projection = np.column_stack([self.homography[:, :2], upward, self.homography[:, 2]])
        projection.flags.writeable = False
        return projection

    def projection_above(self, height_m: float) -> Floats:
        """As `projection`, with heights counted from ``height_m`` above the floor."""
        projection = self.projection.copy()
        projection[:, 3] += height_m * projection[:, 2]
        return projection

    def locate(self, points_px: ArrayLike, click_sd_px: float | None = None) -> tuple[Floats, Floats]:
        """Return floor points (N, 2) [m] under pixels (N, 2), and their covariances (N, 2, 2) [m2].

        ``cov = J^-1 (S_click + S_misfit + G S G^T) J^-T``, with J and G the derivatives of the pixel by the floor
        point and by the view's parameters (Criminisi et al. 1997). NaN above the horizon or too close to it.
        """
        sd_px = self.click_sd_px if click_sd_px is None else click_sd_px
        pixels = np.asarray(points_px, dtype=float)
        if pixels.ndim != 2 or pixels.shape[1] != 2:
            raise ValueError(f"pixels must have shape (N, 2), not {pixels.shape}")
        return self.locate_with(pixels, np.broadcast_to(np.eye(2) * sd_px**2, (len(pixels), 2, 2)))

    def locate_with(self, points_px: Floats, click_cov_px2: Floats) -> tuple[Floats, Floats]:
        """As `locate`, for clicks with covariances (N, 2, 2) [px2] of their own."""
        inverse = np.asarray(np.linalg.inv(self.homography), dtype=np.float64)
        steepness = inverse[2, :2]
        straight = self.lens.straighten(points_px)
        nearness = straight @ steepness + inverse[2, 2]
        misfit = self.misfit_sd_px**2 * np.eye(2)
        with np.errstate(all="ignore"):
            floor = map_points(inverse, straight)
            bend = self.lens.bend_jacobian(straight)
            pixel_cov = click_cov_px2 + misfit + self._picture_cov(floor, straight, bend)
            shown_steepness = np.einsum("i,nij->nj", steepness, np.linalg.inv(bend))
            doubt = np.sqrt(np.einsum("ni,nij,nj->n", shown_steepness, pixel_cov, shown_steepness))
            clear = np.isfinite(floor).all(axis=1) & (nearness > HORIZON_SD * doubt)
        xy_m = np.full((len(points_px), 2), np.nan)
        cov_m2 = np.full((len(points_px), 2, 2), np.nan)
        xy_m[clear] = floor[clear]
        back = np.linalg.inv(bend[clear] @ point_jacobian(self.homography, floor[clear]))
        cov_m2[clear] = back @ pixel_cov[clear] @ back.transpose(0, 2, 1)
        return xy_m, cov_m2

    def raised(self, height_m: float) -> View:
        """Return the view of the level plane ``height_m`` above the floor, whose points stand for those below them.

        With the camera at (x, y, z) the floor's homography H becomes ``H M``, where M shrinks the floor towards the
        point under the camera by ``1 - height / z``. The covariance goes through both.

        Raises
        ------
        ValueError : where the camera's place is not known or not above the plane.
        """
        if self.camera_position_m is None or self.camera_position_m[2] <= height_m:
            raise ValueError(f"a plane {height_m:g} m high needs a camera above it, not at {self.camera_position_m}")
        x_m, y_m, z_m = self.camera_position_m
        share = height_m / z_m
        shrink = np.array([[1, 0, -share * x_m], [0, 1, -share * y_m], [0, 0, 1 - share]])
        change = np.eye(9 + REST)
        change[:9, :9] = np.kron(np.eye(3), shrink.T)
        under = self.homography @ np.array([x_m, y_m, 1.0])
        by_place = np.column_stack([-share * self.homography[:, :2], under * share / z_m])
        change[2:9:3, 13:16] = by_place
        cov = change @ self.parameter_cov @ change.T
        return replace(
            self,
            homography=self.homography @ shrink,
            homography_cov=cov[:9, :9],
            rest_cov=cov[9:],
            camera_position_m=(x_m, y_m, z_m - height_m),
        )

    def to_pixels(self, point_m: Floats, cov_m2: Floats) -> tuple[Floats, Floats]:
        """One floor point (2,) [m] and its covariance (2, 2) [m2] as a pixel (1, 2) and its covariance (1, 2, 2)."""
        straight = map_points(self.homography, point_m[None])
        by_point = self.lens.bend_jacobian(straight) @ point_jacobian(self.homography, point_m[None])
        return self.lens.bend(straight), np.asarray(by_point @ cov_m2 @ by_point.transpose(0, 2, 1))

    def _picture_cov(self, floor_m: Floats, straight_px: Floats, bend: Floats) -> Floats:
        by_entries = bend @ entry_jacobian(self.homography, floor_m)
        by_parameters = np.concatenate([by_entries, self.lens.parameter_jacobian(straight_px)], axis=2)
        cov = self.parameter_cov[: by_parameters.shape[2], : by_parameters.shape[2]]
        return np.asarray(by_parameters @ cov @ by_parameters.transpose(0, 2, 1))

    def floor_error_m(self, points_m: ArrayLike) -> Floats:
        """Longer half-axis (N,) of the 95 % ellipse [m] for a default click on floor points (N, 2)."""
        _, cov_m2 = self.locate(self.project(points_m))
        return longer_half_axis_m(cov_m2)

    def expected_error_m(self) -> dict[str, float]:
        """The error [m] of a click at the middle of both end lines, and the worst on the court in the picture."""
        end_m = self.court.half_length_m
        end_a, end_b = self.floor_error_m([(0.0, -end_m), (0.0, end_m)])
        x_m, y_m = np.meshgrid(
            np.linspace(-self.court.half_width_m, self.court.half_width_m, 7), np.linspace(-end_m, end_m, 13)
        )
        floor = np.column_stack([x_m.ravel(), y_m.ravel()])
        pixels = self.project(floor)
        inside = ((pixels >= -0.5) & (pixels <= np.array(self.image_size) - 0.5)).all(axis=1)
        errors = self.floor_error_m(floor[inside])
        known = [error for error in (*errors, end_a, end_b) if np.isfinite(error)]
        return {"end_a": float(end_a), "end_b": float(end_b), "worst": float(max(known, default=np.nan))}


def longer_half_axis_m(cov_m2: Floats) -> Floats:
    """Longer half-axis (N,) [m] of the 95 % ellipses of covariances (N, 2, 2) [m2].

    Examples
    --------
    >>> longer_half_axis_m(np.array([np.diag([0.01, 0.0025])])).round(4).tolist()
    [0.2448]
    """
    mean = (cov_m2[:, 0, 0] + cov_m2[:, 1, 1]) / 2
    spread = np.hypot((cov_m2[:, 0, 0] - cov_m2[:, 1, 1]) / 2, cov_m2[:, 0, 1])
    return np.asarray(ELLIPSE_95 * np.sqrt(mean + spread))

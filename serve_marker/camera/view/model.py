"""A camera with square pixels and a lens that bends: how it shows points, and how that depends on it.

Eleven unknowns: the logarithm of the focal length, a small turn (3), the place (3) [m], the principal point's way from
the picture's centre (2) [px], and the lens's k1 and k2.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.view.lens import Lens
from serve_marker.court.dimensions import Floats

UNKNOWNS = 11
FOCAL, TURN, PLACE, CENTRE = slice(0, 1), slice(1, 4), slice(4, 7), slice(7, 9)
_STEPS = np.array([1e-6, *[1e-6] * 3, *[1e-5] * 3, *[1e-3] * 2, 1e-6, 1e-6])


@dataclass(frozen=True, eq=False)
class CameraModel:
    """One camera.

    Parameters
    ----------
    rotation : (3, 3), court axes to the camera's (x right, y down, z forward).
    place_m : (3,), the camera in the court frame.
    lens : its centre is the principal point.
    """

    focal_px: float
    rotation: Floats
    place_m: Floats
    lens: Lens

    def straight(self, points_m: Floats) -> Floats:
        """Straight pixels (N, 2) of points (N, 3)."""
        seen = (points_m - self.place_m) @ self.rotation.T
        return np.asarray(self.lens.centre_px + self.focal_px * seen[:, :2] / seen[:, 2:])

    def shown(self, points_m: Floats) -> Floats:
        """Pixels (N, 2) of the picture for points (N, 3)."""
        return self.lens.bend(self.straight(points_m))

    def derivatives(self, points_m: Floats) -> tuple[Floats, Floats, Floats]:
        """Pixels (N, 2), their derivatives (N, 2, 11) by the unknowns and (N, 2, 3) by the points."""
        seen = (points_m - self.place_m) @ self.rotation.T
        flat = self.focal_px * seen[:, :2] / seen[:, 2:]
        straight = self.lens.centre_px + flat
        bend = self.lens.bend_jacobian(straight)
        by_seen = np.zeros((len(seen), 2, 3))
        by_seen[:, 0, 0] = by_seen[:, 1, 1] = self.focal_px / seen[:, 2]
        by_seen[:, :, 2] = -flat / seen[:, 2:]
        by_seen = bend @ by_seen
        by_points = by_seen @ self.rotation
        jacobian = np.empty((len(seen), 2, UNKNOWNS))
        jacobian[:, :, FOCAL] = bend @ flat[:, :, None]
        x, y, z = seen.T
        by_x, by_y, by_z = np.moveaxis(by_seen, 2, 0)
        jacobian[:, :, 1] = by_z * y[:, None] - by_y * z[:, None]
        jacobian[:, :, 2] = by_x * z[:, None] - by_z * x[:, None]
        jacobian[:, :, 3] = by_y * x[:, None] - by_x * y[:, None]
        jacobian[:, :, PLACE] = -by_points
        jacobian[:, :, CENTRE] = np.eye(2)
        jacobian[:, :, 9:] = self.lens.coefficient_jacobian(straight)
        return self.lens.bend(straight), jacobian, by_points

    def moved(self, step: Floats) -> CameraModel:
        """The camera changed by a step (11,) of the unknowns."""
        x_px, y_px = self.lens.centre_px
        return CameraModel(
            focal_px=float(self.focal_px * np.exp(step[0])),
            rotation=turn(step[TURN]) @ self.rotation,
            place_m=self.place_m + step[PLACE],
            lens=replace(
                self.lens,
                k1=float(self.lens.k1 + step[9]),
                k2=float(self.lens.k2 + step[10]),
                centre_px=(float(x_px + step[7]), float(y_px + step[8])),
            ),
        )

    def step_to(self, other: CameraModel) -> Floats:
        """The step (11,) that makes this camera the other one, where both are turned nearly alike."""
        twist = (other.rotation @ self.rotation.T - self.rotation @ other.rotation.T) / 2
        return np.array(
            [
                np.log(other.focal_px / self.focal_px),
                *(twist[2, 1], twist[0, 2], twist[1, 0]),
                *(other.place_m - self.place_m),
                *np.subtract(other.lens.centre_px, self.lens.centre_px),
                other.lens.k1 - self.lens.k1,
                other.lens.k2 - self.lens.k2,
            ]
        )

    @property
    def homography(self) -> Floats:
        """Floor metres to straight pixels, (3, 3), positive in front of the camera, of Frobenius norm 1."""
        x_px, y_px = self.lens.centre_px
        K = np.array([[self.focal_px, 0, x_px], [0, self.focal_px, y_px], [0, 0, 1.0]])
        away = np.column_stack([np.eye(3)[:, :2], -self.place_m])
        H = K @ self.rotation @ away
        return np.asarray(H / np.linalg.norm(H))

    def view_parameters(self) -> Floats:
        """The parameters (16,) of a `View`: the homography's entries, k1, k2, the centre and the camera's place."""
        lens = self.lens
        return np.concatenate([self.homography.ravel(), [lens.k1, lens.k2, *lens.centre_px], self.place_m])

    def view_jacobian(self) -> Floats:
        """Derivative (16, 11) of `view_parameters` by the unknowns, by central differences."""
        columns = [
            (self.moved(d).view_parameters() - self.moved(-d).view_parameters()) / (2 * size)
            for d, size in zip(np.diag(_STEPS), _STEPS, strict=True)
        ]
        return np.column_stack(columns)


def turn(vector: Floats) -> Floats:
    """Rotation (3, 3) about ``vector`` (3,) by its length [rad] (Rodrigues).

    Examples
    --------
    >>> turn(np.array([0.0, 0.0, np.pi / 2])).round(6).tolist()
    [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    """
    angle = float(np.linalg.norm(vector))
    x, y, z = vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(
        np.eye(3) + np.sinc(angle / np.pi) * cross + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * (cross @ cross)
    )


def from_homography(H: Floats, focal_px: float, lens: Lens) -> CameraModel | None:
    """The camera nearest to a homography (floor metres to pixels), or None where none stands above the floor."""
    x_px, y_px = lens.centre_px
    rays = np.array([[1 / focal_px, 0, -x_px / focal_px], [0, 1 / focal_px, -y_px / focal_px], [0, 0, 1.0]]) @ H
    scale = np.sqrt(np.linalg.norm(rays[:, 0]) * np.linalg.norm(rays[:, 1]))
    if not np.isfinite(scale) or scale == 0:
        return None
    left, _, right = np.linalg.svd(rays[:, :2] / scale, full_matrices=False)
    first, second = (left @ right).T
    rotation = np.column_stack([first, second, np.cross(first, second)])
    place_m = -rotation.T @ rays[:, 2] / scale
    if not np.isfinite(place_m).all() or place_m[2] <= 0:
        return None
    return CameraModel(focal_px, rotation, place_m, lens)

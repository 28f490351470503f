"""A pinhole camera over the court (court frame, metres; pixel (0, 0) is the centre of the top-left pixel)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Camera:
    """Pinhole camera: matrix (3, 3) [px], rotation (3, 3) and position (3,) [m] in the court frame."""

    size: tuple[int, int]
    matrix: Array
    rotation: Array
    position: Array

    @property
    def translation(self) -> Array:
        """The t of x = K (R X + t), shape (3,) [m]."""
        return np.asarray(-self.rotation @ self.position, dtype=np.float64)

    def project(self, points_m: Array) -> Array:
        """Pixels (N, 2) of court points (N, 3) [m]."""
        seen = self.depths_and_rays(points_m)
        return np.asarray(seen[:, :2] / seen[:, 2:], dtype=np.float64)

    def depths_and_rays(self, points_m: Array) -> Array:
        """Homogeneous pixels (N, 3) whose last column is the depth along the optical axis [m]."""
        local = (np.atleast_2d(points_m) - self.position) @ self.rotation.T
        return np.asarray(local @ self.matrix.T, dtype=np.float64)

    def depth_m(self, point_m: Array) -> float:
        """Depth of one point (3,) along the optical axis [m]."""
        return float(self.rotation[2] @ (point_m - self.position))

    def rays(self, x_px: Array, y_px: Array) -> Array:
        """Directions (H, W, 3) in the court frame through pixel columns x_px (W,) and rows y_px (H,)."""
        fx, fy, cx, cy = self.matrix[0, 0], self.matrix[1, 1], self.matrix[0, 2], self.matrix[1, 2]
        local = np.empty((len(y_px), len(x_px), 3), dtype=np.float32)
        local[..., 0] = ((x_px - cx) / fx)[None, :]
        local[..., 1] = ((y_px - cy) / fy)[:, None]
        local[..., 2] = 1.0
        return np.asarray(local @ self.rotation.astype(np.float32))

    def inside(self, pixel: Array) -> bool:
        """Whether pixel (2,) lies in the picture."""
        return bool(-0.5 <= pixel[0] < self.size[0] - 0.5 and -0.5 <= pixel[1] < self.size[1] - 0.5)


def looking(position: tuple[float, float, float], yaw_deg: float, pitch_deg: float, focal_px: float) -> Camera:
    """A level 1280x720 camera; yaw turns it from +y towards +x, pitch turns it down."""
    yaw, pitch = np.radians([yaw_deg, pitch_deg])
    forward = np.array([np.sin(yaw) * np.cos(pitch), np.cos(yaw) * np.cos(pitch), -np.sin(pitch)])
    right = np.array([np.cos(yaw), -np.sin(yaw), 0.0])
    rotation = np.stack([right, np.cross(forward, right), forward])
    matrix = np.array([[focal_px, 0.0, 639.5], [0.0, focal_px, 359.5], [0.0, 0.0, 1.0]])
    return Camera((1280, 720), matrix, rotation, np.array(position))

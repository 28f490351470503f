"""Cameras of our own making over a court: exact projections that the views are held against."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike

from serve_marker.court.dimensions import Floats


@dataclass(frozen=True)
class Pinhole:
    place_m: tuple[float, float, float]
    look_at_m: tuple[float, float, float]
    focal_px: float
    size: tuple[int, int]

    def project(self, points_m: ArrayLike) -> Floats:
        """Pixels (N, 2) of points (N, 3) [m]; NaN behind the camera."""
        points = np.asarray(points_m, dtype=float)
        forward = np.subtract(self.look_at_m, self.place_m)
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, (0, 0, 1.0))
        right /= np.linalg.norm(right)
        seen = (points - self.place_m) @ np.column_stack([right, np.cross(forward, right), forward])
        seen[seen[:, 2] <= 0] = np.nan
        pixels: Floats = self.focal_px * seen[:, :2] / seen[:, 2:] + (np.array(self.size) - 1) / 2
        return pixels

    def marks(self, places: dict[str, tuple[float, float, float]]) -> dict[str, tuple[float, float]]:
        """Exact marks of the landmarks that the picture shows."""
        pixels = self.project(list(places.values()))
        shown = np.all((pixels > 0) & (pixels < np.array(self.size) - 1), axis=1)
        named = zip(places, pixels.tolist(), shown, strict=True)
        return {name: (x, y) for name, (x, y), ok in named if ok}


CAMERAS = {
    "stand": Pinhole((-2.0, -17.0, 5.0), (0.0, 0.0, 0.0), 1400.0, (1920, 1080)),
    "low tripod": Pinhole((1.0, -15.0, 2.0), (0.0, -1.0, 0.3), 1300.0, (1920, 1080)),
    "corner": Pinhole((8.0, -14.0, 3.0), (0.0, -1.0, 0.0), 900.0, (1280, 720)),
    "side": Pinhole((-13.0, -2.0, 4.0), (0.0, 1.0, 0.0), 850.0, (1280, 720)),
}


@pytest.fixture(params=CAMERAS)
def camera(request: pytest.FixtureRequest) -> Pinhole:
    return CAMERAS[request.param]


@pytest.fixture(scope="session")
def camera_named() -> Callable[[str], Pinhole]:
    return CAMERAS.__getitem__


VIEWS = runpy.run_path(str(Path(__file__).resolve().parents[1] / "benchmarks" / "views.py"))


@pytest.fixture(scope="session")
def clip(true_clip: dict[str, Any]) -> Any:
    """Each rendered clip's true camera, as the benchmark of views reads it."""
    return VIEWS["TrueClip"](true_clip["clip"], true_clip)


@pytest.fixture(scope="session")
def measures() -> Any:
    """The benchmark of views: what it measures, by name."""
    return VIEWS

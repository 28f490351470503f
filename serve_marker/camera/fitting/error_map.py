"""The error of a click over the whole court, before any serve is marked."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats

STEP_M = 0.5


@dataclass(frozen=True, eq=False)
class ErrorMap:
    """The 95 % error of a click over the court.

    Parameters
    ----------
    x_m, y_m : (W,) and (H,), the grid in the court frame.
    error_m : (H, W), longer half-axis of the 95 % ellipse; NaN outside the picture and where it cannot be told.
    end_a_m, end_b_m : the same at the middle of both end lines.
    """

    x_m: Floats
    y_m: Floats
    error_m: Floats
    end_a_m: float
    end_b_m: float


def error_map(view: View, step_m: float = STEP_M) -> ErrorMap:
    """Return the error over the whole court at least every ``step_m``, lines included."""
    half_width_m, half_length_m = view.court.half_width_m, view.court.half_length_m
    x_m = np.linspace(-half_width_m, half_width_m, 1 + math.ceil(2 * half_width_m / step_m))
    y_m = np.linspace(-half_length_m, half_length_m, 1 + math.ceil(2 * half_length_m / step_m))
    grid = np.stack(np.meshgrid(x_m, y_m), axis=2).reshape(-1, 2)
    pixels = view.project(grid)
    shown = ((pixels >= -0.5) & (pixels <= np.array(view.image_size) - 0.5)).all(axis=1)
    error_m = np.full(len(grid), np.nan)
    error_m[shown] = view.floor_error_m(grid[shown])
    end_a, end_b = view.floor_error_m([(0.0, -half_length_m), (0.0, half_length_m)])
    return ErrorMap(x_m, y_m, error_m.reshape(len(y_m), len(x_m)), float(end_a), float(end_b))

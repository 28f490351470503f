"""Which painted line of the court lies under a pixel."""

from __future__ import annotations

import numpy as np

from serve_marker.camera.fitting.observed import line_ends
from serve_marker.camera.view.view import View

STEPS = 181


def line_under(view: View, pixel: tuple[float, float], reach_px: float) -> str | None:
    """Return the line nearest to a pixel, None where none is within reach [px]."""
    shares = np.linspace(0.0, 1.0, STEPS)[:, None]
    away_px = {
        line: float(np.nanmin(np.hypot(*(view.project(start + shares * (stop - start)) - pixel).T), initial=np.inf))
        for line, (start, stop) in line_ends(view.court).items()
    }
    nearest = min(away_px, key=lambda line: away_px[line])
    return nearest if away_px[nearest] <= reach_px else None

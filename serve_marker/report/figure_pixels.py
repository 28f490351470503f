"""Empty figures, and figures as pixels. Matplotlib draws in one thread at a time, whoever asks."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.report.colours import COLOURS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DRAWING = threading.RLock()


def new_figure(width_in: float, height_in: float, look: str = "light") -> Figure:
    """Return an empty figure in a palette's paper colour."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), facecolor=COLOURS[look].of("paper"))


def pixels_of(figure: Figure, dots_per_in: float) -> NDArray[np.uint8]:
    """Return a figure drawn as an array (H, W, 4) RGBA."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with DRAWING, mpl.rc_context({"text.hinting": "none"}):
        figure.set_dpi(dots_per_in)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
        return np.array(canvas.buffer_rgba(), dtype=np.uint8)

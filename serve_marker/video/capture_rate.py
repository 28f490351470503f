"""How many frames a second a camera says it took, where the container tells."""

from __future__ import annotations

import math
from collections.abc import Mapping

CAPTURE_KEYS = frozenset({"com.android.capture.fps", "com.apple.quicktime.capture.fps", "capture_fps", "capture-fps"})
SLOWED = 1.2


def capture_rate_fps(metadata: Mapping[str, str], shown_fps: float) -> float | None:
    """The rate the clip was filmed at where its container names one clearly faster than it is shown, else None.

    Examples
    --------
    >>> capture_rate_fps({"com.android.capture.fps": "240.000000"}, 30.0)
    240.0
    >>> capture_rate_fps({"com.android.capture.fps": "30.0"}, 29.97) is None
    True
    >>> capture_rate_fps({"com.android.capture.fps": "fast"}, 30.0) is None
    True
    """
    for key, text in metadata.items():
        if key.lower() not in CAPTURE_KEYS:
            continue
        try:
            rate = float(text)
        except ValueError:
            continue
        if math.isfinite(rate) and rate > SLOWED * shown_fps > 0:
            return rate
    return None

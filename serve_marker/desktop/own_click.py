"""The coach's own click error as the logbook keeps it: measured on one size of picture, used on all."""

from __future__ import annotations

import json

OWN_CLICK = "own click"
"""The setting's key."""


def own_click_text(sd_px: float, image_size: tuple[int, int]) -> str:
    """Return the setting for a deviation [px] measured on pictures of a size."""
    return json.dumps({"sd_px": sd_px, "image_width": image_size[0]})


def own_click_sd_px(text: str, image_size: tuple[int, int]) -> float | None:
    """Return the deviation [px] on pictures of a size, None where none was measured.

    Examples
    --------
    >>> own_click_sd_px(own_click_text(0.6, (1280, 720)), (1920, 1080)), own_click_sd_px("", (1920, 1080))
    (0.9, None)
    """
    if not text:
        return None
    kept = json.loads(text)
    return round(float(kept["sd_px"]) * image_size[0] / float(kept["image_width"]), 6)

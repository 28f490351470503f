"""A coach's own click error, from points clicked twice: the technical error of measurement.

Dahlberg, "Statistical Methods for Medical and Biological Students", 1940: ``sqrt(sum d^2 / 2n)`` for n pairs that
differ by d. It is one click's standard deviation, and takes the place of the default one from then on.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from serve_marker.camera.view.view import USUAL_FRAMES_OFF, View
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.confidence_level import TAIL
from serve_marker.errors import UserError
from serve_marker.plain_json import read_object, told_as

_UNREADABLE_CLICK = "Your own click error cannot be read; find it again in Set up."
LEAST_SD_PX = 0.1
"""Nobody clicks more finely than this; smaller figures come of points clicked without moving the mouse."""
SLIP_SD = 8.0
MEDIAN_APART_SD = 2 * math.sqrt(math.log(2))
"""Half of all pairs of clicks on one point lie no further apart than this many deviations of one click."""
OWN_CLICK = "own click"
"""The key of the logbook's setting."""


@dataclass(frozen=True)
class OwnClick:
    """What points clicked twice say of a hand.

    Parameters
    ----------
    sd_px : deviation of a click per axis, both axes together.
    low_px, high_px : 95 % interval of ``sd_px`` (chi-square with one degree of freedom for each axis of each pair).
    slips : places in the row of points whose two clicks lie so far apart that one was a slip; not counted.
    """

    sd_px: float
    low_px: float
    high_px: float
    slips: tuple[int, ...]

    @property
    def words(self) -> str:
        """One sentence for the coach."""
        slips = f" {len(self.slips)} slip{'s' if len(self.slips) > 1 else ''} left out." if self.slips else ""
        return f"Your clicks fall within {2 * self.sd_px:.1f} px of the point (19 of 20, each way).{slips}"


def technical_error(first: ArrayLike, second: ArrayLike) -> float:
    """Return Dahlberg's error of n measurements (n,) made twice, in their unit.

    Examples
    --------
    >>> technical_error([10.0, 20.0], [12.0, 20.0])
    1.0
    """
    apart = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    if apart.ndim != 1 or not len(apart):
        raise ValueError(f"need two arrays of shape (n >= 1,), not {np.shape(first)} and {np.shape(second)}")
    return float(np.sqrt((apart**2).mean() / 2))


def own_click(first_px: ArrayLike, second_px: ArrayLike) -> OwnClick:
    """Return the click error of points clicked twice, (N, 2) and (N, 2) [px], N >= 5.

    Examples
    --------
    >>> first = [(10, 10), (50, 20), (90, 30), (20, 80), (70, 60)]
    >>> second = [(11, 10), (50, 21), (89, 30), (20, 79), (70, 61)]
    >>> round(own_click(first, second).sd_px, 3)
    0.5
    """
    from scipy.special import chdtri

    first, second = np.asarray(first_px, dtype=float), np.asarray(second_px, dtype=float)
    if first.ndim != 2 or first.shape[1] != 2 or first.shape != second.shape or len(first) < 5:
        raise ValueError(f"need two arrays of shape (N >= 5, 2), not {first.shape} and {second.shape}")
    away = np.hypot(*(first - second).T)
    usual = max(float(np.median(away)) / MEDIAN_APART_SD, LEAST_SD_PX)
    good = away <= SLIP_SD * usual
    x, y = (technical_error(first[good, axis], second[good, axis]) for axis in (0, 1))
    freedom = 2 * int(good.sum())
    sd = max(float(np.sqrt((x**2 + y**2) / 2)), LEAST_SD_PX)
    low, high = (float(sd * np.sqrt(freedom / chdtri(freedom, p))) for p in (TAIL, 1 - TAIL))
    return OwnClick(sd, low, high, tuple(np.flatnonzero(~good).tolist()))


def own_click_text(sd_px: float, image_size: tuple[int, int], kept: str = "") -> str:
    """Return the logbook's setting with a deviation [px] measured on pictures of a size; what else is kept stays."""
    return json.dumps(_parts(kept) | {"sd_px": sd_px, "image_width": image_size[0]})


def own_frames_text(frames_off: int, kept: str = "") -> str:
    """Return the setting with how many frames a click may lie beside the nearest; what else is kept stays."""
    return json.dumps(_parts(kept) | {"frames_off": frames_off})


def own_frames_off(text: str) -> int:
    """Return how many frames a click may lie beside the nearest by that setting.

    Examples
    --------
    >>> own_frames_off(own_frames_text(0)), own_frames_off("")
    (0, 1)
    """
    with told_as(_UNREADABLE_CLICK):
        return int(_parts(text).get("frames_off", USUAL_FRAMES_OFF))


def own_click_sd_px(text: str, image_size: tuple[int, int]) -> float | None:
    """Return the deviation [px] on pictures of a size by that setting, None where none was measured.

    Examples
    --------
    >>> own_click_sd_px(own_click_text(0.6, (1280, 720)), (1920, 1080)), own_click_sd_px("", (1920, 1080))
    (0.9, None)
    """
    kept = _parts(text)
    if "sd_px" not in kept:
        return None
    with told_as(_UNREADABLE_CLICK):
        return round(float(kept["sd_px"]) * image_size[0] / float(kept["image_width"]), 6)


def clicked_by(text: str, view: View) -> View:
    """Return a view through which clicks count with the frames of that setting, and its deviation where it has one.

    The view's lines and their own error stay. What its marks showed beyond the click counted so far is the hand's as
    well: where the click takes it over, it is no misfit any more, so that nothing counts twice.
    """
    own_px = own_click_sd_px(text, view.image_size) or view.own_click_sd_px
    clicked = replace(view, own_click_sd_px=own_px, click_frames_off=own_frames_off(text))
    if view.misfit_sd_px == 0:
        return clicked
    shown_px2 = view.click_sd_px**2 + view.misfit_sd_px**2
    return replace(clicked, misfit_sd_px=math.sqrt(max(0.0, shown_px2 - clicked.click_sd_px**2)))


def text_clicked_by(text: str, view_text: str) -> str:
    """Return a view file's text as `clicked_by` lets it count; the picture kept with it stays as it is written.

    A text that is no view is returned unchanged.
    """
    try:
        view = clicked_by(text, view_from_text(view_text))
    except UserError:
        return view_text
    return json.dumps(json.loads(view_text) | json.loads(view_to_text(view)), indent=1)


def _parts(text: str) -> dict[str, Any]:
    with told_as(_UNREADABLE_CLICK):
        return read_object(text) if text else {}

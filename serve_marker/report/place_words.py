"""A place on the court as a coach says it."""

from __future__ import annotations

import numpy as np

from serve_marker.camera.view.view import longer_half_axis_m
from serve_marker.marking.judging import Judgement


def place_lines(judgement: Judgement, outcome: str = "floor") -> tuple[str, ...]:
    """Return a place on the court as a coach says it: area; depth and verdict, or received; error."""
    verdict = "received" if outcome == "received" and np.isfinite(judgement.half_x_m) else judgement.verdict
    if not verdict:
        return ("cannot tell where",)
    beside = "" if judgement.area_sure or judgement.verdict == "out" else ", area not sure"
    return (
        place_name(judgement),
        f"{judgement.half_y_m:.1f} m deep, {verdict}",
        f"{landing_error_words(error_m(judgement))}{beside}",
    )


def place_name(judgement: Judgement) -> str:
    """Return the area of a landing, or how it missed the court; "" where it cannot be told."""
    return (judgement.missed or "out") if judgement.verdict == "out" else judgement.area


def place_words(judgement: Judgement, outcome: str = "floor") -> str:
    """Return a place on the court in one line."""
    return ", ".join(place_lines(judgement, outcome))


def landing_error_words(error_m: float) -> str:
    """Return how far off a landing may be, as everywhere: the longer half-axis of its 95 % ellipse; "" for NaN.

    Examples
    --------
    >>> landing_error_words(0.375), landing_error_words(float("nan"))
    ('±0.38 m', '')
    """
    return f"±{error_m:.2f} m" if np.isfinite(error_m) else ""


def error_m(judgement: Judgement) -> float:
    """Return the longer half-axis of the 95 % ellipse [m]."""
    return float(longer_half_axis_m(np.asarray([judgement.cov_half_m2]))[0])

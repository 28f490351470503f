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
    area = (judgement.missed or "out") if judgement.verdict == "out" else judgement.area
    beside = "" if judgement.area_sure or judgement.verdict == "out" else ", area not sure"
    return (area, f"{judgement.half_y_m:.1f} m deep, {verdict}", f"±{error_m(judgement):.2f} m{beside}")


def place_words(judgement: Judgement, outcome: str = "floor") -> str:
    """Return a place on the court in one line."""
    return ", ".join(place_lines(judgement, outcome))


def error_m(judgement: Judgement) -> float:
    """Return the longer half-axis of the 95 % ellipse [m]."""
    return float(longer_half_axis_m(np.asarray([judgement.cov_half_m2]))[0])

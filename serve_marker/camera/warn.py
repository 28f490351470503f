"""What a coach should know about a fitted view, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from serve_marker.camera.homography import Floats, map_points, solve_homography
from serve_marker.camera.view import View

LARGE_ERROR_M = 0.5
SMALL_PART = 0.2
"""Share of the picture, in both directions, that marks should reach over at least."""
SAME_SPOT_SD = 4.0
TIE_M = 1.0


def warnings_of(view: View, residuals_px: Mapping[str, float], floor: Floats, pixels: Floats) -> list[str]:
    """Return sentences about a view fitted to ``pixels`` (N, 2) of ``floor`` points (N, 2) [m]."""
    names = list(residuals_px)
    return [
        *_about_residuals(view, names, residuals_px, floor, pixels),
        *_about_places(view, names, pixels),
        *_about_end_names(view),
        *_about_error(view, len(names)),
    ]


def _about_residuals(
    view: View, names: list[str], residuals_px: Mapping[str, float], floor: Floats, pixels: Floats
) -> list[str]:
    if len(names) == 4:
        return ["With exactly four marks a slip of one of them goes unnoticed; mark a fifth landmark if you can."]
    if not view.misfit_sd_px:
        return []
    worst = _most_doubtful(names, residuals_px, floor, pixels)
    return [
        f"The marks miss the court's lines by {view.rms_px:.1f} px, more than careful clicks do: look at {worst} "
        f"first ({residuals_px[worst]:.1f} px off), then at the others; a wide lens that bends straight lines "
        "or the wrong court size does this too."
    ]


def _most_doubtful(names: list[str], residuals_px: Mapping[str, float], floor: Floats, pixels: Floats) -> str:
    """The mark without which the others agree best; of five marks any four agree, so there the largest residual."""
    if len(names) == 5:
        return max(residuals_px, key=lambda name: residuals_px[name])

    def rest_misfit_px2(i: int) -> float:
        kept = np.arange(len(names)) != i
        H = solve_homography(floor[kept], pixels[kept])
        return float(((pixels[kept] - map_points(H, floor[kept])) ** 2).sum())

    return names[min(range(len(names)), key=rest_misfit_px2)]


def _about_places(view: View, names: list[str], pixels: Floats) -> list[str]:
    sentences = [
        f"{names[i]} and {names[j]} are marked on almost the same spot; check both."
        for i, j in combinations(range(len(names)), 2)
        if np.hypot(*(pixels[i] - pixels[j])) < SAME_SPOT_SD * view.click_sd_px
    ]
    reach = np.ptp(pixels, axis=0) / np.array(view.image_size)
    if (reach < SMALL_PART).all():
        sentences.append(
            "All marks lie close together in the picture; landings far from them are uncertain, "
            "so mark landmarks further apart."
        )
    return sentences


def _about_end_names(view: View) -> list[str]:
    if view.camera_position_m is None or abs(view.camera_position_m[1]) > TIE_M:
        return []
    end_m = view.court.half_length_m
    at_a, at_b = view.project([(0.0, -end_m), (0.0, end_m)])[:, 0]
    if at_a > at_b:
        return [
            "The camera stands level with the net, where end a should be the end on the picture's left; "
            "here it is the one on the right."
        ]
    return []


def _about_error(view: View, marked: int) -> list[str]:
    error = view.expected_error_m()
    told = [(end, error[f"end_{end}"]) for end in ("a", "b") if error[f"end_{end}"] > LARGE_ERROR_M]
    unknown = [end for end in ("a", "b") if not np.isfinite(error[f"end_{end}"])]
    sentences = [f"At the end line of end {end} this view cannot tell where a ball landed." for end in unknown]
    if told:
        places = " and ".join(f"{metres:.1f} m at the end line of end {end}" for end, metres in told)
        advice = "film from higher up" if marked > 5 else "mark more landmarks, or film from higher up"
        sentences.append(f"A landing can be told to within {places} only; {advice}.")
    return sentences

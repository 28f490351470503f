"""From the coach's marks of landmarks to a view, with residuals and warnings in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from serve_marker.camera.homography import (
    Floats,
    homography_covariance,
    map_points,
    solve_homography,
    third_coordinate,
)
from serve_marker.camera.pose import camera_position
from serve_marker.camera.view import Trace, View, default_click_sd_px
from serve_marker.camera.warn import warnings_of
from serve_marker.court.dimensions import Court, landmarks, net_landmarks
from serve_marker.errors import UserError

Marks = Mapping[str, tuple[float, float]]

IN_LINE_SD = 3.0
"""Marks that a line passes within this many click deviations count as lying in line."""
LENS_P = 0.01
"""Residuals less likely than this under clicks alone mean that the model misses something."""
END_B_NEARER_M = 1.0
SWAP_GAIN = 5.0
SWAP_SUSPECT_SHARE = 0.008


@dataclass(frozen=True, eq=False)
class Fit:
    """A view, how far each mark lies from where the view sees its landmark [px], and warnings."""

    view: View
    residuals_px: dict[str, float]
    warnings: list[str]


def fit_view(
    marks: Marks,
    court: Court,
    image_size: tuple[int, int],
    net_height_m: float,
    traces: Mapping[str, Trace] | None = None,
) -> Fit:
    """Fit a view to four or more marks [px] of floor landmarks.

    Marks of the net and traces of lines are kept in the view but do not enter the fit. Exact for four marks,
    maximum likelihood for more. Where the residuals exceed what clicks explain (chi-square, p < 0.01), their own
    standard deviation takes the place of the click's in the view's covariance and is added to every later click.

    Raises
    ------
    UserError : one sentence naming the marks, where they cannot be a view of this court.
    """
    check_marks(marks, court, image_size)
    places = landmarks(court)
    names = [name for name in places if name in marks]
    floor = np.array([places[name][:2] for name in names])
    pixels = np.array([marks[name] for name in names], dtype=float)
    sd_px = default_click_sd_px(image_size)
    _refuse_in_line(names, floor, pixels, IN_LINE_SD * sd_px)
    H = solve_homography(floor, pixels)
    _refuse_crossed(names, floor, pixels, H, image_size)
    residual = pixels - map_points(H, floor)
    misfit_px = _misfit_px(residual, sd_px)
    noise = np.broadcast_to(np.eye(2) * (misfit_px or sd_px) ** 2, (len(names), 2, 2))
    H_cov = homography_covariance(H, floor, noise)
    place = camera_position(H, H_cov, image_size)
    _refuse_turned(H, place, court)
    off_px = np.hypot(*residual.T)
    view = View(
        court=court,
        image_size=image_size,
        net_height_m=net_height_m,
        homography=H,
        homography_cov=H_cov,
        marks={name: (float(x), float(y)) for name, (x, y) in marks.items()},
        rms_px=float(np.sqrt(np.mean(off_px**2))),
        misfit_sd_px=misfit_px,
        camera_position_m=place,
        traces=dict(traces or {}),
    )
    residuals_px = dict(zip(names, off_px.tolist(), strict=True))
    return Fit(view, residuals_px, warnings_of(view, residuals_px, floor, pixels))


def check_marks(marks: Marks, court: Court, image_size: tuple[int, int]) -> None:
    """Refuse unknown names, pixels that are no numbers or outside the picture, and fewer than four floor marks."""
    places = landmarks(court)
    known = [*places, *net_landmarks(court, 1.0)]
    width, height = image_size
    for name, (x, y) in marks.items():
        if name not in known:
            raise UserError(f"There is no landmark called {name!r} on this court; choose from {', '.join(known)}.")
        if not (math.isfinite(x) and math.isfinite(y)):
            raise UserError(f"The mark {name} is not a number; click it again.")
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            raise UserError(
                f"The mark {name} lies outside the picture (x {x:g}, y {y:g} in {width} x {height}); "
                "mark only what the picture shows."
            )
    on_floor = [name for name in places if name in marks]
    if len(on_floor) < 4:
        have = f"only {_listed(on_floor)}" if on_floor else "none"
        raise UserError(f"A view needs four landmarks on the floor and has {have}; mark more.")


def _refuse_in_line(names: Sequence[str], floor: Floats, pixels: Floats, tolerance_px: float) -> None:
    """A homography needs four points of which no three lie in line: all but one in line is too few."""
    count = len(names)
    for kept in [list(range(count)), *(list(k) for k in combinations(range(count), count - 1))]:
        if _off_line(floor[kept]) < 1e-6 or _off_line(pixels[kept]) < tolerance_px:
            raise UserError(
                f"The marks {_listed([names[i] for i in kept])} lie nearly in line, which fixes no view; "
                "mark another landmark well away from that line."
            )


def _off_line(points: Floats) -> float:
    """Largest distance of points (N, 2) from their best straight line."""
    centred = points - points.mean(axis=0)
    normal = np.linalg.svd(centred)[2][1]
    return float(np.abs(centred @ normal).max())


def _refuse_crossed(
    names: Sequence[str], floor: Floats, pixels: Floats, H: Floats, image_size: tuple[int, int]
) -> None:
    """Seen from above the floor, landmarks keep their turning sense and all lie in front of the camera."""
    seen_from_above = _seen_from_above(H, floor)
    rms_px = _rms_px(H, floor, pixels)
    if seen_from_above and rms_px <= SWAP_SUSPECT_SHARE * max(image_size):
        return
    swap = _helpful_swap(names, floor, pixels, rms_px) if len(names) > 4 else None
    if swap:
        raise UserError(f"The marks {swap[0]} and {swap[1]} look swapped; click them again.")
    if not seen_from_above:
        raise UserError(
            f"The marks {_listed(names)} cross or are mirrored, so no camera can see the court like that; "
            "check left and right, and end a (near) and end b (far)."
        )


def _seen_from_above(H: Floats, floor: Floats) -> bool:
    return bool((third_coordinate(H, floor) > 0).all() and np.linalg.det(H) < 0)


def _rms_px(H: Floats, floor: Floats, pixels: Floats) -> float:
    return float(np.sqrt(((pixels - map_points(H, floor)) ** 2).sum(axis=1).mean()))


def _helpful_swap(names: Sequence[str], floor: Floats, pixels: Floats, rms_px: float) -> tuple[str, str] | None:
    """The pair of names whose exchange makes the marks fit far better than before and than any other exchange."""
    found: list[tuple[float, tuple[str, str]]] = []
    for i, j in combinations(range(len(names)), 2):
        order = list(range(len(names)))
        order[i], order[j] = j, i
        H = solve_homography(floor, pixels[order])
        if _seen_from_above(H, floor):
            found.append((_rms_px(H, floor, pixels[order]), (names[i], names[j])))
    found.sort()
    if not found or found[0][0] * SWAP_GAIN > rms_px or (len(found) > 1 and found[0][0] * SWAP_GAIN > found[1][0]):
        return None
    return found[0][1]


def _misfit_px(residual: Floats, sd_px: float) -> float:
    """Standard deviation per axis of residuals (N, 2) too large for clicks alone, else 0."""
    from scipy.special import chdtrc

    freedom = 2 * len(residual) - 8
    squares = float((residual**2).sum())
    if freedom == 0 or chdtrc(freedom, squares / sd_px**2) >= LENS_P:
        return 0.0
    return math.sqrt(squares / freedom)


def _refuse_turned(H: Floats, place: tuple[float, float, float] | None, court: Court) -> None:
    end_m = court.half_length_m
    if place is not None:
        end_b_nearer = place[1] > END_B_NEARER_M
    else:
        at_a, at_b = third_coordinate(H, np.array([(0.0, -end_m), (0.0, end_m)]))
        end_b_nearer = at_a > at_b
    if end_b_nearer:
        raise UserError(
            "By these marks end b is nearer the camera, but end a is the name of the nearer end; "
            "give each mark the name across the court (end-b/left becomes end-a/right, and so on)."
        )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

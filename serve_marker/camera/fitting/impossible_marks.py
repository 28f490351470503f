"""Marks that cannot be a view of a court: refused in one sentence that names them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from serve_marker.camera.view.homography import map_points, solve_homography, third_coordinate
from serve_marker.camera.view.view import Marks
from serve_marker.court.dimensions import Court, Floats, landmarks, net_landmarks
from serve_marker.errors import UserError

FEWEST_LANDMARKS = 4
"""So many on the floor a homography needs."""
IN_LINE_SD = 3.0
"""Marks that a line passes within this many click deviations count as lying in line."""
END_B_NEARER_M = 1.0
TURNED_WORDS = (
    "By these marks end b is nearer the camera: end a must be. "
    "Give each mark the name across the court: end-b/left becomes end-a/right."
)
SWAP_GAIN = 5.0
SWAP_SUSPECT_SHARE = 0.008


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
                f"The mark {name} lies outside the picture, at {x:g}, {y:g} in {width} × {height}. "
                "Mark only what the picture shows."
            )
    on_floor = [name for name in places if name in marks]
    if len(on_floor) < FEWEST_LANDMARKS:
        have = f"only {_listed(on_floor)}" if on_floor else "none"
        raise UserError(f"A view needs four landmarks on the floor and has {have}; mark more.")


def refuse_in_line(names: Sequence[str], floor: Floats, pixels: Floats, tolerance_px: float) -> None:
    """A homography needs four points of which no three lie in line: all but one in line is too few."""
    count = len(names)
    for kept in [list(range(count)), *(list(k) for k in combinations(range(count), count - 1))]:
        if _off_line(floor[kept]) < 1e-6 or _off_line(pixels[kept]) < tolerance_px:
            raise UserError(
                f"The marks {_listed([names[i] for i in kept])} lie nearly in line. "
                "Mark another landmark well away from that line."
            )


def _off_line(points: Floats) -> float:
    """Largest distance of points (N, 2) from their best straight line."""
    centred = points - points.mean(axis=0)
    normal = np.linalg.svd(centred)[2][1]
    return float(np.abs(centred @ normal).max())


def refuse_crossed(names: Sequence[str], floor: Floats, pixels: Floats, H: Floats, image_size: tuple[int, int]) -> None:
    """Seen from above the floor, landmarks keep their turning sense and all lie in front of the camera."""
    seen_from_above = _seen_from_above(H, floor)
    rms_px = _rms_px(H, floor, pixels)
    if seen_from_above and rms_px <= SWAP_SUSPECT_SHARE * max(image_size):
        return
    swap = _helpful_swap(names, floor, pixels, rms_px) if len(names) > FEWEST_LANDMARKS else None
    if swap:
        raise UserError(f"The marks {swap[0]} and {swap[1]} look swapped; click them again.")
    if not seen_from_above:
        raise UserError(
            f"No camera can see the court so: the marks {_listed(names)} cross or are mirrored. "
            "Check left and right, and end a (near) and end b (far)."
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


def refuse_turned(place_m: tuple[float, float, float]) -> None:
    """End a is the end nearer the camera, which stands at ``place_m`` (x, y, z)."""
    if place_m[1] > END_B_NEARER_M:
        raise UserError(TURNED_WORDS)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

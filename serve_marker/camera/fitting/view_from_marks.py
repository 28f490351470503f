"""From the coach's marks of landmarks to a view, with residuals and warnings in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.lens_choice import LensChoice, choose_camera, start_camera
from serve_marker.camera.fitting.net_check import NetSeen, net_marks, net_seen
from serve_marker.camera.fitting.observations import OTHER_LINE_SHARE, of_marks, of_traces, together
from serve_marker.camera.fitting.view_warnings import about_net, granted_words, warnings_of
from serve_marker.camera.view.homography import homography_covariance, map_points, solve_homography, third_coordinate
from serve_marker.camera.view.view import Trace, View, default_click_sd_px
from serve_marker.court.dimensions import Court, Floats, landmarks, net_landmarks
from serve_marker.errors import UserError

Marks = Mapping[str, tuple[float, float]]

IN_LINE_SD = 3.0
"""Marks that a line passes within this many click deviations count as lying in line."""
END_B_NEARER_M = 1.0
TURNED_WORDS = (
    "By these marks end b is nearer the camera, but end a is the name of the nearer end; "
    "give each mark the name across the court (end-b/left becomes end-a/right, and so on)."
)
SWAP_GAIN = 5.0
SWAP_SUSPECT_SHARE = 0.008


@dataclass(frozen=True, eq=False)
class Fit:
    """A view, how far each mark lies from where the view sees its landmark [px], and warnings.

    ``lens_model`` is "none", "k1" or "k1+k2"; ``hand`` is what the marks show of it,
    ``net`` what the marked net says of its height, None without marks.
    """

    view: View
    residuals_px: dict[str, float]
    warnings: list[str]
    hand: Hand
    lens_model: str = "none"
    net: NetSeen | None = None

    @property
    def taken_for_granted(self) -> str:
        """What no mark shows: the edge of the lines that was marked, and the court's size without marks of the net."""
        return granted_words(self.view.court, self.net)


def fit_view(
    marks: Marks,
    court: Court,
    image_size: tuple[int, int],
    net_height_m: float,
    traces: Mapping[str, Trace] | None = None,
    own_click_sd_px: float | None = None,
) -> Fit:
    """Fit a view to four or more marks [px] of floor landmarks.

    Points traced along lines count across their line, marks of the net and antennas as long as they agree with the
    net height. Lens, pose and homography are fitted together by maximum likelihood, with expectations of phones'
    cameras (`camera.fitting.bundle_adjustment`); how coarse the hand is follows from how far the marks miss and from
    what is expected of hands (`hand`), and is added to every later click. ``own_click_sd_px`` is the coach's measured
    click (`camera.fitting.repeatability`), in place of the default one.

    Raises
    ------
    UserError : one sentence naming the marks, where they cannot be a view of this court.
    """
    check_marks(marks, court, image_size)
    places = landmarks(court)
    names = [name for name in places if name in marks]
    floor = np.array([places[name][:2] for name in names])
    pixels = np.array([marks[name] for name in names], dtype=float)
    sd_px = own_click_sd_px or default_click_sd_px(image_size)
    _refuse_in_line(names, floor, pixels, IN_LINE_SD * sd_px)
    H = solve_homography(floor, pixels)
    _refuse_crossed(names, floor, pixels, H, image_size)
    H_cov = homography_covariance(H, floor, np.broadcast_to(np.eye(2) * sd_px**2, (len(names), 2, 2)))
    choice, net = _likeliest(
        H,
        H_cov,
        floor,
        pixels,
        marks,
        court,
        image_size,
        net_height_m,
        traces or {},
        sd_px,
        own_click_sd_px is not None,
    )
    camera = choice.camera
    _refuse_turned((float(camera.place_m[0]), float(camera.place_m[1]), float(camera.place_m[2])))
    jacobian = camera.view_jacobian()
    cov = jacobian @ choice.cov @ jacobian.T
    off_px = np.hypot(*choice.found.residual_px[: len(names)].T)
    view = View(
        court=court,
        image_size=image_size,
        net_height_m=net_height_m,
        homography=camera.homography,
        homography_cov=cov[:9, :9],
        marks={name: (float(x), float(y)) for name, (x, y) in marks.items()},
        rms_px=float(np.sqrt(np.mean(off_px**2))),
        misfit_sd_px=sd_px * math.sqrt(choice.noise**2 - 1),
        camera_position_m=(float(camera.place_m[0]), float(camera.place_m[1]), float(camera.place_m[2])),
        traces=dict(traces or {}),
        lens=camera.lens,
        rest_cov=cov[9:],
        focal_px=camera.focal_px,
        own_click_sd_px=own_click_sd_px,
    )
    residuals_px = dict(zip(names, off_px.tolist(), strict=True))
    told = [*about_net(net, court, net_height_m), *warnings_of(view, residuals_px, pixels, choice)]
    return Fit(view, residuals_px, told, choice.hand, choice.lens_model, net)


def _likeliest(
    H: Floats,
    H_cov: Floats,
    floor: Floats,
    pixels: Floats,
    marks: Marks,
    court: Court,
    image_size: tuple[int, int],
    net_height_m: float,
    traces: Mapping[str, Trace],
    sd_px: float,
    measured: bool,
) -> tuple[LensChoice, NetSeen | None]:
    on_floor = together(
        of_marks(np.column_stack([floor, np.zeros(len(floor))]), pixels, np.full(len(floor), sd_px)),
        of_traces(traces, court, H, sd_px, OTHER_LINE_SHARE * max(image_size)),
    )
    start = start_camera(H, H_cov, image_size)
    choice = choose_camera(start, on_floor, image_size, sd_px, measured) if start else None
    if choice is None:
        raise UserError("No camera can stand where these marks put it; check each mark's name and the court's size.")
    shown = choice.hand.shown
    above = net_marks(marks, court, net_height_m, choice.camera, sd_px * shown)
    if above is None:
        return choice, None
    net = net_seen(above, net_height_m, choice.camera, choice.cov * (shown / choice.noise) ** 2)
    if net.at_odds:
        return choice, net
    return choose_camera(choice.camera, together(on_floor, above), image_size, sd_px, measured) or choice, net


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


def _refuse_turned(place_m: tuple[float, float, float]) -> None:
    if place_m[1] > END_B_NEARER_M:
        raise UserError(TURNED_WORDS)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

"""From the coach's marks of landmarks to a view, with residuals and warnings in plain words."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.bundle_adjustment import Observations
from serve_marker.camera.fitting.doubtful_marks import wrong_crossing
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.impossible_marks import (
    IN_LINE_SD,
    check_marks,
    refuse_crossed,
    refuse_in_line,
    refuse_turned,
)
from serve_marker.camera.fitting.lens_choice import LensChoice, choose_camera, start_camera
from serve_marker.camera.fitting.net_check import NetSeen, net_marks, net_seen
from serve_marker.camera.fitting.observations import OTHER_LINE_SHARE, of_marks, of_traces, together
from serve_marker.camera.fitting.view_warnings import about_net, granted_words, warnings_of
from serve_marker.camera.view.homography import homography_covariance, solve_homography
from serve_marker.camera.view.landmark_ways import CROSSING_SD_PX, is_crossing, ways_of
from serve_marker.camera.view.model import CameraModel
from serve_marker.camera.view.view import Marks, Trace, View, default_click_sd_px
from serve_marker.court.dimensions import Court, Floats, landmarks
from serve_marker.errors import UserError


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
    clicked: Marks | None = None,
) -> Fit:
    """Fit a view to four or more marks [px] of floor landmarks.

    Points traced along lines count across their line, marks of the net and antennas as long as they agree with the
    net height. Lens, pose and homography are fitted together by maximum likelihood, with expectations of phones'
    cameras (`camera.fitting.bundle_adjustment`); how coarse the hand is follows from how far the marks miss, from
    how far they moved to crossings and from what is expected of hands (`hand`), and is added to every later click.

    Parameters
    ----------
    own_click_sd_px : the coach's measured click (`camera.fitting.repeatability`), in place of the default one.
    clicked : where marks were clicked that moved to the crossing of their lines, and those that found none, unmoved.
        A mark at a crossing counts as such while it fits; one that clearly does not counts as it was clicked.

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
    refuse_in_line(names, floor, pixels, IN_LINE_SD * sd_px)
    H = solve_homography(floor, pixels)
    refuse_crossed(names, floor, pixels, H, image_size)
    H_cov = homography_covariance(H, floor, np.broadcast_to(np.eye(2) * sd_px**2, (len(names), 2, 2)))
    clicked = {name: pixel for name, pixel in (clicked or {}).items() if name in marks}
    at_crossing = [is_crossing(name, marks, clicked) for name in names]
    as_clicked = np.array([clicked.get(name, marks[name]) for name in names], dtype=float)
    hand = Hand(0.0, 0.0, sd_px, own_click_sd_px is not None, ways_of(names, marks, clicked))
    choice, net = _likeliest(
        start_camera(H, H_cov, image_size),
        _seen_on_floor(floor, pixels, np.array(at_crossing), hand),
        as_clicked,
        of_traces(traces or {}, court, H, sd_px, OTHER_LINE_SHARE * max(image_size)),
        hand,
        image_size,
        lambda camera, above_sd_px: net_marks(marks, court, net_height_m, camera, above_sd_px),
        net_height_m,
    )
    camera = choice.camera
    refuse_turned((float(camera.place_m[0]), float(camera.place_m[1]), float(camera.place_m[2])))
    jacobian = camera.view_jacobian()
    cov = jacobian @ choice.cov @ jacobian.T
    off_px = np.hypot(*(pixels - camera.shown(np.column_stack([floor, np.zeros(len(floor))]))).T)
    view = View(
        court=court,
        image_size=image_size,
        net_height_m=net_height_m,
        homography=camera.homography,
        homography_cov=cov[:9, :9],
        marks={name: (float(x), float(y)) for name, (x, y) in marks.items()},
        rms_px=float(np.sqrt(np.mean(off_px**2))),
        misfit_sd_px=choice.misfit_sd_px,
        camera_position_m=(float(camera.place_m[0]), float(camera.place_m[1]), float(camera.place_m[2])),
        traces=dict(traces or {}),
        lens=camera.lens,
        rest_cov=cov[9:],
        focal_px=camera.focal_px,
        own_click_sd_px=own_click_sd_px,
        clicked=clicked,
        crossing_misfit_sd_px=_crossing_misfit_sd_px(off_px[np.array(at_crossing)]),
    )
    residuals_px = dict(zip(names, off_px.tolist(), strict=True))
    told = [*about_net(net, court, net_height_m), *warnings_of(view, residuals_px, pixels, choice)]
    return Fit(view, residuals_px, told, choice.hand, choice.lens_model, net)


def _crossing_misfit_sd_px(off_px: Floats) -> float | None:
    """How far the camera misses the crossings (N,), per axis, and a crossing the landmark; None without crossings."""
    return math.hypot(math.sqrt(np.mean(off_px**2) / 2), CROSSING_SD_PX) if len(off_px) else None


def _seen_on_floor(floor_m: Floats, pixels: Floats, at_crossing: NDArray[np.bool_], hand: Hand) -> Observations:
    """Marks (N, 2) of floor points (N, 2), each as sure as a careful click or a crossing is."""
    sd_px = np.full(len(pixels), hand.click_sd_px)
    sd_px[at_crossing] = hand.crossing_sd_px()
    return of_marks(np.column_stack([floor_m, np.zeros(len(floor_m))]), pixels, sd_px, at_crossing)


def _likeliest(
    start: CameraModel | None,
    marked: Observations,
    as_clicked: Floats,
    traced: Observations,
    hand: Hand,
    image_size: tuple[int, int],
    net_at: Callable[[CameraModel, float], Observations | None],
    net_height_m: float,
) -> tuple[LensChoice, NetSeen | None]:
    choice = choose_camera(start, together(marked, traced), image_size, hand) if start else None
    while choice is not None and (wrong := wrong_crossing(choice, len(as_clicked))) is not None:
        marked, hand = _as_clicked(marked, wrong, as_clicked[wrong], hand)
        choice = choose_camera(choice.camera, together(marked, traced), image_size, hand)
    if choice is None:
        raise UserError("No camera can stand where these marks put it. Check their names and the court's size.")
    shown = choice.hand.shown
    above = net_at(choice.camera, hand.click_sd_px * shown)
    if above is None:
        return choice, None
    doubt = 1.0 if marked.crossing.any() else shown / choice.hand.over_click
    net = net_seen(above, net_height_m, choice.camera, choice.cov * doubt**2)
    if net.at_odds:
        return choice, net
    return choose_camera(choice.camera, together(marked, traced, above), image_size, hand) or choice, net


def _as_clicked(marked: Observations, i: int, pixel: Floats, hand: Hand) -> tuple[Observations, Hand]:
    """The marks with one back where it was clicked, and what the others' ways tell of the hand."""
    left = replace(hand, ways=hand.ways.without(int(marked.crossing[:i].sum())))
    pixels, at_crossing = marked.pixels_px.copy(), marked.crossing.copy()
    pixels[i], at_crossing[i] = pixel, False
    return _seen_on_floor(marked.points_m[:, :2], pixels, at_crossing, left), left

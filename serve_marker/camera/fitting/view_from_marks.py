"""From the coach's marks of landmarks to a view, with residuals and warnings in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

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
    refuse_in_line(names, floor, pixels, IN_LINE_SD * sd_px)
    H = solve_homography(floor, pixels)
    refuse_crossed(names, floor, pixels, H, image_size)
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
    refuse_turned((float(camera.place_m[0]), float(camera.place_m[1]), float(camera.place_m[2])))
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
        raise UserError("No camera can stand where these marks put it. Check their names and the court's size.")
    shown = choice.hand.shown
    above = net_marks(marks, court, net_height_m, choice.camera, sd_px * shown)
    if above is None:
        return choice, None
    net = net_seen(above, net_height_m, choice.camera, choice.cov * (shown / choice.noise) ** 2)
    if net.at_odds:
        return choice, net
    return choose_camera(choice.camera, together(on_floor, above), image_size, sd_px, measured) or choice, net

"""The net as drawn against a camera known by hand; bands of error against the map they were made of."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting.error_map import ErrorMap
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.report.net_and_error_overlay import error_overlay, net_overlay
from serve_marker.report.overlay_items import Label, Polyline, Region

COURT = COURTS["indoor"]
FOCAL_PX, SIZE = 1100.0, (1920, 1080)
CAMERA_M = np.array([0.5, -15.0, 6.0])


def seen(points_m):
    """Pixels of points (N, 3) for a camera 6 m up behind end a that looks at the net's foot."""
    forward = -CAMERA_M / np.linalg.norm(CAMERA_M)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    out = np.asarray(points_m, dtype=float) - CAMERA_M
    depth = out @ forward
    return np.column_stack([out @ right / depth, out @ np.cross(forward, right) / depth]) * FOCAL_PX + (959.5, 539.5)


@pytest.fixture(scope="module")
def view():
    places = landmarks(COURT)
    pixels = seen(list(places.values()))
    return fit_view({name: tuple(pixel) for name, pixel in zip(places, pixels, strict=True)}, COURT, SIZE, 2.24).view


def test_net_and_antennas_stand_where_the_rules_put_them(view):
    """Net 1 m deep, antennas 0.8 m above it: FIVB Official Volleyball Rules 2025-2028, 2.2 and 2.4."""
    lines = {(item.points_px[0], item.points_px[-1]) for item in net_overlay(view)}
    wanted = [((-4.5, 0, 1.24), (4.5, 0, 1.24)), ((-4.5, 0, 1.24), (-4.5, 0, 3.04)), ((4.5, 0, 1.24), (4.5, 0, 3.04))]
    for ends_m in wanted:
        truth = seen(ends_m)
        assert any(np.abs(np.array(line) - truth).max() < 1.0 for line in lines)


def ringed() -> ErrorMap:
    """An error that grows with the distance from the court's middle, so that all bands but the first have a hole."""
    x_m, y_m = np.linspace(-4.5, 4.5, 73), np.linspace(-9, 9, 145)
    error_m = 0.07 * np.hypot(*np.meshgrid(x_m, y_m))
    return ErrorMap(x_m, y_m, error_m, 0.63, 0.63)


def test_each_place_is_drawn_in_the_band_of_its_error(view):
    found = ringed()
    regions = [item for item in error_overlay(view, found) if isinstance(item, Region)]
    levels_m = (0.0, 0.05, 0.10, 0.20, 0.50, np.inf)
    chance = np.random.default_rng(4)
    places_m = np.column_stack([chance.uniform(-4.4, 4.4, 400), chance.uniform(-8.9, 8.9, 400)])
    error_m = 0.07 * np.hypot(*places_m.T)
    clear = np.abs(error_m[:, None] - levels_m[1:5]).min(axis=1) > 0.02
    for place_m, error in zip(places_m[clear], error_m[clear], strict=True):
        pixel = view.project([place_m])[0]
        held = [item.role for item in regions if _odd_even(item.points_px, pixel)]
        band = 1 + next(k for k, high in enumerate(levels_m[1:]) if error <= high)
        assert held == [f"error-{band}"]


def _odd_even(points_px, pixel) -> bool:
    """Whether a painter that fills by the odd-even rule covers a pixel."""
    x, y = np.array(points_px).T
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    crosses = (y > pixel[1]) != (next_y > pixel[1])
    with np.errstate(all="ignore"):
        at_x = x + (pixel[1] - y) / (next_y - y) * (next_x - x)
    return bool(np.count_nonzero(crosses & (at_x > pixel[0])) % 2)


def test_both_end_lines_carry_their_number(view):
    labels = [item.text for item in error_overlay(view, ringed()) if isinstance(item, Label)]
    assert {"near end line: 63 cm", "far end line: 63 cm"} <= set(labels)


def test_a_court_partly_out_of_the_picture_is_drawn_as_far_as_it_is_known(view):
    found = ringed()
    error_m = found.error_m.copy()
    error_m[:40] = np.nan
    items = error_overlay(view, ErrorMap(found.x_m, found.y_m, error_m, float("nan"), 0.63))
    lowest_px = max(pixel[1] for item in items if isinstance(item, Polyline) for pixel in item.points_px)
    edge_px = view.project([(x_m, float(found.y_m[40])) for x_m in (-4.5, 4.5)])
    assert lowest_px == pytest.approx(edge_px[:, 1].max(), abs=0.5)
    assert not any(isinstance(item, Label) and item.text.startswith("near") for item in items)


def test_nothing_known_draws_no_band(view):
    found = ringed()
    items = error_overlay(view, ErrorMap(found.x_m, found.y_m, np.full_like(found.error_m, np.nan), np.nan, np.nan))
    assert not any(isinstance(item, Region) for item in items)

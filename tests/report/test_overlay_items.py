import dataclasses
import itertools
import math

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.court.formations import preset
from serve_marker.logbook.outcomes import OUTCOMES
from serve_marker.logbook.records import FloorPoint, Mark, Serve
from serve_marker.marking.judging import judge
from serve_marker.report import overlay_items as overlay
from serve_marker.report.colours import COLOURS, OKABE_ITO
from serve_marker.study.serve_shape import shape_of

COURT = COURTS["indoor"]
SCHEME = default_scheme(COURT)
SIZE = (1920, 1080)
FOCAL_PX = 1500.0
CAMERA_M = np.array([0.5, -13.0, 4.0])


def seen_by_camera(points_m):
    """Pixels of floor points for a camera 4 m up behind end a that looks at the far attack line."""
    forward = np.array([0.0, 3.0, 0.0]) - CAMERA_M
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    out = np.column_stack([points_m, np.zeros(len(points_m))]) - CAMERA_M
    depth = out @ forward
    return np.column_stack([out @ right / depth, out @ down / depth]) * FOCAL_PX + np.array([960, 540])


@pytest.fixture(scope="module")
def view():
    names = [name for name in landmarks(COURT) if not name.startswith("end-a")]
    pixels = seen_by_camera(np.array([landmarks(COURT)[name][:2] for name in names]))
    marks = {name: (float(x), float(y)) for name, (x, y) in zip(names, pixels, strict=True)}
    return fit_view(marks, COURT, SIZE, 2.24).view


def serve_at(half_x_m, half_y_m, sd_m=0.05, aim="deep 1", **more):
    point = FloorPoint(half_x_m - 4.5, half_y_m, sd_m**2, 0.0, sd_m**2)
    return Serve(id="s", clip_id="c", served_to="b", aim=aim, landing_point=point, **more)


@pytest.mark.parametrize(
    ("serve", "shape"),
    [
        (serve_at(1.5, 7.5), "disc"),
        (serve_at(4.5, 7.5), "ring"),
        (serve_at(4.5, 7.5, aim=""), "ring"),
        (serve_at(1.5, 9.6), "cross"),
        (serve_at(1.5, 9.06), "square"),
        (serve_at(2.95, 7.5), "half-disc"),
        (serve_at(1.5, 7.5, outcome="received"), "disc"),
        (serve_at(2.8, 7.5, sd_m=0.5, outcome="received"), "diamond"),
        (serve_at(1.5, 8.9, sd_m=0.5, outcome="received"), "diamond"),
        (serve_at(4.5, 7.5, outcome="received"), "diamond"),
        (serve_at(1.5, 9.6, outcome="received"), "diamond"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="received"), "diamond"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="net"), "bar"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="fault"), "bar"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="out"), "cross"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="target"), "disc"),
        (Serve(id="s", clip_id="c", aim="deep 1", outcome="floor"), "caret"),
    ],
)
def test_one_shape_per_serve(serve, shape):
    assert overlay.shape_for(serve, judge(serve, COURT, SCHEME)) == shape


@pytest.mark.parametrize("outcome", OUTCOMES)
@pytest.mark.parametrize("verdict", ["in", "out", "too close", ""])
def test_every_serve_has_a_shape_and_every_shape_a_colour(outcome, verdict):
    for hit, surely, may in itertools.product((True, False, None), (True, False), (True, False)):
        shape = shape_of(outcome, verdict, hit, surely, may)
        assert shape in overlay.SHAPES
        assert all(colours.of(shape) for colours in COLOURS.values())


def test_light_shapes_are_of_the_okabe_ito_set_and_grey_is_grey():
    assert set(COLOURS["light"].shapes.values()) <= set(OKABE_ITO.values())
    for colour in (*COLOURS["grey"].shapes.values(), *COLOURS["grey"].roles.values()):
        assert colour[1:3] == colour[3:5] == colour[5:7]
    assert COLOURS["light"].roles.keys() == COLOURS["dark"].roles.keys() == COLOURS["grey"].roles.keys()
    with pytest.raises(ValueError, match="neither a shape nor a role"):
        COLOURS["light"].of("mauve")


def test_the_painted_lines_lie_where_the_camera_sees_them(view):
    outlines = [item for item in overlay.court_overlay(view) if isinstance(item, overlay.Polyline)]
    drawn = np.array([point for item in outlines for point in item.points_px])
    corner_px = seen_by_camera(np.array([[-4.5, 9.0], [4.5, 3.0]]))
    for corner in corner_px:
        assert np.hypot(*(drawn - corner).T).min() < 0.1


def test_what_lies_behind_the_camera_is_cut_off_and_not_mirrored(view):
    everything = np.array([[-4.5, 9.0], [4.5, 9.0], [4.5, -40.0], [-4.5, -40.0]])
    outline_px = np.array(overlay.floor_outline(view, everything))
    end_px = seen_by_camera(np.array([[-4.5, 9.0], [4.5, 9.0]]))
    assert outline_px[:, 1].min() >= end_px[:, 1].min() - 1.0, "nothing above the far end line"
    assert overlay.floor_outline(view, everything - np.array([0.0, 80.0])) == ()


def test_floor_close_before_a_low_camera_is_still_drawn():
    """A level camera 1.2 m up, 1.5 m behind end a, 1500 px: depth is y + 10.5 m, the near corners 1.5 m away."""

    def seen(points_m):
        depth = points_m[:, 1] + 10.5
        return np.column_stack([959.5 + 1500 * points_m[:, 0] / depth, 539.5 + 1500 * 1.2 / depth])

    places = {name: np.array([place[:2]]) for name, place in landmarks(COURT).items() if not name.startswith("end-a")}
    view = fit_view(
        {name: tuple(seen(at)[0].tolist()) for name, at in places.items() if seen(at)[0, 0] > 0}, COURT, SIZE, 2.24
    ).view
    outline_px = np.array(overlay.floor_outline(view, np.array([[-4.5, 9.0], [4.5, 9.0], [4.5, -9.0], [-4.5, -9.0]])))
    for corner_px in seen(np.array([[4.5, -9.0], [-4.5, -9.0]])):
        assert np.hypot(*(outline_px - corner_px).T).min() < 2.0


def test_the_aim_is_tinted_at_the_end_served_to(view):
    aim = parse_aim("deep 1", COURT, SCHEME)
    region, border = overlay.aim_overlay(view, aim, "b")
    middle_px = seen_by_camera(np.array([[-3.0, 7.5]]))
    assert isinstance(region, overlay.Region)
    assert (region.role, border.role) == ("aim", "aim")
    assert np.mean(region.points_px, axis=0) == pytest.approx(middle_px[0], abs=25)
    assert overlay.aim_overlay(view, None, "b") == overlay.aim_overlay(view, aim, None) == ()


def test_a_still_has_lines_aim_landing_error_and_legend(view):
    serve = serve_at(1.5, 7.5)
    judged = judge(serve, COURT, SCHEME)
    items = overlay.serve_overlay(view, serve, judged, parse_aim("deep 1", COURT, SCHEME))
    spot = next(item for item in items if isinstance(item, overlay.Spot))
    truth_px = seen_by_camera(np.array([[-3.0, 7.5]]))
    assert spot.shape == "disc"
    assert spot.centre_px == pytest.approx(tuple(truth_px[0]), abs=0.1)
    assert {item.role for item in items} >= {"court-line", "aim", "error", "landing", "legend"}
    assert items[-1] == overlay.Legend((("disc", "on target"), ("", overlay.ERROR_WORDS)))
    hash(items)


def test_a_serve_that_never_landed_has_no_mark(view):
    net = Serve(id="s", clip_id="c", outcome="net")
    assert overlay.landing_overlay(view, net, judge(net, COURT, SCHEME)) == ()


def test_a_practice_shows_every_landing_with_the_marks_on_top(view):
    serves = [serve_at(1.5, 7.5), serve_at(4.5, 7.5), serve_at(1.5, 9.6)]
    serves = [dataclasses.replace(serve, id=str(n)) for n, serve in enumerate(serves)]
    judged, aim = [judge(serve, COURT, SCHEME) for serve in serves], parse_aim("deep 1", COURT, SCHEME)
    items = overlay.practice_overlay(view, serves, judged, [aim, aim, None])
    kinds = [type(item).__name__ for item in items]
    assert [item.shape for item in items if isinstance(item, overlay.Spot)] == ["disc", "ring", "cross"]
    assert kinds.index("Spot") > max(n for n, item in enumerate(items) if item.role == "error")
    assert [item.text for item in items if isinstance(item, overlay.Label)] == ["deep 1"], "one aim, named once"
    counted = (("disc", "on target: 1"), ("ring", "in, missed the aim: 1"), ("cross", "out: 1"))
    assert items[-1] == overlay.Legend((*counted, ("", overlay.ERROR_WORDS)))
    with pytest.raises(ValueError, match="shorter"):
        overlay.practice_overlay(view, serves, [], [])


@pytest.mark.parametrize(("count", "with_errors"), [(12, True), (13, False)])
def test_errors_are_drawn_only_where_landings_are_few(view, count: int, with_errors: bool):
    serves = [dataclasses.replace(serve_at(1.0 + 0.1 * n, 7.5), id=str(n)) for n in range(count)]
    items = overlay.practice_overlay(view, serves, [judge(one, COURT, SCHEME) for one in serves], [None] * count)
    assert sum(isinstance(item, overlay.Spot) for item in items) == count
    assert any(item.role == "error" for item in items) is with_errors
    assert any(words == overlay.ERROR_WORDS for _, words in items[-1].entries) is with_errors


def test_the_longer_axis_of_ebdons_ellipse():
    """D. Ebdon, Statistics in Geography (1985): 1.334816 long, 58.2825 degrees from +x; 0.709916 across."""
    ring = overlay.ellipse_polygon(np.zeros(2), np.array([[6, 4], [4, 10]]) / 7, 1.0, corners=100_000)
    far = ring[np.hypot(*ring.T).argmax()]
    assert np.hypot(*far) == pytest.approx(1.334816, abs=5e-7)
    assert np.degrees(np.arctan2(far[1], far[0])) % 180 == pytest.approx(58.2825, abs=5e-3)
    assert np.hypot(*ring.T).min() == pytest.approx(0.709916, abs=5e-7)


def test_the_error_ellipse_holds_its_axes_at_true_size():
    """Half-axes of the 95 % ellipse are 2.4477 standard deviations (chi-square with 2 degrees, 5.991)."""
    ring = overlay.error_ellipse_m(FloorPoint(1.0, 2.0, 0.04, 0.0, 0.01), corners=400)
    assert np.ptp(ring, axis=0) / 2 == pytest.approx([2.4477 * 0.2, 2.4477 * 0.1], abs=1e-3)
    turned = overlay.error_ellipse_m(FloorPoint(0.0, 0.0, 0.025, 0.015, 0.025), corners=400)
    assert math.hypot(*turned[np.argmax(np.hypot(*turned.T))]) == pytest.approx(2.4477 * 0.2, abs=1e-3)


def test_a_still_names_the_passers_and_leaves_seams_and_ways_on_film_to_the_marks(view):
    seen_px = ((600.0, 300.0), (610.0, 320.0), (615.0, 310.0))
    film_marks = tuple(Mark(0.1 * n, pixel, 0.03, 0.03) for n, pixel in enumerate(seen_px))
    at_m = FloorPoint(0.0, -6.0, 0.01, 0.0, 0.01)
    serve = Serve(id="s", clip_id="c", served_to="a", landing_point=at_m, film_marks=film_marks)
    judged, passers = judge(serve, COURT, SCHEME), preset(3, "up", COURT)
    marked = (*overlay.landing_overlay(view, serve, judged), *overlay.formation_overlay(view, passers, "a"))
    still = overlay.serve_overlay(view, serve, judged, None, (), passers)
    assert {"film", "seam"} <= {item.role for item in marked}
    assert not {"film", "seam"} & {item.role for item in still}
    named = [item.text for item in still if isinstance(item, overlay.Label)]
    assert named == [passer.label for passer in passers.passers]
    assert still[-1] == overlay.Legend((("ring", "in, missed the aim"), ("", overlay.ERROR_WORDS)))


def test_a_found_serve_is_drawn_with_its_flight_and_a_ring_of_one_size_on_the_floor(view):
    serve = serve_at(1.5, 7.5)
    flight_px = [(400.0, 300.0), (800.0, 200.0), (900.0, 500.0)]

    flight, ring, *landed = overlay.proposal_overlay(view, flight_px, serve, judge(serve, COURT, SCHEME))

    assert flight == overlay.Polyline(tuple(flight_px), "flight")
    ring_m, _ = view.locate(np.array(ring.points_px))
    away_m = np.hypot(*(ring_m - [serve.landing_point.x_m, serve.landing_point.y_m]).T)
    assert away_m.max() == pytest.approx(overlay.PROPOSAL_RING_M, rel=0.02)
    assert landed == list(overlay.landing_overlay(view, serve, judge(serve, COURT, SCHEME)))


def test_a_found_serve_without_a_place_keeps_its_flight_alone(view):
    serve = Serve(id="s", clip_id="c", served_to="b", outcome="net")
    flight_px = ((400.0, 300.0), (800.0, 200.0))
    drawn = overlay.proposal_overlay(view, flight_px, serve, judge(serve, COURT, SCHEME))
    assert drawn == (overlay.Polyline(flight_px, "flight"),)

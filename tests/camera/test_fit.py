"""Marks to views: exact cameras come back, impossible marks are refused by name, doubtful ones warned of."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import court_named, landmarks, net_landmarks
from serve_marker.errors import UserError

COURT = court_named("indoor")
PLACES = landmarks(COURT)
NET_M = 2.24


def swapped(marks, one, other):
    return {**marks, one: marks[other], other: marks[one]}


def far_side(name):
    """The same landmark when the ends are named the other way round."""
    line, side = name.split("/")
    turned = {"a": "b", "b": "a"}
    line = line if line == "centre" else f"{line[:-1]}{turned[line[-1]]}"
    return f"{line}/{'left' if side == 'right' else 'right'}"


def test_exact_marks_give_the_camera_back(camera):
    fit = fit_view(camera.marks(PLACES), COURT, camera.size, NET_M)
    assert fit.view.rms_px == pytest.approx(0, abs=1e-3)
    assert fit.view.misfit_sd_px == 0
    assert fit.view.camera_position_m is not None
    np.testing.assert_allclose(fit.view.camera_position_m, camera.place_m, atol=0.01)
    floor = np.array([(x, y) for x, y, _ in PLACES.values()])
    air = np.array([(x, y, 2.5) for x, y in floor])
    seen = np.isfinite(camera.project(air)).all(axis=1)
    np.testing.assert_allclose(fit.view.project(air)[seen], camera.project(air)[seen], atol=0.5)
    xy_m, _ = fit.view.locate(camera.project(np.column_stack([floor, np.zeros(len(floor))])))
    np.testing.assert_allclose(xy_m, floor, atol=1e-4)


@pytest.mark.parametrize("dropped", ["end-a/left", "end-b/right", "attack-a/left", "centre/right"])
def test_any_landmark_may_be_missing(dropped, camera_named):
    camera = camera_named("stand")
    marks = {name: pixel for name, pixel in camera.marks(PLACES).items() if name != dropped}
    assert fit_view(marks, COURT, camera.size, NET_M).view.rms_px < 1e-3


def test_impossible_marks_of_the_net_and_traces_are_kept_but_do_not_count(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    wrong_net = dict.fromkeys(net_landmarks(COURT, NET_M), (5.0, 5.0))
    trace = {"end-b": ((1.0, 2.0), (3.0, 4.0))}
    fit = fit_view({**marks, **wrong_net}, COURT, camera.size, NET_M, trace)
    assert set(fit.view.marks) == {*marks, *wrong_net}
    assert fit.view.traces == trace
    assert set(fit.residuals_px) == set(marks)
    assert fit.view.rms_px < 1e-3
    assert any("net's top fit no net height" in sentence for sentence in fit.warnings)
    assert any("traced along the end line of end b" in sentence for sentence in fit.warnings)


REFUSED = [
    ("three marks", lambda m: dict(list(m.items())[:3]), ["four landmarks", "end-b/left"]),
    ("no marks", lambda m: {}, ["four landmarks", "none"]),
    ("net marks alone", lambda m: {"net-top/left": (9.0, 9.0)}, ["four landmarks"]),
    ("unknown name", lambda m: {**m, "end-c/left": (5.0, 5.0)}, ["'end-c/left'", "end-a/left"]),
    ("outside", lambda m: {**m, "end-b/left": (2500.0, 300.0)}, ["end-b/left", "outside the picture"]),
    ("above", lambda m: {**m, "end-b/left": (100.0, -40.0)}, ["end-b/left", "outside the picture"]),
    ("no number", lambda m: {**m, "end-b/left": (float("nan"), 3.0)}, ["end-b/left", "not a number"]),
    ("infinite", lambda m: {**m, "end-b/left": (float("inf"), 3.0)}, ["end-b/left", "not a number"]),
    (
        "two swapped of ten",
        lambda m: swapped(m, "end-b/left", "end-b/right"),
        ["end-b/left and end-b/right", "swapped"],
    ),
    (
        "near swapped with far",
        lambda m: swapped(m, "attack-a/left", "attack-b/left"),
        ["attack-a/left and attack-b/left", "swapped"],
    ),
    ("ends named the wrong way", lambda m: {far_side(n): p for n, p in m.items()}, ["end b is nearer the camera"]),
    ("mirrored", lambda m: {n: (1919 - x, y) for n, (x, y) in m.items()}, ["cross or are mirrored"]),
]


@pytest.mark.parametrize(("change", "words"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_the_marks_named(change, words, camera_named):
    camera = camera_named("stand")
    with pytest.raises(UserError) as refusal:
        fit_view(change(camera.marks(PLACES)), COURT, camera.size, NET_M)
    sentence = str(refusal.value)
    assert all(word in sentence for word in words), sentence
    assert sentence.endswith(".")


FOURS = [
    (("end-b/left", "attack-b/left", "centre/left", "end-b/right"), "nearly in line"),
    (("end-b/left", "attack-b/left", "centre/left", "attack-a/left"), "nearly in line"),
    (("end-b/left", "attack-b/left", "centre/left", "attack-a/left", "end-a/right"), "nearly in line"),
]


@pytest.mark.parametrize(("chosen", "words"), FOURS)
def test_too_many_in_line(chosen, words, camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    with pytest.raises(UserError, match=words) as refusal:
        fit_view({name: marks[name] for name in chosen}, COURT, camera.size, NET_M)
    assert "attack-b/left" in str(refusal.value)


def test_six_along_both_sidelines_are_fine(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    chosen = [f"{line}/{side}" for line in ("end-b", "centre", "attack-a") for side in ("left", "right")]
    assert fit_view({name: marks[name] for name in chosen}, COURT, camera.size, NET_M).view.rms_px < 1e-3


@pytest.mark.parametrize(
    "crossing", [("end-b/left", "end-b/right"), ("end-b/left", "attack-a/left"), ("end-b/left", "attack-a/right")]
)
def test_any_two_of_four_crossed(crossing, camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    four = {name: marks[name] for name in ("end-b/left", "end-b/right", "attack-a/left", "attack-a/right")}
    with pytest.raises(UserError, match=r"cross or are mirrored|end b is nearer"):
        fit_view(swapped(four, *crossing), COURT, camera.size, NET_M)


def test_large_residual_names_the_worst_mark(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    x, y = marks["attack-a/right"]
    fit = fit_view({**marks, "attack-a/right": (x + 12.0, y)}, COURT, camera.size, NET_M)
    assert fit.warnings[0] == "The mark attack-a/right lies 12 px off. Click it again."
    assert fit.view.misfit_sd_px > 2


def test_careful_clicks_raise_no_warning_and_little_misfit(camera_named):
    camera = camera_named("stand")
    rng = np.random.default_rng(3)
    marks = {name: tuple(rng.normal(pixel, 0.7)) for name, pixel in camera.marks(PLACES).items()}
    fit = fit_view(marks, COURT, camera.size, NET_M)
    assert fit.warnings == []
    assert fit.view.misfit_sd_px < 0.5


def test_one_careful_set_of_marks_in_twenty_is_warned_of(camera_named):
    """Ellipses widen for marks that stray less than is worth a warning."""
    camera = camera_named("stand")
    rng = np.random.default_rng(5)
    exact, warned, widened = camera.marks(PLACES), 0, 0
    for _ in range(60):
        fit = fit_view(
            {name: tuple(rng.normal(pixel, 1.0)) for name, pixel in exact.items()}, COURT, camera.size, NET_M
        )
        warned += any("more than careful clicks do" in sentence for sentence in fit.warnings)
        widened += fit.view.misfit_sd_px > 0
    assert warned <= 3 < widened


def test_warned_of_four_marks_of_one_spot_and_of_a_small_corner(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(PLACES)
    four = ("end-b/left", "end-b/right", "attack-b/left", "attack-b/right")
    few = fit_view({name: marks[name] for name in four}, COURT, camera.size, NET_M)
    assert any("With four marks" in sentence for sentence in few.warnings)
    five = {name: marks[name] for name in (*four, "end-a/left")}
    assert any("With five marks" in told for told in fit_view(five, COURT, camera.size, NET_M).warnings)
    six = {name: marks[name] for name in (*five, "end-a/right")}
    assert fit_view(six, COURT, camera.size, NET_M).warnings == []
    small = {name: (900 + x / 10, 500 + y / 10) for name, (x, y) in marks.items()}
    together = fit_view(small, COURT, camera.size, NET_M)
    assert any("close together" in sentence for sentence in together.warnings)


def test_warned_where_the_far_end_is_uncertain(camera_named):
    camera = camera_named("low tripod")
    fit = fit_view(camera.marks(PLACES), COURT, camera.size, NET_M)
    assert any("end line of end b" in sentence and "higher" in sentence for sentence in fit.warnings)


def test_sixty_by_thirty_feet_taken_for_the_smaller_court(camera_named):
    """A 60 x 30 ft court read as 18 x 9 m makes every length 1.57 % short."""
    camera = camera_named("stand")
    school = court_named("high-school")
    marks = {name: pixel for name, pixel in camera.marks(landmarks(school)).items() if "attack" not in name}
    view = fit_view(marks, COURT, camera.size, NET_M).view
    seen = camera.project([(4.572, 9.144, 0.0), (-4.572, 9.144, 0.0)])
    width_m = np.ptp(view.locate(seen)[0][:, 0])
    assert width_m / 9.144 == pytest.approx(1 - 0.0157, abs=2e-4)


SLIPPED_FAR = [
    ("side", ["attack-b/left", "centre/right", "centre/left", "attack-a/left", "end-a/right"], (-1200, 500)),
    ("side", ["attack-a/right", "attack-a/left", "end-b/right", "centre/left", "end-a/right"], (-300, 1800)),
    ("side", ["attack-a/right", "attack-b/right", "centre/left", "end-b/right", "attack-b/left"], (100, 1800)),
    ("side", ["attack-b/right", "attack-a/left", "attack-b/left", "attack-a/right", "centre/right"], (-1700, 200)),
    ("corner", ["end-b/right", "centre/right", "end-a/right", "centre/left", "attack-a/left"], (500, -600)),
    ("stand", ["end-b/left", "attack-a/left", "end-b/right", "end-a/left", "attack-a/right"], (-1100, 100)),
    *(
        ("stand", ["centre/left", "end-a/left", "attack-b/right", "end-b/left", "end-a/right"], (x_px, y_px))
        for x_px in (-2000, -600, -200, 200, 600, 2000)
        for y_px in (-600, 0, 600)
    ),
]


@pytest.mark.parametrize(("name", "chosen", "slip_px"), SLIPPED_FAR)
def test_one_of_five_marks_slipped_far_gives_a_view_or_a_sentence(name, chosen, slip_px, camera_named):
    """The first six drive the likeliest focal length to 0; no lens shows 169 degrees across without bend."""
    camera = camera_named(name)
    marks = {landmark: camera.marks(PLACES)[landmark] for landmark in chosen}
    last_px = np.array(camera.size) - 1.0
    marks[chosen[0]] = tuple(np.clip(np.add(marks[chosen[0]], slip_px), 0, last_px))
    try:
        view = fit_view(marks, COURT, camera.size, NET_M).view
    except UserError:
        return
    assert np.isfinite(view.parameter_cov).all()
    assert 2 * np.degrees(np.arctan(max(camera.size) / 2 / view.focal_px)) < 169

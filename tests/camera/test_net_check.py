"""The marked net against the height chosen: agreement, another height, another court; and pictures cut out."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.court.dimensions import court_named, landmarks, net_landmarks

COURT = court_named("indoor")
MEN_M, WOMEN_M = 2.43, 2.24


def marks_with_net(camera, true_net_m, rng=None, court=COURT):
    marks = camera.marks(landmarks(court)) | camera.marks(net_landmarks(court, true_net_m))
    if rng is None:
        return marks
    return {name: tuple(rng.normal(pixel, 0.5)) for name, pixel in marks.items()}


def test_the_right_height_is_told_and_raises_no_warning(camera):
    fit = fit_view(marks_with_net(camera, WOMEN_M, np.random.default_rng(2)), COURT, camera.size, WOMEN_M)
    assert fit.net.height_m == pytest.approx(WOMEN_M, abs=0.05)
    assert not fit.net.at_odds
    assert not any("net" in sentence for sentence in fit.warnings)


@pytest.mark.parametrize(("true_m", "chosen_m"), [(MEN_M, WOMEN_M), (WOMEN_M, MEN_M)])
def test_men_s_and_women_s_height_mixed_up(camera, true_m, chosen_m):
    fit = fit_view(marks_with_net(camera, true_m, np.random.default_rng(2)), COURT, camera.size, chosen_m)
    assert fit.net.at_odds
    (warning,) = [sentence for sentence in fit.warnings if "net" in sentence]
    assert f"{chosen_m:.2f} m was chosen" in warning
    assert f"The net may be {true_m:.2f} m high (" in warning


def test_a_net_at_odds_does_not_spoil_the_view(camera_named):
    camera = camera_named("stand")
    marks = camera.marks(landmarks(COURT))
    plain = fit_view(marks, COURT, camera.size, WOMEN_M).view
    wrong = fit_view({**marks, **camera.marks(net_landmarks(COURT, MEN_M))}, COURT, camera.size, WOMEN_M).view
    np.testing.assert_allclose(wrong.homography, plain.homography, atol=1e-9)


def test_marks_of_the_net_make_the_camera_s_height_surer(camera_named):
    camera = camera_named("stand")
    four = ("end-a/left", "end-a/right", "attack-b/left", "attack-b/right")
    marks = {name: pixel for name, pixel in camera.marks(landmarks(COURT)).items() if name in four}
    net = camera.marks(net_landmarks(COURT, WOMEN_M))
    sd = [
        np.sqrt(fit_view(chosen, COURT, camera.size, WOMEN_M).view.parameter_cov[15, 15])
        for chosen in (marks, {**marks, **net})
    ]
    assert sd[1] < 0.85 * sd[0]


def test_sixty_by_thirty_feet_taken_for_eighteen_by_nine_metres(camera_named):
    """Every length is 1.57 % short then, the net's height with them: 2.24 m looks like 2.205 m."""
    camera = camera_named("stand")
    marks = marks_with_net(camera, WOMEN_M, court=court_named("high-school"))
    fit = fit_view(marks, COURT, camera.size, WOMEN_M)
    assert fit.net.height_m == pytest.approx(WOMEN_M / 1.016, abs=0.01)
    assert any("60 × 30 ft" in sentence for sentence in fit.warnings)


def test_a_picture_cut_from_a_larger_one(camera_named):
    """The lens's axis a fifth of the picture off its centre: told by the marks, not forced to the middle."""
    camera = camera_named("stand")
    cut_px = 380.0
    marks = {name: (x - cut_px, y) for name, (x, y) in camera.marks(landmarks(COURT)).items() if x > cut_px + 1}
    fit = fit_view(marks, COURT, (1540, 1080), WOMEN_M)
    floor = np.random.default_rng(1).uniform((-4, -8), (4, 8), (30, 2))
    seen = camera.project(np.column_stack([floor, np.zeros(30)])) - (cut_px, 0)
    assert np.hypot(*(fit.view.locate(seen)[0] - floor).T).max() < 0.02


def test_a_net_as_uneven_as_the_rules_allow_keeps_its_height_in_doubt(camera_named):
    """FIVB Official Volleyball Rules 2025-2028, 2.1: the ends may stand 2 cm above the middle.

    However sharp the clicks, two tops that may stray by 1.5 cm each tell the height to no better than a centimetre.
    """
    camera = camera_named("stand")
    marks = camera.marks(landmarks(COURT)) | camera.marks(net_landmarks(COURT, WOMEN_M))
    tops = [name for name in marks if name.startswith("net-top")]
    only_tops = {name: pixel for name, pixel in marks.items() if not name.startswith("antenna")}
    fit = fit_view(only_tops, COURT, camera.size, WOMEN_M, own_click_sd_px=0.02)
    assert len(tops) == 2
    assert 0.009 < fit.net.sd_m < 0.02
    raised = camera.marks(net_landmarks(COURT, WOMEN_M + 0.02))
    uneven = fit_view(only_tops | {name: raised[name] for name in tops}, COURT, camera.size, WOMEN_M, None, 0.02)
    assert not uneven.net.at_odds

"""Zone 1 is the server's deep left: the trade's own numbering, design of the half frame."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AREAS, classify, default_scheme
from serve_marker.court.dimensions import COURTS, court_named
from serve_marker.court.formations import preset
from serve_marker.desktop.mark.half_court import HalfCourt
from serve_marker.desktop.mark.half_court_drawing import LEGEND_HEIGHT, Landing
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.theme import current

INDOOR = court_named("indoor")
SCHEME = default_scheme(INDOOR)
LABELS = ("right back", "middle back", "left back")
PLAIN = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def half(dressed, qtbot) -> HalfCourt:
    made = HalfCourt()
    qtbot.addWidget(made)
    made.resize(340, 540)
    made.set_court(INDOOR, SCHEME)
    made.show()
    return made


def place(half: HalfCourt, x_m: float, y_m: float) -> QPoint:
    assert half._drawing is not None
    return half._drawing.place(x_m, y_m).toPoint()


def click(half: HalfCourt, x_m: float, y_m: float, keys: Qt.KeyboardModifier = PLAIN) -> None:
    QTest.mouseClick(half, Qt.MouseButton.LeftButton, keys, place(half, x_m, y_m))


def test_server_sees_deep_1_up_on_the_left_and_the_net_below(half: HalfCourt):
    deep_1, deep_5, short_2 = place(half, 1, 8), place(half, 8, 8), place(half, 1, 1)
    assert deep_1.x() < deep_5.x()
    assert deep_1.y() < short_2.y()


def test_click_picks_the_area_the_study_would_name(half: HalfCourt, qtbot):
    for x_m in (1.5, 4.5, 7.5):
        for y_m in (1.5, 4.5, 7.5):
            with qtbot.waitSignal(half.aim_picked, timeout=60_000) as told:
                click(half, x_m, y_m)
            assert told.args == [classify(np.array([[x_m, y_m]]), INDOOR, SCHEME).area[0]]


def test_click_beside_the_court_picks_nothing(half: HalfCourt, qtbot):
    with qtbot.assertNotEmitted(half.aim_picked):
        click(half, -1.0, 5.0)


def test_a_click_with_ctrl_on_a_landing_chooses_its_serve_and_a_plain_one_there_is_the_aim(half: HalfCourt, qtbot):
    half.set_landings([(2.0, 7.0, "ring", "7 Marit", "s1"), (7.0, 7.0, "cross", "4 Noor", "s2")])
    with qtbot.waitSignal(half.landing_chosen, timeout=60_000) as told, qtbot.assertNotEmitted(half.aim_picked):
        click(half, 7.0, 7.0, Qt.KeyboardModifier.ControlModifier)
    assert told.args == ["s2"]
    with qtbot.waitSignal(half.aim_picked, timeout=60_000) as told, qtbot.assertNotEmitted(half.landing_chosen):
        click(half, 7.0, 7.0)
    assert told.args == ["deep 5"]


def test_keys_walk_the_nine_areas(half: HalfCourt, qtbot):
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Down):
        QTest.keyClick(half, key)
    with qtbot.waitSignal(half.aim_picked, timeout=60_000) as told:
        QTest.keyClick(half, Qt.Key.Key_Return)
    assert told.args == [AREAS[4]]
    with qtbot.waitSignal(half.aim_picked, timeout=60_000) as told:
        QTest.keyClick(half, Qt.Key.Key_Backspace)
    assert told.args == [""]


def test_error_ellipse_is_drawn_at_true_size(half: HalfCourt):
    """Standard deviation 0.4 m across: the 95 % ellipse reaches 2.4477 x 0.4 = 0.979 m (chi-square, 2 degrees)."""
    before = image_array(half.grab().toImage())
    half.set_live(4.5, 5.0, [[0.16, 0.0], [0.0, 0.01]], ["between 6-3"])
    changed = (image_array(half.grab().toImage()) != before).any(axis=2)
    row = place(half, 4.5, 5.0).y()
    columns = np.nonzero(changed[row])[0]
    per_m = (place(half, 9, 5).x() - place(half, 0, 5).x()) / 9
    assert (columns.max() - columns.min()) / per_m / 2 == pytest.approx(0.979, abs=0.08)


def test_words_do_not_move_the_court(half: HalfCourt):
    before = place(half, 4.5, 4.5)
    half.set_live(2.0, 8.1, np.eye(2) * 0.01, "deep 1\ntoo close\n±0.31 m")
    assert half.words == ("deep 1", "too close", "±0.31 m")
    assert place(half, 4.5, 4.5) == before
    assert "too close" in half.accessibleDescription()


@pytest.mark.parametrize("size", [(340, 540), (300, 900), (700, 420)])
def test_words_stand_close_below_the_court_at_any_size(half: HalfCourt, size):
    half.resize(*size)
    before = image_array(half.grab().toImage())
    half.clear_live("deep 1")
    rows = np.nonzero((image_array(half.grab().toImage()) != before).any(axis=(1, 2)))[0]
    below_net = rows.min() - place(half, 0, 0).y()
    assert 0 < below_net < 60
    assert rows.max() < half.height() - LEGEND_HEIGHT


@pytest.mark.parametrize(("x_m", "y_m", "cov_m2"), [(None, None, None), (np.nan, np.nan, np.eye(2))])
def test_no_place_is_no_cross(half: HalfCourt, x_m, y_m, cov_m2):
    before = image_array(half.grab().toImage())
    half.set_live(2.0, 8.1, np.eye(2) * 0.01, "")
    half.set_live(x_m, y_m, cov_m2, "")
    assert np.array_equal(image_array(half.grab().toImage()), before)


def test_aim_is_tinted(half: HalfCourt):
    at = place(half, 6.0, 7.5) + QPoint(3, 0)
    half.set_aim(parse_aim("seam 5-6", INDOOR, SCHEME))
    assert half.grab().toImage().pixelColor(at) != current().of("floor")
    assert "seam 5-6" in half.accessibleDescription()


@pytest.mark.parametrize("court", COURTS.values(), ids=lambda court: court.name)
def test_every_court_has_its_nine_areas(half: HalfCourt, court):
    half.set_court(court, default_scheme(court))
    assert half._drawing is not None
    assert len({half._drawing.area_at(half._drawing.place(x, y)) for x, y in centres(court)}) == 9


@pytest.mark.parametrize("size", [(268, 150), (268, 286), (340, 540), (460, 900)])
def test_names_stand_clear_of_each_other_and_of_landings(half: HalfCourt, size):
    """Three passers side by side, and a landing in the upper part of each of the nine areas."""
    half.resize(*size)
    drawing = half._drawing
    assert drawing is not None
    drawing.lay_out(*size)
    bare = drawing.named_areas([], half.font())
    marks = [drawing.box_of(Landing(x_m, y_m, "ring", "7", "s")) for x_m in (1.5, 4.5, 7.5) for y_m in (2.6, 5.6, 8.6)]
    standing = drawing.passers_placed(preset(3, "back", INDOOR), marks, half.font())
    names = [name for _, name, _ in standing]
    taken = [*marks, *names, *(square for square, _, _ in standing)]
    areas = [box for box, _ in drawing.named_areas(taken, half.font()).values()]
    assert not any(box.intersects(other) for box in areas for other in taken)
    assert not any(one.intersects(other) for one, other in combinations(names, 2))
    for (*_, words), name in zip(standing, LABELS, strict=True):
        assert words.split() == name.split() or "…" in words
    assert len(areas) >= 3, "those that have room beside the marks are named"
    if size[1] > 150:
        assert len(bare) == 9, "without marks all are"


def test_in_a_low_window_the_words_stand_beside_the_court(half: HalfCourt):
    half.resize(268, 150)
    before = image_array(half.grab().toImage())
    half.clear_live(("between 5-4", "7.4 m deep, too close", "±0.31 m, area not sure"))
    rows, columns = np.nonzero((image_array(half.grab().toImage()) != before).any(axis=2))
    assert columns.min() > place(half, 9, 5).x()
    assert rows.max() < half.height() - LEGEND_HEIGHT


def centres(court):
    return [
        ((column + 0.5) * court.width_m / 3, (row + 0.5) * court.length_m / 6)
        for column in range(3)
        for row in range(3)
    ]

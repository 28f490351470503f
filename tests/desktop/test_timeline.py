from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest

from serve_marker.desktop.film.timeline import EDGE, REMARK_PT, Timeline, time_text
from serve_marker.desktop.widgets.text_sizes import sized

TIMES_S = np.concatenate([np.arange(0, 60, 1 / 30), 60 + np.arange(0, 40, 1 / 15)])
"""Variable rate: 1800 frames at 30, then 600 at 15."""


@pytest.fixture
def bar(dressed, qtbot) -> Timeline:
    made = Timeline()
    qtbot.addWidget(made)
    made.resize(900, 54)
    made.set_clip(TIMES_S)
    made.show()
    return made


@pytest.mark.parametrize(
    ("time_s", "text"),
    [(0.0, "0:00.000"), (41.7334, "0:41.733"), (59.9996, "1:00.000"), (3600.5, "60:00.500")],
)
def test_time_as_text(time_s, text):
    assert time_text(time_s) == text


def test_position_is_told_exactly(bar: Timeline):
    bar.set_position(1252)
    assert bar.position_text() == "0:41.733  frame 1252"


@pytest.mark.parametrize("remark", ["searching for damage, 99 %", "damaged here"])
def test_what_stands_below_the_readout_has_room_beside_the_bar(bar: Timeline, remark):
    letters = QFontMetricsF(sized(bar.font(), REMARK_PT))
    assert letters.horizontalAdvance(remark) <= bar.width() - bar.x_of_time(TIMES_S[-1]) - 2 * EDGE


def test_places_follow_time_and_not_the_frame_number(bar: Timeline):
    middle = (bar.x_of_time(0.0) + bar.x_of_time(TIMES_S[-1])) / 2
    assert TIMES_S[bar.frame_at(middle)] == pytest.approx(TIMES_S[-1] / 2, abs=1 / 30)
    assert all(abs(bar.frame_at(bar.x_of_time(TIMES_S[i])) - i) == 0 for i in (0, 17, 1252, 1799, 1801, 2399))


def test_drag_seeks_all_along(bar: Timeline):
    sought: list[int] = []
    bar.seek.connect(sought.append)
    y = bar.height() - 19
    QTest.mousePress(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(100, y))
    for x in (150, 200, 250):
        QTest.mouseMove(bar, QPoint(x, y))
    QTest.mouseRelease(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(250, y))
    assert len(sought) >= 4
    assert sought == sorted(sought)


def test_click_on_a_tick_goes_to_its_very_frame(bar: Timeline, qtbot):
    time_s = float(TIMES_S[1252])
    bar.set_ticks([(time_s, "disc", "7 Marit")])
    with qtbot.waitSignal(bar.seek, timeout=60_000) as sought:
        QTest.mouseClick(
            bar,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
            QPoint(round(bar.x_of_time(time_s)) + 4, 10),
        )
    assert sought.args == [1252]


@pytest.mark.parametrize(
    ("key", "goes_to"),
    [
        (Qt.Key.Key_Right, 101),
        (Qt.Key.Key_Left, 99),
        (Qt.Key.Key_PageUp, 110),
        (Qt.Key.Key_PageDown, 90),
        (Qt.Key.Key_Home, 0),
        (Qt.Key.Key_End, 2399),
    ],
)
def test_keys(bar: Timeline, qtbot, key, goes_to):
    bar.set_position(100)
    with qtbot.waitSignal(bar.seek, timeout=60_000) as sought:
        QTest.keyClick(bar, key)
    assert sought.args == [goes_to]


def test_no_clip_takes_no_click(bar: Timeline, qtbot):
    bar.set_clip([])
    with qtbot.assertNotEmitted(bar.seek):
        QTest.mouseClick(bar, Qt.MouseButton.LeftButton)
        QTest.keyClick(bar, Qt.Key.Key_End)
    assert bar.position_text() == ""
    assert not bar.grab().isNull()


def test_one_frame_is_a_clip_too(bar: Timeline):
    bar.set_clip([0.0])
    assert bar.frame_at(500.0) == 0
    assert not bar.grab().isNull()


def test_found_serves_that_wait_stand_on_the_bar_as_small_rings(bar: Timeline):
    def is_drawn(time_s: float) -> bool:
        return bool(bar.grab().toImage() != bare.toImage()) and bool(
            bar.grab().toImage().pixelColor(round(bar.x_of_time(time_s)) + 3, 10)
            != bare.toImage().pixelColor(round(bar.x_of_time(time_s)) + 3, 10)
        )

    bare = bar.grab()
    bar.set_proposed([30.0])
    assert is_drawn(30.0)
    assert not is_drawn(50.0)
    bar.set_proposed([])
    assert bar.grab().toImage() == bare.toImage()

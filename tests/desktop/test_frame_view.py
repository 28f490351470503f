from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest

from serve_marker.desktop.film.frame_view import FrameView
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.theme import FILM
from serve_marker.report.overlay import Spot

PLAIN = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def view(dressed, qtbot, film) -> FrameView:
    made = FrameView()
    qtbot.addWidget(made)
    made.resize(640, 480)
    made.set_frame(film)
    made.show()
    made.setFocus()
    return made


def wheel(view: FrameView, at: QPointF, notches: int) -> None:
    event = QWheelEvent(
        at,
        view.mapToGlobal(at),
        QPoint(),
        QPoint(0, 120 * notches),
        Qt.MouseButton.NoButton,
        PLAIN,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    view.wheelEvent(event)


def test_first_pixels_centre_is_the_origin(view: FrameView):
    """160x90 film in 640x480: scale 4, letter-box of 60; the first pixel covers 4x4 from (0, 60)."""
    assert view.film_to_widget(0, 0) == QPointF(2.0, 62.0)
    assert view.widget_to_film(QPointF(0, 60)) == (-0.5, -0.5)
    assert view.film_rect().getRect() == (0.0, 60.0, 640.0, 360.0)


def test_pixels_are_drawn_where_the_map_says(view: FrameView, film):
    shown = image_array(view.grab().toImage())
    for column, row in ((20, 10), (80, 45), (140, 80)):
        at = view.film_to_widget(column, row)
        assert shown[int(at.y()), int(at.x())] == pytest.approx(film[row, column], abs=3)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50, deadline=None)
@given(
    place=st.tuples(st.floats(-0.5, 159.5), st.floats(-0.5, 89.5)),
    zooms=st.lists(st.tuples(st.floats(0.5, 3), st.floats(0, 640), st.floats(0, 480)), max_size=4),
)
def test_map_and_back_at_any_zoom(view: FrameView, place, zooms):
    view.fit()
    for factor, x, y in zooms:
        view.zoom_by(factor, QPointF(x, y))
    assert view.widget_to_film(view.film_to_widget(*place)) == pytest.approx(place, abs=1e-9)


def test_wheel_zooms_to_the_pointer(view: FrameView):
    at = QPointF(200.0, 220.0)
    before = view.widget_to_film(at)
    wheel(view, at, 5)
    assert view.zoom > 2
    assert view.widget_to_film(at) == pytest.approx(before, abs=1e-9)
    wheel(view, at, -50)
    assert view.zoom == 1.0
    assert view.film_rect().getRect() == pytest.approx((0.0, 60.0, 640.0, 360.0))


def test_click_tells_film_coordinates(view: FrameView, qtbot):
    with qtbot.waitSignal(view.clicked) as told:
        QTest.mouseClick(view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, QPoint(321, 243))
    assert told.args[:2] == pytest.approx([321 / 4 - 0.5, 183 / 4 - 0.5])
    assert told.args[2] == Qt.KeyboardModifier.ShiftModifier


def test_click_on_the_letter_box_is_no_click(view: FrameView, qtbot):
    with qtbot.assertNotEmitted(view.clicked):
        QTest.mouseClick(view, Qt.MouseButton.LeftButton, PLAIN, QPoint(321, 20))


def test_a_hasty_double_click_is_one_click(view: FrameView):
    clicks: list[tuple[object, ...]] = []
    view.clicked.connect(lambda *args: clicks.append(args))
    QTest.mouseClick(view, Qt.MouseButton.LeftButton, PLAIN, QPoint(321, 243))
    QTest.mouseDClick(view, Qt.MouseButton.LeftButton, PLAIN, QPoint(321, 243))
    assert len(clicks) == 1


def test_alt_arrow_nudges_a_tenth_and_enter_clicks_there(view: FrameView, qtbot):
    view.set_cursor_px((80.0, 45.0))
    QTest.keyClick(view, Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    with qtbot.waitSignal(view.hovered) as hovered:
        QTest.keyClick(view, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert hovered.args == pytest.approx([80.1, 44.9])
    with qtbot.waitSignal(view.clicked) as told:
        QTest.keyClick(view, Qt.Key.Key_Return, Qt.KeyboardModifier.AltModifier)
    assert told.args[:2] == pytest.approx([80.1, 44.9])


def test_plain_arrows_are_left_to_the_window(view: FrameView, qtbot):
    view.set_cursor_px((80.0, 45.0))
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.cursor_px == (80.0, 45.0)


def test_mark_is_dragged_and_told_once_on_release(view: FrameView):
    view.set_marks({"end-a/left": (40.0, 40.0)})
    told: list[tuple[object, ...]] = []
    moving: list[tuple[object, ...]] = []
    view.dragged_mark.connect(lambda *args: told.append(args))
    view.mark_moving.connect(lambda *args: moving.append(args))
    start = view.film_to_widget(40, 40).toPoint()
    QTest.mousePress(view, Qt.MouseButton.LeftButton, PLAIN, start)
    for step in (20, 40):
        QTest.mouseMove(view, start + QPoint(step, 0))
    assert told == []
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, PLAIN, start + QPoint(40, 0))
    assert [args[0] for args in told] == ["end-a/left"]
    assert told[0][1:] == pytest.approx((50.0, 40.0))
    assert moving


def test_chosen_mark_is_nudged_instead_of_the_cross_hair(view: FrameView, qtbot):
    view.set_marks({"end-a/left": (40.0, 40.0)}, chosen="end-a/left")
    with qtbot.waitSignal(view.nudged_mark) as told:
        QTest.keyClick(view, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert told.args == ["end-a/left", pytest.approx(40.0), pytest.approx(40.1)]


def test_a_mark_once_grabbed_is_nudged_again_and_again(view: FrameView):
    view.nudged_mark.connect(lambda name, x, y: view.set_marks({name: (x, y)}))
    view.set_marks({"end-a/left": (40.0, 40.0)})
    QTest.mouseClick(view, Qt.MouseButton.LeftButton, PLAIN, view.film_to_widget(40, 40).toPoint())
    told: list[tuple[object, ...]] = []
    view.nudged_mark.connect(lambda *args: told.append(args))
    for _ in range(3):
        QTest.keyClick(view, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert told[-1] == ("end-a/left", pytest.approx(40.0), pytest.approx(40.3))
    QTest.mouseClick(view, Qt.MouseButton.LeftButton, PLAIN, view.film_to_widget(100, 60).toPoint())
    QTest.keyClick(view, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert len(told) == 3


def test_smaller_picture_of_the_same_film_keeps_the_map(view: FrameView, film):
    before = view.film_to_widget(33.3, 44.4)
    view.set_frame(np.ascontiguousarray(film[::2, ::2]), film_size=(160, 90))
    assert view.film_to_widget(33.3, 44.4) == before


def test_wanted_size_is_what_the_screen_can_show(view: FrameView):
    view.set_frame(np.zeros((1080, 1920, 3), np.uint8))
    assert view.wanted_size() == (640, 360)
    view.zoom_by(2.0)
    assert view.wanted_size() is None


def test_display_list_is_drawn_over_the_film(view: FrameView):
    view.set_items([Spot("disc", (80.0, 45.0))])
    at = view.film_to_widget(80, 45).toPoint()
    assert view.grab().toImage().pixelColor(at) == FILM.of("disc")

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import av
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
from serve_marker.report.overlay_items import Spot

PLAIN = Qt.KeyboardModifier.NoModifier
ALT, CTRL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)


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
    with qtbot.waitSignal(view.clicked, timeout=60_000) as told:
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


@pytest.mark.parametrize(
    ("held", "shown_px"), [(CTRL | ALT, 0.1), (ALT, 1.0), (ALT | SHIFT, 10.0), (CTRL | SHIFT, 60.0)]
)
def test_arrows_move_the_cross_hair_by_pixels_as_shown_and_enter_clicks_there(view: FrameView, qtbot, held, shown_px):
    """The film is 160 wide in a view of 640: a pixel shown is a quarter of a pixel of the film, at zoom 2 an eighth."""
    view.set_cursor_px((80.0, 45.0))
    QTest.keyClick(view, Qt.Key.Key_Right, held)
    with qtbot.waitSignal(view.hovered, timeout=60_000) as hovered:
        QTest.keyClick(view, Qt.Key.Key_Up, held)
    there = pytest.approx([80.0 + shown_px / 4, 45.0 - shown_px / 4])
    assert hovered.args == there
    with qtbot.waitSignal(view.clicked, timeout=60_000) as told:
        QTest.keyClick(view, Qt.Key.Key_Return)
    assert told.args[:2] == there
    view.zoom_by(2.0)
    QTest.keyClick(view, Qt.Key.Key_Left, held)
    assert view.cursor_px == pytest.approx((80.0 + shown_px / 8, 45.0 - shown_px / 4))


def test_arrows_keep_the_cross_hair_on_the_film_and_in_sight(view: FrameView):
    view.set_cursor_px((80.0, 45.0))
    view.zoom_by(4.0)
    for _ in range(30):
        QTest.keyClick(view, Qt.Key.Key_Right, CTRL | SHIFT)
        at = view.cursor_px
        assert at is not None
        assert view.rect().contains(view.film_to_widget(*at).toPoint())
    assert view.cursor_px == (159.0, 45.0)


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
    with qtbot.waitSignal(view.nudged_mark, timeout=60_000) as told:
        QTest.keyClick(view, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert told.args == ["end-a/left", pytest.approx(40.0), pytest.approx(40.25)]


def test_a_mark_once_grabbed_is_nudged_again_and_again(view: FrameView):
    view.nudged_mark.connect(lambda name, x, y: view.set_marks({name: (x, y)}))
    view.set_marks({"end-a/left": (40.0, 40.0)})
    QTest.mouseClick(view, Qt.MouseButton.LeftButton, PLAIN, view.film_to_widget(40, 40).toPoint())
    told: list[tuple[object, ...]] = []
    view.nudged_mark.connect(lambda *args: told.append(args))
    for _ in range(3):
        QTest.keyClick(view, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert told[-1] == ("end-a/left", pytest.approx(40.0), pytest.approx(40.75))
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


@pytest.fixture
def wide(view: FrameView) -> FrameView:
    """A film of 120x90 stored pixels, each four wide and three high, is a picture of 160x90 in its true shape."""
    stored = np.full((90, 120, 3), 90, np.uint8)
    stored[:, 60:] = 200
    view.set_frame(stored, pixel_aspect=4 / 3)
    return view


def test_pixels_not_square_fill_the_picture_of_their_true_shape(wide: FrameView):
    """160x90 in 640x480: a stored pixel covers 16/3 across and 4 down, letter-box of 60."""
    assert wide.film_rect().getRect() == pytest.approx((0.0, 60.0, 640.0, 360.0))
    at = wide.film_to_widget(0, 0)
    assert (at.x(), at.y()) == pytest.approx((8 / 3, 62.0))
    shown = image_array(wide.grab().toImage())
    assert shown[61, 300] == pytest.approx([90] * 3, abs=1)
    assert shown[418, 340] == pytest.approx([200] * 3, abs=1)
    assert shown[58, 340] == pytest.approx(shown[5, 5], abs=1)


def test_a_high_pixel_makes_the_picture_higher(view: FrameView):
    """100x90 stored pixels twice as high as wide: 100x180, 480 high in the window and 267 wide."""
    view.set_frame(np.zeros((90, 100, 3), np.uint8), pixel_aspect=0.5)
    whole = view.film_rect()
    assert (whole.width(), whole.height()) == pytest.approx((480 * 100 / 180, 480))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50, deadline=None)
@given(
    place=st.tuples(st.floats(-0.5, 119.5), st.floats(-0.5, 89.5)),
    zooms=st.lists(st.tuples(st.floats(0.5, 3), st.floats(0, 640), st.floats(0, 480)), max_size=4),
)
def test_map_and_back_of_pixels_not_square(wide: FrameView, place, zooms):
    wide.fit()
    for factor, x, y in zooms:
        wide.zoom_by(factor, QPointF(x, y))
        assert wide.film_rect().width() / wide.film_rect().height() == pytest.approx(16 / 9)
    assert wide.widget_to_film(wide.film_to_widget(*place)) == pytest.approx(place, abs=1e-9)


@pytest.mark.parametrize("steps", [0, 5])
def test_a_click_lands_in_stored_pixels(wide: FrameView, qtbot, steps: int):
    at = QPoint(400, 240)
    wheel(wide, QPointF(at), steps)
    with qtbot.waitSignal(wide.clicked, timeout=60_000) as told:
        QTest.mouseClick(wide, Qt.MouseButton.LeftButton, PLAIN, at)
    assert told.args[:2] == pytest.approx([400 / (16 / 3) - 0.5, (240 - 60) / 4 - 0.5])


def test_a_drag_moves_the_film_with_the_hand(wide: FrameView):
    wide.zoom_by(4.0, QPointF(320, 240))
    under = wide.widget_to_film(QPointF(320, 240))
    QTest.mousePress(wide, Qt.MouseButton.LeftButton, PLAIN, QPoint(320, 240))
    QTest.mouseMove(wide, QPoint(360, 270))
    QTest.mouseRelease(wide, Qt.MouseButton.LeftButton, PLAIN, QPoint(360, 270))
    at = wide.film_to_widget(*under)
    assert (at.x(), at.y()) == pytest.approx((360, 270))


def test_wanted_size_keeps_the_sharper_direction(view: FrameView):
    """1440x1080 in its true shape is 16:9 and 640 wide: of the stored picture 640 columns are seen."""
    view.set_frame(np.zeros((1080, 1440, 3), np.uint8), pixel_aspect=4 / 3)
    assert view.wanted_size() == (640, 480)


@pytest.mark.qt_log_ignore("This plugin does not support")
def test_the_window_shows_a_clip_in_its_true_shape(coach: Any, tmp_path: Path):
    """64x48 pixels four wide and three high make 16:9."""
    path = tmp_path / "wide.mp4"
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        stream.codec_context.sample_aspect_ratio = Fraction(4, 3)
        grey = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 90, np.uint8), format="rgb24")
        container.mux(stream.encode(grey))
        container.mux(stream.encode(None))
    coach.begin(path, tmp_path / "team.logbook")
    coach.wait(lambda: coach.picture.has_frame)
    whole = coach.picture.film_rect()
    assert whole.width() / whole.height() == pytest.approx(16 / 9)

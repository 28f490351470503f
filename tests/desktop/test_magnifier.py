from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtGui import QColor

from serve_marker.desktop.film.frame_view import FrameView
from serve_marker.desktop.film.magnifier import ENLARGED, Magnifier
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.theme import FILM


@pytest.fixture
def magnifier(dressed, qtbot, film) -> Magnifier:
    view = FrameView()
    qtbot.addWidget(view)
    view.resize(800, 600)
    view.set_frame(film)
    made = Magnifier(view)
    made.set_frame(film)
    view.show()
    return made


def view_of(magnifier: Magnifier) -> FrameView:
    view = magnifier.parentWidget()
    assert isinstance(view, FrameView)
    return view


def test_never_covers_the_pointer(magnifier: Magnifier):
    for x in range(2, 160, 13):
        for y in range(2, 90, 11):
            magnifier.follow(float(x), float(y))
            assert magnifier.isVisible()
            assert not magnifier.geometry().contains(view_of(magnifier).film_to_widget(x, y).toPoint())
            assert view_of(magnifier).rect().contains(magnifier.geometry())


def test_shows_the_films_own_pixels_enlarged(magnifier: Magnifier, film):
    magnifier.follow(80.0, 45.0)
    shown = image_array(magnifier.grab().toImage())
    middle = QPoint(magnifier.width() // 2, magnifier.height() // 2)
    for columns, rows in ((3, 2), (-5, 4), (7, -6)):
        seen = shown[middle.y() + rows * ENLARGED, middle.x() + columns * ENLARGED]
        assert list(seen) == list(film[45 + rows, 80 + columns])


@pytest.mark.parametrize(("x_px", "y_px", "inwards"), [(0, 0, 1), (159, 89, -1)], ids=["upper left", "lower right"])
def test_goes_beyond_the_edge_of_the_film(magnifier: Magnifier, film, x_px, y_px, inwards):
    magnifier.follow(float(x_px), float(y_px))
    shown = image_array(magnifier.grab().toImage())
    middle = QPoint(magnifier.width() // 2, magnifier.height() // 2)
    panel = QColor(FILM.panel)
    for columns, rows in ((3, 2), (1, 5), (6, 3)):
        columns, rows = inwards * columns, inwards * rows
        seen = shown[middle.y() + rows * ENLARGED, middle.x() + columns * ENLARGED]
        assert list(seen) == list(film[y_px + rows, x_px + columns])
        for across, down in ((-columns, rows), (columns, -rows), (-columns, -rows)):
            beyond = shown[middle.y() + down * ENLARGED, middle.x() + across * ENLARGED]
            assert list(beyond) == [panel.red(), panel.green(), panel.blue()]


def test_hides_without_film_and_when_the_pointer_leaves(magnifier: Magnifier, film):
    magnifier.follow(80.0, 45.0)
    view_of(magnifier).left.emit()
    assert not magnifier.isVisible()
    magnifier.set_frame(None)
    magnifier.follow(80.0, 45.0)
    assert not magnifier.isVisible()
    magnifier.set_frame(film)
    assert magnifier.isVisible()


@pytest.mark.parametrize(("aspect", "across", "down"), [(1.5, 1.5, 1.0), (0.5, 1.0, 2.0)])
def test_pixels_not_square_keep_their_shape(magnifier: Magnifier, film, aspect: float, across: float, down: float):
    view_of(magnifier).set_frame(film, pixel_aspect=aspect)
    magnifier.follow(80.0, 45.0)
    shown = image_array(magnifier.grab().toImage())
    middle = QPoint(magnifier.width() // 2, magnifier.height() // 2)
    for columns, rows in ((3, 2), (-5, 4), (4, -3)):
        x, y = round(columns * ENLARGED * across), round(rows * ENLARGED * down)
        assert list(shown[middle.y() + y, middle.x() + x]) == list(film[45 + rows, 80 + columns])

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QImage, QPainter, QTransform

from serve_marker.desktop.widgets.draw_shape import draw_shape
from serve_marker.desktop.widgets.overlay_painter import image_array, paint, picture_to_image, qimage
from serve_marker.desktop.widgets.still_painter import captioned_still, render_still
from serve_marker.desktop.widgets.theme import FILM
from serve_marker.report.overlay_items import SHAPES, Label, Legend, Polyline, Region, Spot, legend_for
from serve_marker.report.still_sizes import STILL_SIZES

pytestmark = pytest.mark.usefixtures("dressed")
GREY = 120


def plain(width: int = 200, height: int = 100) -> np.ndarray:
    return np.full((height, width, 3), GREY, np.uint8)


def inked(items, width: int = 200, height: int = 100) -> np.ndarray:
    """Where the painter changed a plain grey picture, (height, width) bool."""
    still = image_array(render_still(plain(width, height), items, FILM, unit=1.0))
    differs: np.ndarray = (still != GREY).any(axis=2)
    return differs


def test_nothing_to_draw_leaves_every_pixel():
    assert not inked(()).any()


def test_picture_survives_the_way_through_qt(film):
    assert np.array_equal(image_array(qimage(film)), film)


def test_wrong_array_is_named():
    with pytest.raises(ValueError, match=r"\(4, 4\)"):
        qimage(np.zeros((4, 4), np.uint8))


@pytest.mark.parametrize("shape", SHAPES)
def test_each_shape_leaves_ink_around_its_centre(shape: str):
    ink = inked([Spot(shape, (100.0, 50.0))])
    rows, columns = np.nonzero(ink)
    assert rows.mean() == pytest.approx(50.0, abs=1.0)
    assert columns.mean() == pytest.approx(100.0, abs=0.2)
    assert np.ptp(columns) < 24


def test_shapes_differ_without_their_colour():
    """Design: colour is never alone. Drawn in one colour, no two shapes look alike."""
    drawn = []
    for shape in SHAPES:
        image = QImage(32, 32, QImage.Format.Format_RGB888)
        image.fill(0)
        painter = QPainter(image)
        draw_shape(painter, shape, QPointF(16, 16), 9.0, FILM.of("label"))
        painter.end()
        drawn.append(image_array(image)[:, :, 0] > 128)
    for one in range(len(drawn)):
        for other in range(one):
            assert (drawn[one] ^ drawn[other]).sum() > 30, (SHAPES[one], SHAPES[other])


def test_ring_is_open_and_disc_is_filled():
    still = image_array(render_still(plain(), [Spot("ring", (50.0, 50.0)), Spot("disc", (150.0, 50.0))], FILM, 1.0))
    assert (still[50, 50] == GREY).all()
    assert (still[50, 150] != GREY).any()


def test_a_line_runs_through_the_pixel_it_names():
    """Pixel frame: (60, y) is the centre of column 60."""
    still = image_array(render_still(plain(), [Polyline(((60.0, 10.0), (60.0, 90.0)), "error")], FILM, 1.0))
    columns = np.abs(still[12].astype(int) - GREY).sum(axis=1)
    assert np.average(np.arange(200), weights=columns) == pytest.approx(60.0, abs=0.05)


def test_marks_keep_their_size_when_the_picture_is_zoomed():
    counts = []
    for zoom in (1.0, 4.0):
        image = qimage(plain()).copy()
        painter = QPainter(image)
        to_device = QTransform.fromScale(zoom, zoom) * picture_to_image()
        paint(painter, [Spot("disc", (100 / zoom, 50 / zoom))], FILM, to_device, QRectF(image.rect()))
        painter.end()
        counts.append((image_array(image) != GREY).any(axis=2).sum())
    assert counts[0] == counts[1]


def test_region_lets_the_film_through():
    still = image_array(render_still(plain(), [Region(((20, 20), (80, 20), (80, 80), (20, 80)), "aim")], FILM, 1.0))
    assert (still[50, 50] != GREY).any()
    assert np.abs(still[50, 50].astype(int) - GREY).max() < 60


@pytest.mark.parametrize("at_px", [(-50.0, -50.0), (199.0, 99.0), (199.0, 0.0), (0.0, 99.0)])
def test_labels_stay_inside_the_picture(at_px):
    inside = inked([Label("7 Marit", at_px)]).sum()
    assert inside == pytest.approx(inked([Label("7 Marit", (60.0, 60.0))]).sum(), rel=0.05)


def test_legend_stands_in_the_lower_left_corner():
    rows, columns = np.nonzero(inked([legend_for(["disc", "cross"])], 600, 400))
    assert columns.max() < 300
    assert rows.min() > 250


def test_two_legends_stand_below_each_other_in_one():
    one, other = legend_for(["disc", "cross"]), legend_for(["ring"])
    together = inked([Legend((*one.entries, *other.entries))], 600, 400)
    assert np.array_equal(inked([one, other], 600, 400), together)


@pytest.mark.parametrize(
    ("aspect", "size", "centre"), [(1.5, (300, 100), (75.75, 20.5)), (0.5, (200, 200), (50.5, 41))]
)
def test_still_of_pixels_not_square_has_its_true_shape(aspect, size, centre):
    """Stored pixel (50, 20) has its middle at 50.5 widths and 20.5 heights; the ring itself stays round."""
    still = image_array(render_still(plain(), [Spot("ring", (50.0, 20.0))], FILM, 1.0, pixel_aspect=aspect))
    assert (still.shape[1], still.shape[0]) == size
    rows, columns = np.nonzero((still != GREY).any(axis=2))
    assert ((columns + 0.5).mean(), (rows + 0.5).mean()) == pytest.approx(centre, abs=0.3)
    assert np.ptp(columns) == pytest.approx(np.ptp(rows), abs=1)


DRAWN = (Spot("disc", (500.0, 200.0)), Polyline(((500.0, 200.0), (550.0, 60.0)), "flight"), legend_for(["disc"]))


@pytest.mark.parametrize(("name", "size"), [("wall", (1920, 1080)), ("phone", (1080, 1920))])
def test_a_still_for_a_screen_has_its_size_and_words_below_the_picture(name, size):
    """Everything grey is picture; below it stand words on the dark ground, and no legend covers the picture."""
    still = image_array(captioned_still(plain(640, 360), DRAWN, ("7 Marit", "on target: deep 1"), STILL_SIZES[name]))
    assert (still.shape[1], still.shape[0]) == size
    rows = np.nonzero((still == GREY).all(axis=2).any(axis=1))[0]
    words = still[rows[-1] + 2 :]
    assert len(words) > 40
    assert (words.max(axis=2) > 200).any(), "letters"
    assert not (np.abs(words.astype(int) - GREY).max(axis=2) == 0).all(axis=1).any()


def test_letters_grow_with_the_still():
    """As filmed at 1280 px a caption has its design size; at 2560 px twice that."""
    highs = [captioned_still(plain(wide, wide // 2), DRAWN, ("7 Marit",)).height() - wide // 2 for wide in (1280, 2560)]
    assert highs[1] == pytest.approx(2 * highs[0], rel=0.05)


def test_a_caption_too_long_for_a_row_takes_more_rows_and_none_of_the_picture():
    part = "2.3 m (±0.4) beyond target at 7.5, 7.5 m, out"
    short, long = (captioned_still(plain(100, 400), DRAWN, (words,)) for words in (part[:5], part))
    assert long.width() == short.width() == 100
    assert long.height() > short.height()

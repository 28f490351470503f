"""What a still of another shape shows of the film: always the landing, the aim, the arrow and the tape's crossing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.report.overlay_items import Item, Label, Polyline, Region, Spot
from serve_marker.report.still_cut import cut_for

FILM_PX = (1280, 720)
PLACES = st.tuples(st.floats(0, 1280), st.floats(0, 720))


@given(landing=PLACES, aim=PLACES, tape=PLACES, far=PLACES, room=st.sampled_from([(1080, 1500), (1920, 900), (9, 90)]))
def test_what_tells_the_serve_lies_in_the_cut(landing, aim, tape, far, room):
    items: tuple[Item, ...] = (
        Region((aim, (aim[0] + 2, aim[1]), aim), "aim"),
        Polyline((aim, landing), "miss"),
        Polyline((tape, tape), "over-net"),
        Polyline((far, landing), "flight"),
        Spot("ring", landing),
    )
    cut = cut_for(items, FILM_PX, room)
    assert all(cut.holds(point) for point in (landing, aim, tape))
    assert cut.left >= 0
    assert cut.top >= 0
    assert cut.left + cut.width <= FILM_PX[0]
    assert cut.top + cut.height <= FILM_PX[1]


def test_a_phone_shows_the_full_height_of_a_film_filmed_across():
    """A room 9:16 takes 720 x 9 / 16 = 405 columns of a film 720 high."""
    cut = cut_for((Spot("disc", (640.0, 400.0)),), FILM_PX, (1080, 1920))
    assert (cut.width, cut.height) == (405, 720)
    assert cut.left + cut.width / 2 == pytest.approx(640, abs=1)


def test_a_room_of_the_films_shape_shows_all_of_it():
    assert cut_for((), FILM_PX, (640, 360)) == (0, 0, 1280, 720)


def test_the_cut_lies_about_the_flight_where_there_is_room():
    """From 1000 to 1160 across: the middle of the cut is 1080, that of the landing alone would be 1000."""
    items = (Spot("disc", (1000.0, 500.0)), Polyline(((1160.0, 100.0), (1000.0, 500.0)), "flight"))
    cut = cut_for(items, FILM_PX, (1080, 3840))
    assert cut.left + cut.width / 2 == pytest.approx(1080, abs=60)
    assert cut.holds((1000.0, 500.0))
    assert not np.isclose(cut.left + cut.width / 2, 1000, atol=20)


def test_words_outside_are_not_held():
    cut = cut_for((Spot("disc", (100.0, 400.0)), Label("far", (1270.0, 400.0))), FILM_PX, (1080, 1920))
    assert cut.holds((100.0, 400.0))
    assert not cut.holds((1270.0, 400.0))

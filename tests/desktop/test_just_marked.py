"""After a mark the panel shows the serve just marked, until the pointer moves on."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.report.place_words import place_lines

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    """A coach who marked a whole serve: hit, place of the hit, landing."""
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    coach_at_mark.step_to(5)
    coach_at_mark.click_film(*seen_at(2.0, -8.9), CTRL)
    coach_at_mark.step_to(38)
    coach_at_mark.click_film(*seen_at(1.0, 7.0))
    return coach_at_mark


def panel(coach):
    return coach.window.page.mark_pane.half_court.words


def point_beside(coach, pixels):
    """Move the pointer so far from the landing just marked."""
    at = coach.picture.film_to_widget(*seen_at(1.0, 7.0)).toPoint() + QPoint(pixels, 0)
    QTest.mouseMove(coach.picture, at)
    QApplication.processEvents()


def test_the_serve_just_marked_is_shown_until_the_pointer_moves_on(coach):
    """15.9 m in 33 frames of 1/30 s are 14.5 m/s, which is 52 km/h."""
    (serve,) = coach.stored_serves()
    area, depth, error, flight = panel(coach)
    assert (area, depth, error) == place_lines(coach.window.page.judgements.of(serve))
    assert "deep, " in depth
    pace, over = flight.split(", ")
    assert int(pace.partition("\xa0km/h (")[0]) == pytest.approx(52, abs=2)
    assert "over the net" in over
    point_beside(coach, 3)
    assert panel(coach) == (area, depth, error, flight), "a hand that trembles has not moved on"
    coach.step_to(48)
    assert panel(coach) == (area, depth, error, flight)
    point_beside(coach, 60)
    assert panel(coach)[0] != area
    assert len(panel(coach)) == 3


def test_a_serve_without_a_contact_has_no_flight(coach):
    coach.step_to(60)
    coach.click_film(*seen_at(-2.0, 8.0))
    assert len(panel(coach)) == 3


def test_a_serve_that_did_not_land_is_shown_as_what_it_was(coach):
    coach.step_to(60)
    coach.key(Qt.Key.Key_N)
    assert panel(coach) == ("", "into the net")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert panel(coach) == ()


def test_what_is_changed_meanwhile_is_shown(coach):
    (serve,) = coach.stored_serves()
    coach.window.page.list.edited.emit(serve.id, "outcome", "out")
    assert panel(coach) == ("", "out, as you said; its place does not count")

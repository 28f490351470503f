"""Landings, contacts and ball marks are dragged with the mouse, and undo puts each back where it was."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
LEFT = Qt.MouseButton.LeftButton
CONTACT_M, LANDING_M, BALL_M = (2.0, -8.9), (1.0, 7.0), (1.0, 6.4)
FRAMES = {"contact": 5, "landing": 40, "ball": 39}

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    """A coach who marked one whole serve."""
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4")
    coach_at_mark.step_to(FRAMES["contact"])
    coach_at_mark.click_film(*seen_at(*CONTACT_M), CTRL)
    coach_at_mark.step_to(FRAMES["landing"])
    coach_at_mark.click_film(*seen_at(*LANDING_M))
    coach_at_mark.step_to(FRAMES["ball"])
    coach_at_mark.click_film(*seen_at(*BALL_M), SHIFT)
    return coach_at_mark


def drag(coach, start_px, by):
    """Drag from a pixel of the film by so many of the screen; return the film's pixels it was let go at."""
    start = coach.picture.film_to_widget(*start_px)
    stop = (start + QPointF(*by)).toPoint()
    QTest.mousePress(coach.picture, LEFT, pos=start.toPoint())
    for share in (0.3, 0.6, 1.0):
        QTest.mouseMove(coach.picture, (start + QPointF(*by) * share).toPoint())
        QApplication.processEvents()
    QTest.mouseMove(coach.picture, stop)
    QApplication.processEvents()
    QTest.mouseRelease(coach.picture, LEFT, pos=stop)
    QApplication.processEvents()
    return coach.picture.widget_to_film(stop.toPointF())


def mark_of(serve, part):
    return serve.ball_marks[0] if part == "ball" else getattr(serve, part)


def go_near(coach, place_px):
    """Zoom in around a place of the film."""
    coach.picture.set_cursor_px(place_px)
    for _ in range(8):
        coach.key(Qt.Key.Key_Plus)
    assert coach.picture.zoom > 4


@pytest.mark.parametrize("by", [(3, 1), (0, -4)])
@pytest.mark.parametrize("part", ["landing", "contact"])
def test_a_mark_is_corrected_by_a_few_pixels_of_the_screen(coach, part, by):
    (before,) = coach.stored_serves()
    coach.step_to(FRAMES[part])
    to_px = drag(coach, mark_of(before, part).pixel, by)
    (after,) = coach.stored_serves()
    assert mark_of(after, part).pixel == pytest.approx(to_px)


def test_a_click_on_the_servers_place_makes_no_serve(coach):
    (before,) = coach.stored_serves()
    coach.step_to(FRAMES["contact"])
    coach.click_film(*before.contact.pixel)
    assert coach.stored_serves() == [before]
    assert coach.said[-1] == "The server's place is marked there; drag it to move it."


@pytest.mark.parametrize("near", [False, True])
@pytest.mark.parametrize("part", ["landing", "contact", "ball"])
def test_a_mark_is_dragged_and_undo_puts_it_back(coach, part, near):
    (before,) = coach.stored_serves()
    coach.step_to(FRAMES[part])
    start_px = mark_of(before, part).pixel
    if near:
        go_near(coach, start_px)
    stop_px = drag(coach, start_px, (24, -18))
    (after,) = coach.stored_serves()
    assert mark_of(after, part).pixel == pytest.approx(stop_px)
    assert mark_of(after, part).time_s == mark_of(before, part).time_s
    for other in {"landing", "contact", "ball"} - {part}:
        assert mark_of(after, other) == mark_of(before, other)
    assert coach.said[-1].startswith("Number 7")
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == [before]


def test_the_chosen_serve_is_dragged_from_any_frame(coach):
    (before,) = coach.stored_serves()
    coach.step_to(60)
    drag(coach, before.landing.pixel, (24, -18))
    (after,) = coach.stored_serves()
    assert after.landing.time_s == before.landing.time_s
    assert after.landing.pixel != before.landing.pixel


def test_a_mark_on_the_frame_shown_is_dragged_without_choosing_its_serve(coach):
    (first,) = coach.stored_serves()
    coach.step_to(80)
    coach.click_film(*seen_at(-2.0, 8.0))
    drag(coach, first.landing.pixel, (24, -18))
    assert first in coach.stored_serves()
    coach.step_to(FRAMES["landing"])
    drag(coach, first.landing.pixel, (24, -18))
    assert first not in coach.stored_serves()
    assert len(coach.stored_serves()) == 2


def test_a_click_on_a_mark_is_a_click(coach):
    coach.step_to(80)
    coach.click_film(*seen_at(*LANDING_M))
    assert len(coach.stored_serves()) == 2


def test_a_landing_dragged_to_the_other_half_was_served_there(coach):
    """Only a contact marked with its place tells better."""
    coach.step_to(FRAMES["landing"] + 20)
    coach.click_film(*seen_at(*LANDING_M))
    before = coach.stored_serves()[1]
    start = coach.picture.film_to_widget(*before.landing.pixel)
    way = coach.picture.film_to_widget(*seen_at(1.0, -5.0)) - start
    drag(coach, before.landing.pixel, (way.x(), way.y()))
    after = coach.stored_serves()[1]
    assert (before.served_to, after.served_to) == ("b", "a")


def test_a_landing_dragged_where_no_serve_lands_is_asked_about(coach):
    (before,) = coach.stored_serves()
    way = coach.picture.film_to_widget(*seen_at(1.0, 33.5)) - coach.picture.film_to_widget(*before.landing.pixel)
    drag(coach, before.landing.pixel, (way.x(), way.y()))
    assert coach.window.page.question.isVisible()
    coach.press("No")
    assert coach.stored_serves() == [before]
    assert before.landing.pixel in coach.picture.marks.values()
    drag(coach, before.landing.pixel, (way.x(), way.y()))
    coach.press("Yes, enter it")
    assert coach.stored_serves() != [before]

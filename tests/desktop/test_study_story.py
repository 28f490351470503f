"""A coach studies what she marked: a still under the pointer, a click to the film, two selections side by side."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from serve_marker.desktop.app import let_work
from serve_marker.desktop.session import film_library
from serve_marker.desktop.study.pane import SETTLED_MS

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = (coach_at_work[name] for name in ("seen_at", "CTRL"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


def study(coach):
    """Go to Study and wait for its answer, and for the chart drawn anew once the words have taken their room."""
    coach.key(Qt.Key.Key_3, CTRL)
    pane = coach.window._stack.currentWidget()
    rested(coach, pane)
    return pane


def rested(coach, pane):
    for _ in range(2):
        coach.wait(lambda: not pane.busy and pane.chart.has_chart())
        let_work(3 * SETTLED_MS)
    coach.wait(lambda: not pane.busy)


def test_a_landing_pointed_at_shows_its_still_and_a_click_goes_to_its_frame(coach):
    for frame, x_m in ((20, -3.0), (70, 2.0)):
        coach.step_to(frame)
        coach.click_film(*seen_at(x_m, 7.0))
    pane = study(coach)
    first = next(point for point in pane.chart._points if point.serve_id == coach.workspace.serves[0].id)
    at = pane.chart.place_of(first).toPoint()
    QTest.mouseMove(pane.chart, at + QPoint(40, 40))
    QTest.mouseMove(pane.chart, at)
    coach.wait(lambda: pane.glance.shown)
    coach.click(pane.chart, at)
    coach.wait(lambda: coach.workspace.frame == 20)
    assert coach.window.step == "mark"
    assert coach.workspace.selected_serves()[0].id == first.serve_id


def test_pointing_at_landings_reads_no_film_the_window_has_open(coach, monkeypatch):
    for frame, x_m in ((20, -3.0), (70, 2.0)):
        coach.step_to(frame)
        coach.click_film(*seen_at(x_m, 7.0))
    pane = study(coach)
    read = []
    monkeypatch.setattr(film_library, "open_clip", lambda path, **_: read.append(path))
    for point in pane.chart._points:
        QTest.mouseMove(pane.chart, pane.chart.place_of(point).toPoint() + QPoint(40, 40))
        QTest.mouseMove(pane.chart, pane.chart.place_of(point).toPoint())
        coach.wait(lambda: pane.glance.shown)
    assert len(pane.chart._points) == 2
    assert read == []


def test_a_target_as_placed_is_the_aim_on_the_map_and_beside_it_another_selection(coach):
    coach.key(Qt.Key.Key_J)
    for x_m, y_m in ((-4.0, 6.0), (-2.5, 6.0), (-2.5, 8.0), (-4.0, 8.0)):
        coach.click_film(*seen_at(x_m, y_m))
    coach.key(Qt.Key.Key_Return)
    for frame, x_m in ((10, -3.2), (30, -3.3), (50, 1.0)):
        coach.step_to(frame)
        coach.click_film(*seen_at(x_m, 7.0))
    pane = study(coach)
    assert pane.side.headline.startswith(
        "0 of 3 in target at 1.2, 7.0\N{NO-BREAK SPACE}m, 2 too close to tell"
    )  # a frame beside, perhaps
    coach.click(pane.beside_button)
    coach.wait(lambda: not pane.busy and pane.beside.chart.has_chart())
    assert pane.beside.headline == pane.side.headline
    assert "It takes 5 serves on each side to compare." in pane.beside.more.text()
    coach.key(Qt.Key.Key_2, CTRL)


def test_where_to_aim_is_asked_of_one_server(coach_of_three):
    coach = coach_of_three
    coach.workspace.set_aim("deep 1")
    for number in range(15):
        coach.step_to(4 + 10 * number)
        coach.click_film(*seen_at(3.0 + 0.3 * (number % 4), 7.2 + 0.2 * (number % 5)))
    pane = study(coach)
    coach.press("Where to aim?")
    rested(coach, pane)
    assert pane.side.headline == "Choose one server in Filters."
    assert pane.side.line.text() == "The answer depends on how her own serves scatter."
    chip = pane.side.filters
    chosen = next(player_id for player_id, player in coach.workspace.players.items() if player.name == "Ines")
    chip.server.setCurrentIndex(chip.server.findData(chosen))
    chip.server.activated.emit(chip.server.currentIndex())
    rested(coach, pane)
    assert pane.side.headline.startswith("Best: ")
    assert "Based on 5 landings." in pane.side.more.text()


def test_an_answer_is_a_figure_one_grey_line_and_the_rest_under_more(coach):
    coach.window.resize(1024, 640)
    coach.workspace.set_aim("deep 1")
    for number in range(12):
        coach.step_to(4 + 10 * number)
        coach.click_film(*seen_at(-3.0 + 0.2 * (number % 4), 7.2 + 0.2 * (number % 5)))
    pane = study(coach)
    side = pane.side
    hits, of = side.figure.text().split(" of ")
    assert (0 <= int(hits) <= 12, of) == (True, "12")
    assert side.figure.font().pointSizeF() == 34.0
    assert side.sentence.text().startswith("in deep 1")
    assert side.line.shown_text == side.line.text()
    assert side.line.text().endswith(".")
    assert not side.more.isVisible()
    before = pane.chart.height()
    coach.press("More")
    rested(coach, pane)
    assert side.more.isVisible()
    assert "Half of the next serves land" in side.more.text()
    assert pane.chart.height() < before
    coach.press("More")
    rested(coach, pane)
    assert pane.chart.height() == before


def test_only_the_filters_that_are_set_are_shown(coach_of_three):
    coach = coach_of_three
    for frame in (20, 70):
        coach.step_to(frame)
        coach.click_film(*seen_at(3.0, 7.2))
    pane = study(coach)
    filters = pane.filters
    assert [box for box in filters.boxes() if box.isVisible()] == []
    coach.press("Filters")
    assert all(box.isVisible() for box in filters.boxes())
    filters.server.setFocus()
    coach.key(Qt.Key.Key_Down)
    coach.press("Filters")
    assert [box for box in filters.boxes() if box.isVisible()] == [filters.server]
    rested(coach, pane)
    coach.press("Clear")
    assert [box for box in filters.boxes() if box.isVisible()] == []

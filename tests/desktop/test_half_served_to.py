"""Aim, passers and seams lie on the half that is served to, wherever the pointer and the film go."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.court.dimensions import COURTS
from serve_marker.court.formations import preset
from serve_marker.desktop.session.practice_editor import PracticeEditor

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at = coach_at_work["seen_at"]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    """A coach with an aim, passers, and one serve marked on the far half."""
    PracticeEditor(coach_at_mark.workspace).set_formation(preset(3, "back", COURTS["indoor"]))
    coach_at_mark.key(Qt.Key.Key_A)
    coach_at_mark.step_to(10)
    coach_at_mark.click_film(*seen_at(1.0, 7.0))
    return coach_at_mark


def point(coach, *place_m):
    QTest.mouseMove(coach.picture, coach.picture.film_to_widget(*seen_at(*place_m)).toPoint())
    QApplication.processEvents()


def on_far_half(coach):
    """Whether all of the aim, the seams and the passers lie beyond the net, and whether all lie before it."""
    net_px = seen_at(0.0, 0.0)[1]
    overlay = [
        item for item in coach.picture._items if item.role == "aim" or getattr(item, "text", "").endswith("back")
    ]
    rows_px = [y for item in overlay for _, y in getattr(item, "points_px", None) or [item.at_px]]
    assert len(overlay) > 4
    return max(rows_px) < net_px + 1, min(rows_px) > net_px - 1


def test_the_overlay_stays_while_pointer_and_film_go_elsewhere(coach):
    assert on_far_half(coach) == (True, False)
    point(coach, 1.0, -7.0)
    assert on_far_half(coach) == (True, False)
    coach.key(Qt.Key.Key_Space)
    coach.wait(lambda: coach.workspace.frame > 20)
    coach.key(Qt.Key.Key_Space)
    point(coach, -2.0, -6.0)
    assert on_far_half(coach) == (True, False)


def test_the_overlay_goes_to_the_half_of_the_chosen_or_next_serve(coach):
    coach.step_to(30)
    coach.click_film(*seen_at(1.0, -7.0))
    point(coach, 1.0, 7.0)
    assert on_far_half(coach) == (False, True), "the next serve comes from the far end like the last"
    for _ in ("the one just marked", "the one before"):
        coach.key(Qt.Key.Key_Left, coach_at_work["CTRL"])
    point(coach, 1.0, -7.0)
    assert on_far_half(coach) == (True, False), "the chosen serve went to the far half"


def test_lines_that_are_proposed_stand_without_the_aim_of_those_of_now(coach):
    """After a knock the aim by the old view would lie beside the proposed court."""
    drawn = coach.window.page.judgements.picture_items(lines=())
    assert [item for item in drawn if item.role == "aim" or getattr(item, "text", "").endswith("back")] == []
    assert any(item.role == "aim" for item in coach.window.page.judgements.picture_items())

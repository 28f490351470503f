from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest

from serve_marker.court.dimensions import COURTS, court_named, landmarks
from serve_marker.desktop.setup.court_map import CourtMap
from serve_marker.desktop.widgets.overlay_painter import image_array

INDOOR = court_named("indoor")


@pytest.fixture
def plan(dressed, qtbot) -> Iterator[CourtMap]:
    made = CourtMap()
    qtbot.addWidget(made)
    made.resize(320, 480)
    made.set_landmarks(INDOOR)
    made.show()
    yield made
    made.hide()


def breathing(plan: CourtMap) -> bool:
    return plan.findChild(QTimer).isActive()


@pytest.mark.parametrize("name", landmarks(INDOOR))
def test_every_landmark_is_chosen_by_a_click(plan: CourtMap, qtbot, name):
    with qtbot.waitSignal(plan.chosen, timeout=60_000) as told:
        QTest.mouseClick(plan, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, plan.place_of(name).toPoint())
    assert told.args == [name]


def test_far_end_is_above(plan: CourtMap):
    assert plan.place_of("end-b/left").y() < plan.place_of("end-a/left").y()
    assert plan.place_of("end-b/left").x() < plan.place_of("end-b/right").x()


def test_keys_reach_every_landmark(plan: CourtMap):
    plan.set_states({"end-a/left": "next"})
    plan.setFocus()
    reached: set[str] = set()
    keys = [Qt.Key.Key_Up] * 6 + [Qt.Key.Key_Right] + [Qt.Key.Key_Down] * 6
    for key in keys:
        QTest.keyClick(plan, key)
        plan.chosen.connect(reached.add)
        QTest.keyClick(plan, Qt.Key.Key_Return)
    assert reached == set(landmarks(INDOOR))


def test_breathes_only_while_seen_and_something_is_next(plan: CourtMap, qtbot):
    assert not breathing(plan)
    plan.set_states({"end-a/left": "next"})
    assert breathing(plan)
    plan.hide()
    assert not breathing(plan)
    plan.show()
    assert breathing(plan)
    plan.set_states({"end-a/left": "placed"})
    assert not breathing(plan)


def test_states_differ_in_form(plan: CourtMap):
    """Colour is never alone: in grey, the four states still differ."""
    looks = []
    at = plan.place_of("end-a/left").toPoint()
    for state in ("next", "placed", "skipped", "open"):
        plan.set_states({"end-a/left": state})
        seen = image_array(plan.grab().toImage())[at.y() - 12 : at.y() + 12, at.x() - 12 : at.x() + 12]
        looks.append(seen.mean(axis=2) < 128)
    for one, other in itertools.combinations(looks, 2):
        assert np.count_nonzero(one ^ other) > 8
    plan.set_states({})


def test_net_landmarks_stand_beside_the_sidelines(plan: CourtMap):
    plan.set_landmarks(INDOOR, with_net=True)
    xs = [plan.place_of(f"{line}/right").x() for line in ("centre", "net-top", "antenna-top")]
    assert all(after - before > 12 for before, after in itertools.pairwise(xs))
    assert xs[-1] < plan.width()


@pytest.mark.parametrize("court", COURTS.values(), ids=lambda court: court.name)
def test_every_court_can_be_drawn(plan: CourtMap, court):
    plan.set_landmarks(court)
    assert all(plan.rect().contains(plan.place_of(name).toPoint()) for name in landmarks(court))


def test_reader_hears_what_is_next(plan: CourtMap):
    plan.set_states({"end-b/left": "placed", "end-a/left": "next"})
    assert plan.accessibleDescription() == "1 placed; near end line at left sideline: click this one next"
    plan.set_states({})

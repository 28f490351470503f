from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from serve_marker.desktop.film.serve_strip import ServeChip, ServeStrip

SHIFT = Qt.KeyboardModifier.ShiftModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier


def chips(count: int) -> list[ServeChip]:
    return [ServeChip(f"s{place}", "disc", str(place), f"{place} Marit") for place in range(count)]


@pytest.fixture
def strip(dressed, qtbot) -> ServeStrip:
    made = ServeStrip()
    qtbot.addWidget(made)
    made.resize(500, 64)
    made.show()
    made.set_chips(chips(100))
    return made


def click(strip: ServeStrip, serve_id: str, modifiers=PLAIN, button=Qt.MouseButton.LeftButton) -> None:
    QTest.mouseClick(strip.viewport(), button, modifiers, strip.chip_rect(serve_id).center().toPoint())


def test_click_chooses_one(strip: ServeStrip, qtbot):
    with (
        qtbot.waitSignal(strip.chosen, timeout=60_000) as chosen,
        qtbot.waitSignal(strip.selection_changed, timeout=60_000) as changed,
    ):
        click(strip, "s3")
    assert chosen.args == ["s3"]
    assert changed.args == [["s3"]]
    assert strip.current == "s3"


def test_shift_selects_a_run_and_does_not_leave_the_frame(strip: ServeStrip, qtbot):
    click(strip, "s6")
    with qtbot.assertNotEmitted(strip.chosen):
        click(strip, "s3", SHIFT)
    assert strip.selection() == ["s3", "s4", "s5", "s6"]
    click(strip, "s8", SHIFT)
    assert strip.selection() == ["s6", "s7", "s8"]


def test_control_adds_and_takes_away(strip: ServeStrip):
    click(strip, "s1")
    click(strip, "s4", CONTROL)
    assert strip.selection() == ["s1", "s4"]
    click(strip, "s1", CONTROL)
    assert strip.selection() == ["s4"]


def test_menu_is_asked_for_the_selection(strip: ServeStrip, qtbot):
    click(strip, "s1")
    click(strip, "s3", SHIFT)
    with qtbot.waitSignal(strip.menu_asked, timeout=60_000) as told:
        QTest.keyClick(strip, Qt.Key.Key_Menu)
    assert isinstance(told.args[0], QPoint)
    assert strip.selection() == ["s1", "s2", "s3"]


def test_right_click_outside_the_selection_takes_that_chip(strip: ServeStrip):
    click(strip, "s1")
    click(strip, "s5", button=Qt.MouseButton.RightButton)
    assert strip.selection() == ["s5"]


def test_keys_walk_and_shift_extends(strip: ServeStrip, qtbot):
    click(strip, "s1")
    with qtbot.waitSignal(strip.chosen, timeout=60_000) as told:
        QTest.keyClick(strip, Qt.Key.Key_Right)
    assert told.args == ["s2"]
    QTest.keyClick(strip, Qt.Key.Key_Right, SHIFT)
    assert strip.selection() == ["s2", "s3"]
    QTest.keyClick(strip, Qt.Key.Key_End)
    assert strip.selection() == ["s99"]
    assert strip.viewport().rect().contains(strip.chip_rect("s99").center().toPoint())


def test_keeps_place_and_selection_when_a_chip_is_added(strip: ServeStrip, qtbot):
    strip.horizontalScrollBar().setValue(900)
    strip.select(["s30", "s31"])
    with qtbot.assertNotEmitted(strip.selection_changed):
        strip.set_chips(chips(101))
    assert strip.horizontalScrollBar().value() == 900
    assert strip.selection() == ["s30", "s31"]


def test_forgets_what_is_gone(strip: ServeStrip, qtbot):
    strip.select(["s30", "s99"])
    with qtbot.waitSignal(strip.selection_changed, timeout=60_000) as told:
        strip.set_chips(chips(50))
    assert told.args == [["s30"]]


def test_paints_only_what_is_seen_of_thousands(strip: ServeStrip, monkeypatch):
    strip.set_chips(chips(10_000))
    strip.horizontalScrollBar().setValue(200_000)
    painted: list[str] = []
    monkeypatch.setattr(
        ServeStrip, "_draw_chip", lambda _self, _painter, _look, chip, _box: painted.append(chip.serve_id)
    )
    strip.viewport().repaint()
    assert 10 <= len(painted) <= 16
    assert "s4761" in painted


def test_reader_hears_the_chip(strip: ServeStrip):
    strip.set_current("s7")
    assert "7 Marit" in strip.accessibleDescription()

"""Whole evenings through the window, by mouse and keys only; what counts is what the logbook holds afterwards."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.share.pane import SharePane
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def drag(widget, x: int, y: int) -> None:
    """Move the pointer with the left button held, which QTest.mouseMove does not say."""
    at = QPointF(x, y)
    left = Qt.MouseButton.LeftButton
    event = QMouseEvent(
        QEvent.Type.MouseMove, at, widget.mapToGlobal(at), Qt.MouseButton.NoButton, left, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(widget, event)


def test_from_an_empty_window_to_ten_serves_and_back(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view(skipping=("end-a/left", "end-a/right"))
    assert coach.workspace.view is not None
    assert coach.workspace.view.rms_px < 1.0
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click(coach.turn.order)
    coach.type("7 4 12")
    coach.key(Qt.Key.Key_A)
    coach.key(Qt.Key.Key_Y)
    aims = [(3.0, 7.5), (-3.0, 8.0), (0.0, 7.0), (4.0, 8.5), (-1.0, 4.0), (2.0, 6.6), (-4.0, 5.0)]
    for count, place_m in enumerate(aims):
        coach.step_to(10 + 10 * count)
        coach.click_film(*seen_at(*place_m))
    for key, frame in ((Qt.Key.Key_N, 80), (Qt.Key.Key_R, 90), (Qt.Key.Key_O, 100)):
        coach.step_to(frame)
        coach.key(key)

    serves = coach.stored_serves()
    players = {player.id: player.number for player in coach.workspace.players.values()}
    assert [players[serve.player_id] for serve in serves] == [7, 4, 12, 7, 4, 12, 7, 4, 12, 7]
    assert [serve.outcome for serve in serves] == ["floor"] * 7 + ["net", "received", "out"]
    assert {serve.aim for serve in serves} == {"deep 1"}
    assert {serve.serve_type for serve in serves} == {"underhand"}
    assert {serve.served_to for serve in serves} == {"b"}
    for serve, place_m in zip(serves, aims, strict=False):
        assert serve.landing_point.x_m == pytest.approx(place_m[0], abs=0.15)
        assert serve.landing_point.y_m == pytest.approx(place_m[1], abs=0.35)
        assert serve.landing.time_s == pytest.approx((10 + 10 * serves.index(serve)) / 30, abs=1e-6)

    for left in range(9, -1, -1):
        coach.key(Qt.Key.Key_Z, CTRL)
        assert len(coach.stored_serves()) == left
    for _ in range(10):
        coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert coach.stored_serves() == serves


def test_a_contact_feet_and_ball_marks_complete_one_serve(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.type("12", enter=False)
    coach.key(Qt.Key.Key_Return)
    coach.step_to(5)
    coach.key(Qt.Key.Key_H)
    coach.click_film(*seen_at(2.0, -8.9), CTRL)
    (waiting,) = coach.stored_serves()
    assert waiting.landing is None
    assert waiting.contact.time_s == pytest.approx(5 / 30)
    coach.step_to(40)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.key(Qt.Key.Key_Left)
    coach.wait(lambda: not coach.window.busy)
    coach.click_film(*seen_at(1.0, 6.6), SHIFT)
    (serve,) = coach.stored_serves()
    assert serve.id == waiting.id
    assert serve.contact_point.y_m == pytest.approx(-8.9, abs=0.2)
    assert [mark.time_s for mark in serve.ball_marks] == pytest.approx([39 / 30])
    assert coach.workspace.players[serve.player_id].number == 12
    coach.key(Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    assert coach.stored_serves()[0].pass_rating == 2


def test_feet_far_before_a_landing_are_of_another_serve(coach, filmed):
    """No serve flies for four seconds, so the feet clicked 4.3 s before a landing are not its server's."""
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.step_to(135)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.step_to(110)
    coach.click_film(*seen_at(2.0, -8.9), CTRL)
    (landed,) = coach.stored_serves()
    assert landed.contact.time_s == pytest.approx(110 / 30)
    coach.step_to(6)
    coach.click_film(*seen_at(-2.0, -8.9), CTRL)
    serves = sorted(coach.stored_serves(), key=lambda serve: serve.contact.time_s)
    assert [serve.contact.time_s for serve in serves] == pytest.approx([6 / 30, 110 / 30])
    assert serves[1] == landed
    assert serves[0].landing is None
    coach.step_to(140)
    coach.click_film(*seen_at(0.0, -8.9), CTRL)
    assert len(coach.stored_serves()) == 3, "nor do they move a hit that no landing followed"


def test_the_live_error_is_the_error_of_the_serve_a_click_makes(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.step_to(5)
    coach.key(Qt.Key.Key_H)
    coach.click_film(*seen_at(2.0, -8.9), CTRL)
    coach.step_to(15)
    coach.click_film(*seen_at(1.0, 7.0))
    live = coach.window.page.mark_pane.half_court.words
    (serve,) = coach.workspace.serves
    assert serve.contact_point is not None
    assert ", ".join(live[:3]) in coach.window.page.judgements.words(serve)


def test_a_run_of_chips_goes_to_another_server_and_a_serve_is_deleted(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click(coach.turn.order)
    coach.type("7 4")
    for frame in (10, 20, 30, 40):
        coach.step_to(frame)
        coach.click_film(*seen_at(0.5, 7.0))
    chips = coach.window.page.chips
    ids = [serve.id for serve in coach.workspace.serves]
    for serve_id, modifiers in ((ids[0], Qt.KeyboardModifier.NoModifier), (ids[2], SHIFT)):
        coach.click(chips.viewport(), chips.chip_rect(serve_id).center().toPoint(), modifiers)
    coach.key(Qt.Key.Key_G)
    coach.wait(lambda: coach.app.activePopupWidget() is not None)
    coach.type("4")
    numbers = {player.id: player.number for player in coach.workspace.players.values()}
    assert [numbers[serve.player_id] for serve in coach.stored_serves()] == [4, 4, 4, 4]
    coach.click(chips.viewport(), chips.chip_rect(ids[3]).center().toPoint())
    chips.setFocus(Qt.FocusReason.TabFocusReason)
    coach.key(Qt.Key.Key_Backspace)
    assert [serve.id for serve in coach.stored_serves()] == ids[:3]
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL)
    assert [numbers[serve.player_id] for serve in coach.stored_serves()] == [7, 4, 7, 4]


def test_a_stored_view_is_taken_for_the_next_clip_with_one_yes(coach, filmed, tmp_path):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    first_view = coach.workspace.clip_entry.view_id
    second = tmp_path / "thursday.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0" * 64)
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(second)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path.name == "thursday.mp4")
    assert coach.workspace.view is None
    coach.key(Qt.Key.Key_U, CTRL)
    coach.dialog()
    coach.press("Yes, use it")
    coach.wait(lambda: coach.workspace.view is not None)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [entry.view_id for entry in book.clips()] == [first_view, first_view]
    coach.key(Qt.Key.Key_Z, CTRL)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [entry.view_id for entry in book.clips()] == [first_view, None]
        assert [view.id for view in book.views()] == [first_view]


def test_moving_a_landmark_moves_every_landing_and_undo_brings_them_back(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.step_to(12)
    coach.click_film(*seen_at(3.0, 7.5))
    (before,) = coach.stored_serves()
    coach.key(Qt.Key.Key_1, CTRL)
    at = coach.picture.film_to_widget(*seen_at(4.5, 9.0)).toPoint()
    QTest.mousePress(coach.picture, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
    lying = coach.picture._items
    for step in (8, 16, 24):
        drag(coach.picture, at.x() + step, at.y())
    assert coach.picture._items != lying
    assert coach.stored_serves() == [before]
    QTest.mouseRelease(coach.picture, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at + QPoint(24, 0))
    coach.app.processEvents()
    (after,) = coach.stored_serves()
    assert after.landing == before.landing
    assert after.landing_point.x_m < before.landing_point.x_m - 0.1
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.stored_serves() == [before]


def test_the_evening_ends_with_a_team_sheet_and_a_table(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click(coach.turn.order)
    coach.type("7 4")
    for frame in (10, 20, 30):
        coach.step_to(frame)
        coach.click_film(*seen_at(0.5, 7.0))
    coach.key(Qt.Key.Key_4, CTRL)
    coach.wait(lambda: not coach.window.busy)
    share = coach.window.findChild(SharePane)
    share._open_folder = lambda folder: None
    for kind in ("team sheet", "csv"):
        coach.click(share.kinds[kind])
        coach.wait(lambda: not share.busy)
        coach.click(share.make_button)
        coach.wait(lambda: not share.busy)
    sheets = sorted(coach.folder.rglob("*.pdf"))
    (table,) = coach.folder.rglob("*.csv")

    assert len(sheets) == 1
    assert "Number 7" in "".join(page.extract_text() for page in PdfReader(sheets[0]).pages)
    assert len(table.read_text(encoding="utf-8-sig").splitlines()) == 4

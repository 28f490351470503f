"""Passers, targets as placed, slow motion and settings, through the window."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off
from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import Formation, Passer, preset
from serve_marker.court.passer_movement import Movement
from serve_marker.desktop.dialogs.study_settings import StudySettingsDialog
from serve_marker.desktop.mark.formation_dialog import FormationDialog
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.theme import current
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.settings import StudySettings, keep_settings, settings_of

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
COURT = court_named("indoor")

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


def choose_passers(coach, title):
    coach.key(Qt.Key.Key_R, CTRL)
    dialog = coach.dialog(FormationDialog)
    dialog.usual.setFocus()
    coach.key(Qt.Key.Key_Home)
    while dialog.usual.currentText() != title:
        coach.key(Qt.Key.Key_Down)
    dialog.usual.activated.emit(dialog.usual.currentIndex())
    dialog.accept()
    coach.face_window()
    coach.window.page.focus_picture()


def shown_passers(coach):
    """Who stands on the half court of Mark, and whether a square is drawn at each place."""
    half = coach.window.page.mark_pane.half_court
    if half._passers is None:
        return None
    seen = image_array(half.grab().toImage())
    label = current().of("label")
    edge = np.array([label.red(), label.green(), label.blue()])
    for passer in half._passers.formation.passers:
        at = half._drawing.place(passer.x_m, passer.y_m).toPoint()
        around = seen[at.y() - 7 : at.y() + 8, at.x() - 7 : at.x() + 8, :3].astype(int)
        assert (np.abs(around - edge).sum(axis=2) < 60).any(), f"no square for {passer.label}"
    return half._passers.formation.name


def test_a_change_of_passers_is_undone_like_a_mark(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 7.4))
    choose_passers(coach, "Three passers up")
    choose_passers(coach, "Two passers back")
    coach.step_to(60)
    coach.click_film(*seen_at(0.0, 7.4))
    choose_passers(coach, "No passers")
    told = []
    while coach.workspace.history.stack.canUndo():
        coach.key(Qt.Key.Key_Z, CTRL)
        formation = coach.workspace.formation
        told.append((formation.name if formation else None, len(coach.stored_serves())))
        if len(told) == 5:
            break
    assert told == [
        ("two passers back", 2),
        ("two passers back", 1),
        ("three passers up", 1),
        (None, 1),
        (None, 0),
    ]
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert book.formations() == []
    for _ in range(4):
        coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert coach.workspace.formation == preset(2, "back", COURT)
    against = [serve.formation_id for serve in sorted(coach.stored_serves(), key=lambda serve: serve.moment_s)]
    assert against == [None, coach.workspace.formation_id]


def test_the_half_court_shows_the_passers_of_the_chosen_serve(coach):
    assert shown_passers(coach) is None
    choose_passers(coach, "Three passers up")
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 7.4))
    assert shown_passers(coach) == "three passers up"
    first = coach.workspace.selection
    choose_passers(coach, "Two passers back")
    coach.step_to(60)
    coach.click_film(*seen_at(1.0, 6.4))
    assert shown_passers(coach) == "two passers back"
    chip = coach.window.page.chips
    chip.setFocus()
    coach.key(Qt.Key.Key_Home)
    coach.wait(lambda: coach.workspace.selection == first)
    assert shown_passers(coach) == "three passers up"


def test_a_serve_against_nobody_is_not_shown_against_the_next_serves_passers(coach):
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 7.4))
    against_nobody = coach.workspace.selection
    choose_passers(coach, "Three passers up")
    coach.step_to(60)
    coach.click_film(*seen_at(1.0, 6.4))
    assert shown_passers(coach) == "three passers up"
    drawn = len(coach.picture._items)
    coach.window.page.chips.setFocus()
    coach.key(Qt.Key.Key_Home)
    coach.wait(lambda: coach.workspace.selection == against_nobody)
    assert shown_passers(coach) is None
    assert len(coach.picture._items) < drawn


def test_passers_without_a_practice_are_refused_before_anything_is_set(coach, tmp_path):
    coach.workspace.new_logbook(tmp_path / "other.logbook")
    coach.key(Qt.Key.Key_R, CTRL)
    assert QApplication.activeModalWidget() is None
    assert coach.said[-1] == "Passers belong to a practice; drop a clip on the window first."


def test_each_serve_keeps_the_formation_it_was_served_against(coach):
    for depth in ("up", "back"):
        choose_passers(coach, f"Three passers {depth}")
        coach.step_to(20 if depth == "up" else 60)
        coach.click_film(*seen_at(0.0, 7.4))
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    with Logbook.open(coach.folder / "team.logbook") as book:
        table = serve_table(book)
        assert [formation.name for formation in book.formations()] == ["three passers up", "three passers back"]
    assert table["formation"].tolist() == ["three passers up", "three passers back"]
    assert table["floor_gap_m"].tolist() == pytest.approx([2.0, 0.4], abs=0.3)  # the shutter moves a click
    assert table["passer"].tolist() == ["middle back", "middle back"]
    assert coach.workspace.formation == preset(3, "back", COURT)


def test_a_target_is_clicked_and_becomes_the_aim(coach):
    coach.key(Qt.Key.Key_J)
    for x_m, y_m in ((-4.0, 6.0), (-2.5, 6.0), (-2.5, 8.0), (-4.0, 8.0)):
        coach.click_film(*seen_at(x_m, y_m))
    assert coach.stored_serves() == []
    coach.key(Qt.Key.Key_Return)
    kind, *corners = coach.workspace.aim.split()
    assert kind == "outline"
    found = np.array([corner.split(",") for corner in corners], dtype=float)
    assert found == pytest.approx(np.array([(0.5, 6), (2, 6), (2, 8), (0.5, 8)]), abs=0.1)
    coach.click_film(*seen_at(-3.0, 7.0))
    assert serve_table(coach.workspace.logbook)["aim_hit"].tolist() == [True]


def test_an_outline_begun_on_one_clip_takes_no_click_on_another(coach, filmed, tmp_path):
    coach.key(Qt.Key.Key_J)
    coach.click_film(*seen_at(-4.0, 6.0))
    thursday = tmp_path / "thursday.mp4"
    thursday.write_bytes(filmed.read_bytes() + bytes(64))
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(thursday)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip.path.name == "thursday.mp4" and not coach.window.busy)
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(-3.0, 7.0))
    assert [serve.clip_id for serve in coach.stored_serves()] == [coach.workspace.clip_entry.id]


def test_one_click_is_the_foot_of_an_upright_target_and_j_leaves(coach):
    coach.key(Qt.Key.Key_J)
    coach.click_film(*seen_at(-3.0, 7.5))
    coach.key(Qt.Key.Key_Return)
    x_m, y_m, radius_m = map(float, coach.workspace.aim.split(","))
    assert (x_m, y_m, radius_m) == pytest.approx((1.5, 7.5, 0.5), abs=0.05)
    coach.key(Qt.Key.Key_J)
    coach.key(Qt.Key.Key_J)
    coach.click_film(*seen_at(1.0, 7.0))
    assert len(coach.stored_serves()) == 1


def test_a_full_pace_series(coach):
    coach.key(Qt.Key.Key_W)
    coach.step_to(5)
    coach.click_film(*seen_at(0.0, 7.0))
    assert coach.stored_serves()[0].full_pace


def test_a_received_ball_is_marked_in_the_air(coach):
    coach.step_to(30)
    coach.picture.set_cursor_px(seen_at(0.0, 6.0))
    coach.key(Qt.Key.Key_R, SHIFT)
    (serve,) = coach.stored_serves()
    assert (serve.outcome, serve.landing_height_m, serve.landing.on_ball) == ("received", 0.8, True)


def test_the_height_of_a_reception_is_edited_in_the_list(coach):
    """A ball on one line of sight was, the higher it was, the nearer to the camera, and has further to fly on."""
    coach.step_to(10)
    coach.click_film(*seen_at(0.0, -9.5), CTRL)
    coach.step_to(34)
    coach.picture.set_cursor_px(seen_at(0.0, 6.0))
    coach.key(Qt.Key.Key_R, SHIFT)
    (low,) = coach.stored_serves()
    edited = coach.window.page.list.edited
    edited.emit(low.id, "landing_height_m", "1,6")
    (high,) = coach.stored_serves()
    assert high.landing_height_m == 1.6
    assert high.landing_point != low.landing_point
    assert (low.landing_point is None, high.landing_point is None) == (False, False)
    for text in ("", "tall", "-1", "3.5"):
        edited.emit(low.id, "landing_height_m", text)
        assert "is no height of a reception" in coach.said[-1]
    assert coach.stored_serves() == [high]


def test_passers_are_dragged_and_named(qtbot, dressed):
    roster = [Player(id="i", name="Ines", number=3), Player(id="m", name="Marit", number=7)]
    roster += [Player(id="w", name="Wren", number=9), Player(id="x", name="wren", number=2)]
    dialog = FormationDialog(COURT, preset(2, "up", COURT), roster)
    qtbot.addWidget(dialog)
    dialog.show()
    plan = dialog.plan
    start = plan.place_of(plan.passers[0]).toPoint()
    QTest.mousePress(plan, Qt.MouseButton.LeftButton, pos=start)
    QTest.mouseMove(plan, start + QPoint(0, 40))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton)
    dragged = list(plan.passers)
    assert dragged[0].y_m < preset(2, "up", COURT).passers[0].y_m
    bare = plan.place_of(Passer(4.5, 0.5)).toPoint()
    QTest.mousePress(plan, Qt.MouseButton.LeftButton, pos=bare)
    QTest.mouseMove(plan, bare + QPoint(0, 9))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton)
    assert plan.passers == dragged, "a drag on bare floor takes no passer along"
    plan.move_to(1, 20.0, 7.03)
    dialog.labels[1].setText("Ines")
    dialog.labels[1].textEdited.emit("Ines")
    found = dialog.formation()
    assert found.passers[1] == Passer(9.0, 7.05, "Ines", "left passer", "i")
    assert found.name == "two passers up, own"
    dialog.labels[0].textEdited.emit("swing hitter")
    assert dialog.formation().passers[0].role == "swing hitter", "nobody of the team: a role"
    for written in ("7", "7 marit", "MARIT"):
        dialog.labels[0].textEdited.emit(written)
        assert (dialog.formation().passers[0].label, dialog.formation().passers[0].player_id) == ("Marit", "m")
    dialog.labels[0].textEdited.emit("Wren")
    with pytest.raises(UserError, match="Several players are called Wren; write her shirt number"):
        dialog.formation()
    dialog.labels[0].textEdited.emit("Ines")
    with pytest.raises(UserError, match="Two passers are called 'Ines'"):
        dialog.formation()
    dialog.accept()
    assert dialog.isVisible()
    assert "Two passers are called 'Ines'" in dialog.hint.text()
    plan.setFocus()
    qtbot.keyClick(plan, Qt.Key.Key_Down)
    assert plan.passers[0].y_m == pytest.approx(found.passers[0].y_m - 0.1)


def test_no_passers(qtbot, dressed):
    dialog = FormationDialog(COURT, Formation("x", (Passer(1, 1, "Ines"),)))
    qtbot.addWidget(dialog)
    dialog.usual.setCurrentIndex(1)
    dialog.usual.activated.emit(1)
    assert dialog.formation() is None


def test_settings_are_kept_and_told(coach):
    coach.key(Qt.Key.Key_Comma, CTRL)
    dialog = coach.dialog(StudySettingsDialog)
    dialog.unit.setCurrentText("mph")
    dialog.gate.setValue(54.0)
    assert dialog.most_errors.value() == 15
    dialog.most_errors.setValue(20)
    dialog.scale.setCurrentText("0-4")
    assert "4 all setter options" in dialog.meaning.text()
    dialog.received_at.setValue(1.1)
    dialog.played_up_to.setValue(2.0)
    dialog.accept()
    found = settings_of(coach.workspace.logbook)
    assert found.pace_unit == "mph"
    assert found.topspin_gate_mps == pytest.approx(15.0)
    assert found.most_errors == 0.2
    assert found.movement == Movement(highest_m=2.0)
    assert StudySettings.from_text(found.to_text()) == found
    assert StudySettings.from_text('{"pace_unit": "mph", "pace_frames_off": 0}') == StudySettings(pace_unit="mph")


def test_a_coach_who_is_never_a_frame_off_gets_narrower_landings_and_undo_takes_it_back(coach):
    """Half a gap each way instead of one and a half: the way along that a click may be off shrinks to a third."""

    def error_m():
        point = coach.stored_serves()[0].landing_point
        return np.sqrt(point.cov_yy_m2)

    coach.step_to(30)
    coach.click_film(*seen_at(0.0, 6.0))
    before_m = error_m()
    coach.key(Qt.Key.Key_Comma, CTRL)
    dialog = coach.dialog(StudySettingsDialog)
    assert dialog.frames_off.value() == 1
    dialog.frames_off.setValue(0)
    dialog.accept()
    assert own_frames_off(coach.workspace.logbook.get_setting(OWN_CLICK)) == 0
    assert 0.2 * before_m < error_m() < 0.6 * before_m
    coach.face_window()
    coach.key(Qt.Key.Key_Z, CTRL)
    assert error_m() == before_m, coach.said[-3:]
    assert own_frames_off(coach.workspace.logbook.get_setting(OWN_CLICK)) == 1


def test_height_and_scale_as_the_settings_say(coach):
    book = coach.workspace.logbook
    keep_settings(book, StudySettings(reception_height_m=1.1))
    coach.step_to(30)
    coach.picture.set_cursor_px(seen_at(0.0, 6.0))
    coach.key(Qt.Key.Key_R, SHIFT)
    coach.key(Qt.Key.Key_4, Qt.KeyboardModifier.AltModifier)
    assert (coach.stored_serves()[0].landing_height_m, coach.stored_serves()[0].pass_rating) == (1.1, None)
    keep_settings(book, StudySettings(pass_scale="0-4"))
    coach.key(Qt.Key.Key_4, Qt.KeyboardModifier.AltModifier)
    assert coach.stored_serves()[0].pass_rating == 4
    table = serve_table(book)
    assert table.attrs["best_pass"] == 4

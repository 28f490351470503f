"""Marking in detail: aims, servers, ends, the serve list, and what the window says of a place."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox

from serve_marker.court.dimensions import COURTS
from serve_marker.desktop.film.serve_table import KEYS
from serve_marker.desktop.mark.half_court import HalfCourt
from serve_marker.desktop.session.edits import Touched
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.place_words import place_lines

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach(coach_at_mark):
    return coach_at_mark


def test_both_ends_serve_in_their_own_order(coach):
    coach.click(coach.turn.order)
    coach.type("7 4")
    coach.key(Qt.Key.Key_E)
    coach.click(coach.turn.order)
    coach.type("12 9")
    for count, y_m in enumerate((7.0, -7.0, 8.0, 6.5, -4.0)):
        coach.step_to(10 + 10 * count)
        coach.click_film(*seen_at(1.0, y_m))
    numbers = {player.id: player.number for player in coach.workspace.players.values()}
    assert [(serve.served_to, numbers[serve.player_id]) for serve in coach.stored_serves()] == [
        ("b", 7), ("a", 12), ("b", 4), ("b", 7), ("a", 9),
    ]  # fmt: skip


def test_an_aim_is_picked_on_the_half_court_and_stays(coach):
    half_court: HalfCourt = coach.window.page.mark_pane.half_court
    coach.click(half_court, half_court._drawing.place(1.5, 7.5).toPoint())
    assert coach.workspace.aim == "deep 1"
    coach.key(Qt.Key.Key_A)
    assert coach.workspace.aim == "deep 6"
    coach.click(coach.turn.aim.lineEdit())
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("seam 5-6")
    coach.click_film(*seen_at(1.5, 7.0))
    (serve,) = coach.stored_serves()
    assert serve.aim == "seam 5-6"
    assert coach.window.page.judgements.shape(serve) == "half-disc" or coach.window.page.judgements.of(serve).aim_hit
    coach.click(coach.turn.aim.lineEdit())
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("over there")
    assert "over there" in coach.said[-1]
    assert coach.workspace.aim == "seam 5-6"


def test_the_pointer_tells_the_place_before_the_click(coach):
    at = coach.picture.film_to_widget(*seen_at(-3.0, 7.5)).toPoint()
    QTest.mouseMove(coach.picture, at)
    QApplication.processEvents()
    half_court: HalfCourt = coach.window.page.mark_pane.half_court
    assert half_court.words[0] == "deep 1"
    assert half_court.words[1].startswith("7.")
    assert half_court.words[2].startswith("±")
    assert coach.stored_serves() == []


def test_the_serve_list_edits_in_place_and_goes_to_the_frame(coach):
    RosterEditor(coach.workspace).put_players([Player(id="marit", name="Marit")])
    coach.step_to(30)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.step_to(60)
    coach.key(Qt.Key.Key_L, CTRL)
    serve_list = coach.window.page.list
    coach.wait(serve_list.isVisible)
    model = serve_list.model()
    for column, text in (("server", "Marit"), ("note", '=1+1 "spun", late')):
        serve_list.scrollTo(model.index(0, KEYS.index(column)))
        place = serve_list.visualRect(model.index(0, KEYS.index(column)))
        QTest.mouseClick(serve_list.viewport(), Qt.MouseButton.LeftButton, pos=place.center())
        QTest.mouseDClick(serve_list.viewport(), Qt.MouseButton.LeftButton, pos=place.center())
        coach.wait(lambda: QApplication.focusWidget() is not serve_list)
        if column == "note":
            coach.key(Qt.Key.Key_A, CTRL)
        coach.type(text)
    (serve,) = coach.stored_serves()
    assert serve.note == '=1+1 "spun", late'
    assert coach.workspace.players[serve.player_id].name == "Marit"
    assert coach.workspace.frame == 60
    time_cell = model.index(0, KEYS.index("moment_s"))
    serve_list.scrollTo(time_cell)
    coach.click(serve_list.viewport(), serve_list.visualRect(time_cell).center())
    assert coach.workspace.frame == 30


def test_the_list_follows_the_serve_shown_and_offers_the_roster(coach):
    coach.click(coach.turn.order)
    coach.type("7 12")
    for frame in (10, 20):
        coach.step_to(frame)
        coach.click_film(*seen_at(1.0, 7.0))
    coach.key(Qt.Key.Key_L, CTRL)
    coach.key(Qt.Key.Key_Escape)
    serve_list = coach.window.page.list
    for place in (1, 0):
        coach.key(Qt.Key.Key_Left, CTRL)
        assert serve_list.selection() == [coach.workspace.serves[place].id]
    cell = serve_list.visualRect(serve_list.model().index(0, KEYS.index("server"))).center()
    QTest.mouseClick(serve_list.viewport(), Qt.MouseButton.LeftButton, pos=cell)
    QTest.mouseDClick(serve_list.viewport(), Qt.MouseButton.LeftButton, pos=cell)
    box = serve_list.findChild(QComboBox)
    assert [box.itemText(place) for place in range(box.count())] == ["", "Number 7", "Number 12"]
    coach.key(Qt.Key.Key_End)
    coach.key(Qt.Key.Key_Return)
    assert [numbers_of(coach)[serve.player_id] for serve in coach.stored_serves()] == [12, 12]
    coach.key(Qt.Key.Key_Z, CTRL)
    row = serve_list.visualRect(serve_list.model().index(1, 0)).center()
    coach.click(serve_list.viewport(), row)
    assert coach.workspace.frame == 20
    coach.key(Qt.Key.Key_Backspace)
    assert [numbers_of(coach)[serve.player_id] for serve in coach.stored_serves()] == [7]


def test_the_cross_hair_marks_without_a_mouse(coach):
    x_px, y_px = seen_at(1.0, 7.0)
    coach.picture.set_cursor_px((round(x_px), round(y_px)))
    coach.key(Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    coach.key(Qt.Key.Key_Return)
    (serve,) = coach.stored_serves()
    assert serve.landing.pixel == pytest.approx((round(x_px) + 1 / coach.picture.scales()[0], round(y_px)))
    coach.picture.set_cursor_px((x_px - 20, y_px))
    coach.key(Qt.Key.Key_M)
    (moved,) = coach.stored_serves()
    assert moved.id == serve.id
    assert moved.landing.pixel[0] == pytest.approx(x_px - 20)


def test_a_ball_mark_needs_a_landing_and_another_frame(coach):
    coach.click_film(*seen_at(1.0, 7.0), SHIFT)
    assert "landing first" in coach.said[-1]
    coach.click_film(*seen_at(1.0, 7.0))
    coach.click_film(*seen_at(1.0, 7.0), SHIFT)
    assert "own frame" in coach.said[-1]
    coach.step_to(60)
    coach.click_film(*seen_at(1.0, 7.0), SHIFT)
    assert "too far" in coach.said[-1]
    assert coach.stored_serves()[0].ball_marks == ()


def test_players_practice_and_borders_in_their_dialogs(coach):
    coach.key(Qt.Key.Key_P, CTRL)
    roster = coach.dialog()
    for column, text in ((0, "7"), (1, "Ines"), (4, "225")):
        at = roster.table.visualRect(roster.table.model().index(0, column)).center()
        QTest.mouseClick(roster.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
        QTest.mouseDClick(roster.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
        coach.type(text)
    coach.press("Keep")
    coach.key(Qt.Key.Key_D, CTRL)
    practice = coach.dialog()
    coach.click(practice.name)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("Serve and receive", enter=False)
    coach.press("Keep")
    coach.key(Qt.Key.Key_B, CTRL)
    borders = coach.dialog()
    deep = borders.fields["back row"].lineEdit()
    coach.click(deep)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("6.5", enter=False)
    coach.press("Keep")
    with Logbook.open(coach.folder / "team.logbook") as book:
        (player,) = book.players()
        assert (player.name, player.number, player.standing_reach_m) == ("Ines", 7, 2.25)
        assert [practice.name for practice in book.practices()] == ["Serve and receive"]
        assert "6.5" in book.get_setting("scheme")
    assert coach.workspace.scheme.row_borders_m[1] == 6.5


def test_an_edit_that_cannot_be_is_a_sentence(coach):
    coach.click_film(*seen_at(1.0, 7.0))
    (serve,) = coach.stored_serves()
    for column, text in (("outcome", "ace"), ("pass_rating", "7"), ("aim", "area 9"), ("serve_type", "spin")):
        coach.window.page.list.edited.emit(serve.id, column, text)
        assert text in coach.said[-1]
    assert coach.stored_serves() == [serve]


def test_a_place_in_words(coach):
    coach.click_film(*seen_at(-3.0, 7.5))
    (serve,) = coach.stored_serves()
    judged = coach.window.page.judgements.of(serve)
    assert place_lines(replace(judged, verdict=""))[0] == "cannot tell where"
    assert place_lines(replace(judged, verdict="out", missed="long"))[0] == "long"
    assert place_lines(replace(judged, area_sure=False))[2].endswith("area not sure")
    coach.workspace.close()
    with pytest.raises(UserError):
        coach.workspace.book()


def numbers_of(coach):
    return {player.id: player.number for player in coach.workspace.players.values()}


def test_a_contact_of_long_ago_or_of_later_is_not_the_serve_now(coach):
    coach.step_to(140)
    coach.key(Qt.Key.Key_H)
    coach.step_to(10)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.key(Qt.Key.Key_H)
    coach.step_to(135)
    coach.click_film(*seen_at(1.0, 7.0))
    waiting = [serve for serve in coach.stored_serves() if serve.landing is None]
    landed = [serve for serve in coach.stored_serves() if serve.landing is not None]
    assert sorted(serve.contact.time_s for serve in waiting) == pytest.approx([10 / 30, 140 / 30])
    assert [serve.contact for serve in landed] == [None, None]


def test_a_landing_corrects_the_end_its_contact_assumed(coach):
    coach.click(coach.turn.order)
    coach.type("7 4")
    coach.key(Qt.Key.Key_E)
    coach.click(coach.turn.order)
    coach.type("12 9")
    coach.key(Qt.Key.Key_H)
    coach.step_to(30)
    coach.click_film(*seen_at(1.0, 7.0))
    (serve,) = coach.stored_serves()
    assert (serve.served_to, numbers_of(coach)[serve.player_id]) == ("b", 7)
    assert serve.contact.time_s == 0.0


def test_the_servers_place_tells_the_end(coach):
    coach.click_film(*seen_at(1.0, 8.8), CTRL)
    (serve,) = coach.stored_serves()
    assert serve.served_to == "a"
    assert serve.contact_point.y_m == pytest.approx(8.8, abs=0.4)


def test_a_serve_under_way_keeps_the_server_chosen_for_it(coach):
    coach.click(coach.turn.order)
    coach.type("7 4")
    coach.key(Qt.Key.Key_H)
    (waiting,) = coach.stored_serves()
    coach.window.page.list.edited.emit(waiting.id, "server", "4")
    coach.step_to(20)
    coach.click_film(*seen_at(1.0, 7.0))
    assert [numbers_of(coach)[serve.player_id] for serve in coach.stored_serves()] == [4]
    coach.key(Qt.Key.Key_H)
    coach.type("12")
    coach.step_to(40)
    coach.key(Qt.Key.Key_N)
    assert [numbers_of(coach)[serve.player_id] for serve in coach.stored_serves()] == [4, 12]


def test_an_order_knows_names_with_blanks_and_numbers_with_noughts_and_invents_nobody(coach):
    RosterEditor(coach.workspace).put_players(
        [Player(id="i", name="Ines", number=7), Player(id="m", name="Marit Odile"), Player(id="y", name="Yuki")]
    )
    coach.click(coach.turn.order)
    coach.type("07 marit odile, yuki 12")
    order = coach.workspace.turns.order_a
    assert order[:3] == ("i", "m", "y")
    assert numbers_of(coach)[order[3]] == 12
    for text in ("none", "12 Marit 3"):
        coach.click(coach.turn.order)
        coach.key(Qt.Key.Key_A, CTRL)
        coach.type(text)
        assert "on the roster" in coach.said[-1]
    assert coach.workspace.turns.order_a == order
    assert len(coach.workspace.players) == 4


def test_a_net_serve_brought_in_without_marks_is_told_as_such(coach):
    brought = Serve(id="s", clip_id=coach.workspace.clip_entry.id, outcome="net")
    assert coach.window.page.judgements.words(brought) == "No server, into the net"


def test_words_about_a_serve_leave_its_place_alone(coach):
    coach.click_film(*seen_at(1.0, 7.0))
    (serve,) = coach.stored_serves()
    coach.workspace.book().change_serves([(serve, replace(serve, landing_point=replace(serve.landing_point, x_m=3.0)))])
    coach.workspace.show(Touched(serve_ids=()))
    for column, text in (("note", "late"), ("passer", "Wren"), ("pass_rating", "2"), ("server", "9")):
        coach.window.page.list.edited.emit(serve.id, column, text)
    assert coach.stored_serves()[0].landing_point.x_m == 3.0


def test_an_aim_beside_a_smaller_court_is_no_aim_there(coach):
    coach.click(coach.turn.aim.lineEdit())
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("8.5,8.5,0.3")
    coach.key(Qt.Key.Key_1, CTRL)
    coach.window.page.setup_pane._making.choose_court(COURTS["youth-12"])
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(0.5, 2.0))
    assert coach.workspace.aim == "8.5,8.5,0.3"
    assert [serve.outcome for serve in coach.stored_serves()] == ["floor"]


def test_a_click_means_the_frame_on_the_screen_not_the_one_asked_for(coach, monkeypatch):
    coach.step_to(20)
    monkeypatch.setattr(coach.window.page.frames, "request", lambda *_asked: None)
    coach.key(Qt.Key.Key_Right, SHIFT)
    assert coach.workspace.frame == 30
    coach.click_film(*seen_at(1.0, 7.0))
    coach.key(Qt.Key.Key_Right, SHIFT)
    coach.key(Qt.Key.Key_N)
    (serve,) = coach.stored_serves()
    assert (serve.outcome, serve.landing.time_s) == ("net", pytest.approx(20 / 30))


def test_a_serve_of_another_view_is_placed_by_its_own(coach):
    coach.click_film(*seen_at(1.0, 7.0))
    (serve,) = coach.stored_serves()
    book = coach.workspace.book()
    (own,) = book.views()
    other = replace(own, id="other", name="Other")
    book.put(other, replace(coach.workspace.clip_entry, view_id="other"))
    coach.workspace.show(Touched(views=True))
    coach.workspace.view = replace(coach.workspace.view, homography=np.diag([1.0, 1.0, 2.0]))
    coach.window.page.list.edited.emit(serve.id, "outcome", "target")
    (edited,) = coach.stored_serves()
    assert edited.view_id == own.id
    assert edited.landing_point == serve.landing_point

"""Study pane: questions answered from a logbook, filters, landings that lead to the film."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import numpy as np
import pytest
from PySide6.QtCore import QObject, QPoint, QPointF, Qt, Signal

from serve_marker.desktop.session.film_library import FilmLibrary
from serve_marker.desktop.session.workspace import NO_LOGBOOK, Workspace
from serve_marker.desktop.study.filters import StudyFilters
from serve_marker.desktop.study.pane import StudyPane
from serve_marker.desktop.study.questions import QUESTIONS, answer, point_words
from serve_marker.desktop.study.words import where
from serve_marker.desktop.widgets.chart_view import ChartView
from serve_marker.desktop.widgets.pointable_landings import ChartPoints
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.sheets import read_report_data
from serve_marker.study.filter import ServeFilter
from serve_marker.study.serve_columns import serve_table

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")

MARIT = Player(id="marit", name="Marit", number=7)
NOOR = Player(id="noor", name="<b>Noor</b>", number=4)


class FakeWorkspace(QObject):
    logbook_changed = Signal()
    practice_changed = Signal()
    serves_changed = Signal()

    def __init__(self, logbook=None):
        super().__init__()
        self.logbook = logbook
        self.films = FilmLibrary(logbook) if logbook else None
        self.practice = logbook.practices()[0] if logbook else None
        self.shown = []

    def go_to_serve(self, serve_id):
        self.shown.append(serve_id)


def landed(number, player, practice, x_m, y_m):
    return Serve(
        id=f"{practice}-{number}",
        clip_id=f"clip-{practice}",
        player_id=player.id,
        served_to="b",
        serve_type="jump float" if number % 2 else "float",
        aim="deep 1",
        landing=Mark(10.0 + number, (1.0, 2.0)),
        contact=Mark(9.0 + number, (3.0, 4.0)),
        landing_point=FloorPoint(x_m - 4.5, y_m, 0.0004, 0.0, 0.0004),
        contact_point=FloorPoint(2.0, -9.0, 0.0004, 0.0, 0.0004),
    )


@pytest.fixture
def logbook(tmp_path):
    chance = np.random.default_rng(3)
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as book:
        book.put(MARIT, NOOR)
        for key, date in (("october", "2026-10-06"), ("november", "2026-11-03")):
            book.put(Practice(id=key, date=date, name=key.capitalize()))
            book.put(ClipEntry(id=f"clip-{key}", practice_id=key, path=f"{key}.mp4", size_bytes=1, fingerprint=key))
            for n in range(10):
                x_m, y_m = chance.normal((1.6, 7.2), 0.5)
                book.put(landed(n, MARIT if n % 2 else NOOR, key, x_m, y_m))
        yield book


@pytest.fixture
def pane(qtbot, dressed, logbook):
    pane = StudyPane(cast("Workspace", FakeWorkspace(logbook)))
    qtbot.addWidget(pane)
    pane.resize(1100, 640)
    pane.show()
    try:
        qtbot.waitUntil(lambda: pane.chart.has_chart() and not pane.busy, timeout=60_000)
        yield pane
    finally:
        pane.close_workers()


def ask(qtbot, pane, place):
    qtbot.mouseClick(pane.questions.button(place), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)


def test_the_first_answer_says_who_hit_the_aim(pane):
    assert "of 20 in deep 1" in pane.side.headline
    assert "Wilson" in pane.side.sentence.toolTip()
    assert pane.chart.has_chart()


def test_each_question_has_an_answer_and_a_picture(qtbot, pane):
    said = set()
    for place, question in enumerate(QUESTIONS):
        ask(qtbot, pane, place)
        said.add(pane.side.headline)
        assert question.heading in pane.chart.accessibleName()
    assert len(said) == len(QUESTIONS)


def test_back_in_study_the_question_asked_has_the_focus_and_alone_is_lit(qtbot, pane):
    ask(qtbot, pane, 3)
    pane.beside_button.setFocus()
    pane.setFocus()
    assert pane.focusProxy() is pane.questions.checkedButton() is pane.questions.button(3)


def test_filters_narrow_the_answer_and_one_button_takes_them_away(qtbot, pane):
    pane.filters.server.setCurrentIndex(pane.filters.server.findData("marit"))
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    assert "of 10 in deep 1" in pane.side.headline
    pane.filters.practice.setCurrentIndex(pane.filters.practice.findData("october"))
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    assert "of 5 in deep 1" in pane.side.headline
    qtbot.mouseClick(pane.filters.all_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    assert "of 20 in deep 1" in pane.side.headline
    assert not pane.filters.all_button.isVisible()


def test_filters_that_leave_nothing_say_so(logbook):
    data = read_report_data(logbook)
    nobody = ServeFilter(player_ids=("nobody",))
    found = [answer(data, nobody, question, "light", (600.0, 400.0), 1.0).words for question in QUESTIONS]
    assert {words.sentence for words in found} == {"No serves in this choice."}


def test_of_a_few_serves_is_said_once_that_they_are_few(logbook):
    few = replace(read_report_data(logbook), table=serve_table(logbook).iloc[:3])
    words = where(few.table, few)
    assert words.sentence.endswith("of 3 in deep 1. 2 more serves and we can say how good that is.")
    assert words.more == "3 serves, 3 in."
    unaimed = where(few.table.assign(aim="", aim_hit=None), few)
    assert (unaimed.sentence, unaimed.more) == ("3 serves, 3 in.", "3 serves so far. 2 more serves and we can say.")


def test_a_group_too_small_to_tell_ends_no_sentence_within_one(logbook):
    data = read_report_data(logbook)
    types = ["topspin"] * 3 + ["float"] * (len(data.table) - 3)
    statistic = where(data.table.assign(serve_type=types), data).statistic
    assert "Topspin: 3 serves, too few." in statistic
    assert not {".;", ".."} & {statistic[at : at + 2] for at in range(len(statistic))}


def test_charts_side_by_side_are_of_one_height(qtbot, pane):
    qtbot.mouseClick(pane.beside_button, Qt.MouseButton.LeftButton)
    pane.beside.filters.server.setCurrentIndex(pane.beside.filters.server.findData("marit"))
    qtbot.waitUntil(lambda: not pane.busy and "Right: " in pane.beside.more.text(), timeout=60_000)
    assert len(pane.beside.more.text()) > len(pane.side.more.text())
    qtbot.waitUntil(lambda: pane.chart.height() == pane.beside.chart.height(), timeout=60_000)


def test_dates_count_back_from_the_newest_practice(qtbot, dressed, logbook):
    filters = StudyFilters()
    qtbot.addWidget(filters)
    filters.fill(serve_table(logbook))
    filters.dates.setCurrentIndex(1)
    assert filters.choice() == ServeFilter(date_from="2026-10-06")


def test_new_serves_are_seen_and_the_filters_stay(qtbot, pane, logbook):
    pane.filters.server.setCurrentIndex(pane.filters.server.findData("marit"))
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    logbook.put(landed(50, MARIT, "november", 1.5, 7.5))
    pane._workspace.serves_changed.emit()
    qtbot.waitUntil(lambda: "of 11 in deep 1" in pane.side.headline, timeout=60_000)
    assert pane.filters.server.currentData() == "marit"


def test_a_filter_whose_server_is_gone_falls_back_to_all(qtbot, pane, logbook):
    pane.filters.server.setCurrentIndex(pane.filters.server.findData("marit"))
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    logbook.remove(*(serve for serve in logbook.serves() if serve.player_id == "marit"))
    pane._workspace.serves_changed.emit()
    qtbot.waitUntil(lambda: pane.filters.server.currentData() == "" and not pane.busy, timeout=60_000)
    assert "of 10 in deep 1" in pane.side.headline


def test_a_click_on_a_landing_goes_to_the_film(qtbot, pane, logbook):
    point = pane.chart._points[0]
    qtbot.mouseClick(pane.chart, Qt.MouseButton.LeftButton, pos=pane.chart.place_of(point).toPoint())
    assert len(pane._workspace.shown) == 1
    assert pane._workspace.shown[0] in {serve.id for serve in logbook.serves()}


def test_landings_can_be_stepped_through_by_key(qtbot, pane):
    pane.chart.setFocus()
    qtbot.keyClick(pane.chart, Qt.Key.Key_Right)
    qtbot.keyClick(pane.chart, Qt.Key.Key_Right)
    assert pane.chart.accessibleDescription() == pane.chart._points[1].words
    qtbot.keyClick(pane.chart, Qt.Key.Key_Return)
    assert pane._workspace.shown == [pane.chart._points[1].serve_id]


def test_points_lie_on_their_marks(logbook):
    """The mark's ink is found in the picture around the place a point claims."""
    data = read_report_data(logbook)
    found = answer(data, ServeFilter(), QUESTIONS[0], "light", (900.0, 500.0), 1.0)
    height, width = found.pixels.shape[:2]
    for point in found.points:
        x, y = round(point.across * width), round(point.down * height)
        patch = found.pixels[y - 3 : y + 4, x - 3 : x + 4, :3].astype(int)
        assert np.abs(patch - [248, 246, 241]).max() > 60


def test_no_logbook_and_no_serves_say_what_to_do(qtbot, dressed, tmp_path):
    pane = StudyPane(cast("Workspace", FakeWorkspace()))
    qtbot.addWidget(pane)
    pane.show()
    qtbot.waitUntil(lambda: pane.side.sentence.accessibleName() == NO_LOGBOOK, timeout=60_000)
    with Logbook.create(tmp_path / "empty.logbook") as book:
        pane._workspace.logbook = book
        pane._workspace.logbook_changed.emit()
        qtbot.waitUntil(lambda: pane.side.headline == "No serves are marked yet.", timeout=60_000)
        for place in range(len(QUESTIONS)):
            ask(qtbot, pane, place)
            assert pane.side.more.text() == "Mark some in Mark.\nThe answers then stand here."
        pane.close_workers()


def test_every_control_is_named_and_reached_by_tab(pane):
    filters = pane.filters
    controls = [
        *filters.boxes(),
        filters.open_button,
        filters.all_button,
        pane.side.more_button,
        pane.chart,
        pane.questions.checkedButton(),
    ]
    assert all(control.accessibleName() for control in [*controls, *pane.questions.buttons()])
    assert all(control.focusPolicy() & Qt.FocusPolicy.TabFocus for control in controls)


def test_arrow_keys_go_through_the_questions(qtbot, pane):
    pane.questions.button(0).setFocus()
    qtbot.keyClick(pane.questions.button(0), Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    assert pane.question.heading == "How deep?"
    assert pane.side.headline.startswith("Of 20 landings")


def test_a_landing_in_words(logbook):
    row = serve_table(logbook).iloc[0].to_dict()
    row |= {
        "server": "7 Marit",
        "area": "deep 1",
        "verdict": "in",
        "missed": "",
        "error_m": 0.049,
        "pace_mps": float("nan"),
    }
    assert point_words(row) == "7 Marit, deep 1, in, ±0.05 m"
    row |= {"verdict": "out", "missed": "long"}
    assert point_words(row) == "7 Marit, out long, ±0.05 m"


def test_a_chart_is_never_drawn_larger_than_it_is(qtbot, dressed):
    chart = ChartView()
    qtbot.addWidget(chart)
    chart.resize(400, 300)
    points = ChartPoints(np.array([[1.0, 1.0]]), lambda _number: ("s", "7 Marit"))
    chart.set_chart(np.zeros((50, 100, 4), np.uint8), points)
    assert chart.place_of(points[0]) == QPointF(250.0, 50.0)
    chart.set_chart(np.zeros((600, 400, 4), np.uint8), points)
    assert chart.place_of(points[0]) == QPointF(300.0, 300.0)


def test_a_still_under_way_is_not_kept_once_the_serves_changed(qtbot, pane, logbook):
    serve = logbook.serves()[0]
    logbook.close()
    pane.glance.point_at(serve.id, pane._workspace.films, QPoint(10, 10))
    pane.glance.forget()
    assert not pane.glance.busy
    qtbot.wait(100)
    assert pane.glance._kept == {}


def test_another_logbook_opened_meanwhile_is_no_fault_of_the_program(qtbot, pane, logbook, tmp_path):
    """What is still being read of the first one is nobody's answer; an exception would fail the test."""
    pane._stale = True
    logbook.close()
    pane.refresh()
    with Logbook.create(tmp_path / "other.logbook", team="Harbour") as other:
        pane._workspace.logbook = other
        pane._workspace.logbook_changed.emit()
        qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
        assert pane._data.team == "Harbour"

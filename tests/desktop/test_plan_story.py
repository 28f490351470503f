"""A coach lets the plan be suggested, changes it, looks at its page, and marks along it with one click per serve."""

from __future__ import annotations

import datetime
import runpy
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.practice_plan import PracticePlanDialog
from serve_marker.desktop.session.edits import Touched
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.study.ladder import LADDER_SETTING, LadderStep, ladder_text

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
STEPS = (
    LadderStep("deep 1", ("deep 1",), least_effort=0.0),
    LadderStep("deep 5", ("deep 5",), least_effort=0.0),
)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def served(number, evening, who, hit):
    point = FloorPoint((1.5 if hit else 5.0) - 4.5, 7.5, 0.0004, 0.0, 0.0004)
    landing = Mark(5.0 + number, (1.0, 2.0))
    more: dict[str, Any] = {"landing": landing, "landing_point": point, "served_to": "b", "aim": "deep 1"}
    return Serve(id=f"{who}-{evening}-{number}", clip_id=f"c{evening}", player_id=who, **more)


@pytest.fixture
def evening(coach_at_mark):
    """The open practice of a team whose earlier evenings tell: Noor has passed deep 1, Marit nearly."""
    book = coach_at_mark.workspace.book()
    first = datetime.date.fromisoformat(coach_at_mark.workspace.practice.date)
    book.put(Player(id="noor", name="Noor", number=4), Player(id="marit", name="Marit", number=7))
    for place in range(4):
        day = (first - datetime.timedelta(days=7 * (4 - place))).isoformat()
        book.put(Practice(id=f"w{place}", date=day, name=f"Week {place}"))
        path = f"{place}.mp4"
        book.put(ClipEntry(id=f"c{place}", practice_id=f"w{place}", path=path, size_bytes=1, fingerprint=path))
        book.put(*(served(n, place, "noor", n % 4 > 0) for n in range(20)))
        book.put(*(served(n, place, "marit", n % 2 == 0 or (place == 3 and n > 4)) for n in range(20)))
    book.set_setting(LADDER_SETTING, ladder_text(STEPS, ()))
    coach_at_mark.workspace.show(Touched(records=True))
    return coach_at_mark


def open_plan(coach):
    coach.key(Qt.Key.Key_N, CTRL | SHIFT)
    dialog = coach.dialog(PracticePlanDialog)
    show(coach, dialog, coach.workspace.practice.date)
    return dialog


def show(coach, dialog, day):
    coach.click(dialog.date.line)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type(day)


def suggest(coach):
    dialog = coach.dialog(PracticePlanDialog)
    coach.press("Suggest")
    coach.wait(lambda: dialog.trouble.text().startswith("Suggest fills in"))


def plans(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.plans()


def test_suggested_changed_marked_along_and_the_next_suggestion_differs(evening):
    coach, practice_id = evening, evening.workspace.practice.id
    dialog = open_plan(coach)
    suggest(coach)
    texts = [dialog.table.row_texts(row) for row in range(2)]
    assert [row[:2] for row in texts] == [("4 Noor", "deep 5"), ("7 Marit", "deep 1")]
    assert texts[0][-1] == "deep 5: 4 Noor begins"
    assert "7 Marit" in texts[1][-1]
    for row, serves in ((0, "1"), (1, "2")):
        coach.click(dialog.table.viewport(), dialog.table.visualItemRect(dialog.table.item(row, 5)).center())
        coach.type(serves)
    coach.press("Keep")
    assert [(block.aim, block.player_ids, block.serves) for block in plans(coach)[0].blocks] == [
        ("deep 5", ("noor",), 1),
        ("deep 1", ("marit",), 2),
    ]

    assert coach.workspace.aim == "deep 5", "the first block begins"
    for frame, x_m in ((20, 3.0), (70, -3.0), (120, -3.1)):
        coach.step_to(frame)
        coach.click_film(*seen_at(x_m, 7.0))
    marked = [(serve.player_id, serve.aim) for serve in coach.workspace.serves]
    assert marked == [("noor", "deep 5"), ("marit", "deep 1"), ("marit", "deep 1")]
    assert any(words.startswith("Plan, block 2 of 2: deep 1, 2 serves each: 7 Marit") for words in coach.said)
    assert "The plan is done; go on as you like." in coach.said

    dialog = open_plan(coach)
    suggest(coach)
    again = {texts[1]: texts[-1] for texts in (dialog.table.row_texts(row) for row in range(2))}
    assert "4 Noor about" in again["deep 5"], "she has begun now"
    coach.key(Qt.Key.Key_Escape)
    coach.press("Close")
    assert practice_id == coach.workspace.practice.id


def test_a_serve_out_of_the_plan_changes_nothing(evening):
    coach = evening
    dialog = open_plan(coach)
    suggest(coach)
    coach.click(dialog.table.viewport(), dialog.table.visualItemRect(dialog.table.item(0, 5)).center())
    coach.type("2")
    coach.press("Keep")
    coach.workspace.set_aim("short 3")
    coach.step_to(20)
    coach.click_film(*seen_at(0.0, 2.0))
    assert [(serve.aim) for serve in coach.workspace.serves] == ["short 3"]
    assert coach.workspace.aim == "short 3"


def type_block(coach, dialog, *cells):
    first = dialog.table.model().index(dialog.table.next_row(), 0)
    coach.click(dialog.table.viewport(), dialog.table.visualRect(first).center())
    for place, text in enumerate(cells):
        if place:
            coach.key(Qt.Key.Key_Tab)
        coach.type(text, enter=False)
    coach.key(Qt.Key.Key_Return)


def planned(coach):
    """Two blocks: Marit and Noor once each at deep 1, then Noor twice at deep 5."""
    dialog = open_plan(coach)
    type_block(coach, dialog, "7, 4", "deep 1", "", "", "", "1")
    type_block(coach, dialog, "4", "deep 5", "", "", "", "2")
    coach.press("Keep")


def mark(coach, frame, x_m=3.0):
    coach.step_to(frame)
    coach.click_film(*seen_at(x_m, 7.0))


def test_undo_goes_back_a_block_and_to_whose_turn_it_was(evening):
    planned(evening)
    mark(evening, 20)
    mark(evening, 70)
    assert evening.workspace.aim == "deep 5"
    evening.key(Qt.Key.Key_Z, CTRL)
    assert (evening.workspace.aim, evening.workspace.turns.now()) == ("deep 1", "noor")
    mark(evening, 70)
    assert [serve.player_id for serve in evening.workspace.serves] == ["marit", "noor"]


def test_a_correction_of_an_old_serve_leaves_what_the_coach_chose(evening):
    planned(evening)
    mark(evening, 20)
    mark(evening, 70)
    evening.workspace.set_aim("short 3")
    first = evening.workspace.serves[0]
    evening.window.page.list.edited.emit(first.id, "aim", "short 2")
    assert evening.workspace.aim == "short 3"
    mark(evening, 120)
    assert evening.workspace.serves[-1].aim == "short 3"
    assert evening.workspace.aim == "short 3"


def test_suggesting_keeps_what_was_typed(evening):
    dialog = open_plan(evening)
    type_block(evening, dialog, "7", "short 2", "", "", "", "5")
    suggest(evening)
    assert [dialog.table.row_texts(row)[:2] for row in range(3)] == [
        ("7", "short 2"),
        ("4 Noor", "deep 5"),
        ("7 Marit", "deep 1"),
    ]
    evening.key(Qt.Key.Key_Escape)
    evening.press("Close")


def test_absent_players_are_not_lost_unasked(evening):
    dialog = open_plan(evening)
    evening.click(dialog.absent)
    evening.type("4", enter=False)
    evening.key(Qt.Key.Key_Escape)
    evening.press("Close")
    assert plans(evening) == []


def test_the_absent_are_kept_and_a_plan_without_blocks_is_none(evening):
    coach = evening
    dialog = open_plan(coach)
    coach.click(dialog.absent)
    coach.type("4", enter=False)
    suggest(coach)
    assert [dialog.table.row_texts(row)[0] for row in range(2)] == ["7 Marit", ""]
    coach.press("Keep")
    assert plans(coach)[0].absent == ("noor",)
    dialog = open_plan(coach)
    assert dialog.absent.text() == "4 Noor"
    dialog.table.setCurrentCell(0, 0)
    coach.press("Remove")
    coach.press("Keep")
    assert plans(coach) == []
    coach.key(Qt.Key.Key_Z, CTRL)
    assert len(plans(coach)) == 1


def test_a_changed_plan_never_takes_the_place_of_another_days(evening):
    coach, day = evening, evening.workspace.practice.date
    open_plan(coach)
    suggest(coach)
    coach.press("Keep")
    dialog = open_plan(coach)
    show(coach, dialog, "2030-01-08")
    assert dialog.table.row_texts(0)[0] == "", "another day has no plan"
    suggest(coach)
    show(coach, dialog, "2030-01-15")
    show(coach, dialog, day)
    assert "has a plan already" in dialog.trouble.text()
    assert dialog.date.line.text() == "2030-01-15"
    coach.press("Keep")
    assert [plan.date for plan in plans(coach)] == [day, "2030-01-15"]


def test_what_cannot_be_read_is_said_and_nothing_is_lost(evening):
    coach = evening
    dialog = open_plan(coach)
    coach.click(dialog.table.viewport(), dialog.table.visualRect(dialog.table.model().index(0, 0)).center())
    coach.type("Nobody")
    coach.press("Keep")
    assert dialog.isVisible()
    assert "Nobody is nobody on the roster" in dialog.trouble.text()
    coach.key(Qt.Key.Key_Escape)
    coach.press("Close")
    assert plans(coach) == []

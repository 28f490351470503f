"""The window as a whole: actions, keys, room for the picture, names for screen readers, files that moved."""

from __future__ import annotations

import inspect
import re
import runpy
import shutil
import sys
import threading
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QImage
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLabel, QLineEdit, QWidget

from serve_marker.desktop.app import let_work, show_bugs, window_picture
from serve_marker.desktop.dialogs.shortcut_card import BY_HAND, ShortcutsDialog, caps_of, key_words
from serve_marker.desktop.menus_and_shortcuts import HEADINGS, MENUS, PICTURE, STEP_OF_MENU
from serve_marker.desktop.platform_check import missing_library
from serve_marker.desktop.session.playback import SPEEDS, frame_shown_at
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_every_action_has_a_key_and_a_menu_entry(coach):
    shown = {action.objectName() for menu in coach.window.header.findChildren(QWidget) for action in menu.actions()}
    for spec in coach.window.specs:
        assert spec.key, spec.id
        assert spec.menu in MENUS
        assert spec.id in shown


@pytest.mark.parametrize("step", ["Set up", "Mark"])
def test_no_key_means_two_things_in_one_step(coach, step):
    others = {menu for menu, of_step in STEP_OF_MENU.items() if of_step != STEP_OF_MENU[step]}
    keys = Counter(spec.key for spec in coach.window.specs if not (spec.where == PICTURE and spec.menu in others))
    assert [key for key, count in keys.items() if count > 1] == []


def test_the_card_shows_every_key_as_its_cap_in_headed_groups(coach):
    coach.key(Qt.Key.Key_F1, SHIFT)
    card = coach.dialog(ShortcutsDialog)
    labels = [label for label in card.findChildren(QLabel) if label.isVisible()]
    words = {label.text() for label in labels}
    assert {spec.text.rstrip("…") for spec in coach.window.specs} <= words
    assert {*HEADINGS.values(), "Edit", BY_HAND.heading} <= words
    caps = Counter(label.text() for label in labels if label.property("role") == "key")
    keys = [*(key_words(spec.key) for spec in coach.window.specs), *(key for key, _ in BY_HAND.rows)]
    assert caps == Counter(cap for key in keys for cap in caps_of(key))
    room, shown = card.geometry(), coach.window.geometry()
    assert (room.width() <= shown.width(), room.height() <= shown.height()) == (True, True)
    headings = [label for label in labels if label.property("role") == "large"]
    assert len({label.mapTo(card, QPoint(0, 0)).x() for label in headings}) >= 2, "in columns beside one another"
    assert all(label.mapTo(card, label.rect().topRight()).x() < card.width() for label in labels)
    coach.press("Close")


def test_the_card_is_printed_on_one_page(coach):
    """One page in a PDF (PDF 32000-1, 7.7.3.3), lying on its side."""
    coach.key(Qt.Key.Key_F1, SHIFT)
    coach.dialog(ShortcutsDialog)
    coach.press("Print…")
    dialog = coach.dialog(QPrintDialog)
    name = dialog.findChild(QLineEdit, "filename")
    name.setText(str(coach.folder / "keys.pdf"))
    QTest.keyClick(dialog, Qt.Key.Key_Return)
    coach.wait(lambda: (coach.folder / "keys.pdf").is_file())
    printed = (coach.folder / "keys.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    left, low, right, top = map(float, re.search(rb"/MediaBox\s*\[([^]]+)\]", printed).group(1).split())
    assert right - left > top - low
    coach.press("Close")


def test_every_row_calls_something_of_its_own_with_arguments_it_takes(coach):
    """Return and Shift+Return mean a click in Set up and in Mark; no other two rows call the same."""
    calls: Counter[tuple[object, ...]] = Counter()
    for spec in coach.window.specs:
        bound, args = getattr(spec.handler, "func", spec.handler), getattr(spec.handler, "args", ())
        if not inspect.isbuiltin(bound):
            inspect.signature(bound).bind(*args)
        calls[bound.__self__, bound.__name__, *args] += 1
    twice = {(name, *args) for (_, name, *args), count in calls.items() if count > 1}
    assert twice == {("click_here", "plain"), ("click_here", "ball")}


def test_quit_closes_the_window(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_Q, CTRL)
    assert not coach.window.isVisible()
    assert coach.workspace.logbook is None


def test_menu_entries_of_the_film_rest_in_study(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_2, CTRL)
    assert coach.window.actions_by_id["delete_serves"].isEnabled()
    coach.key(Qt.Key.Key_3, CTRL)
    firing = [spec.id for spec in coach.window.specs if coach.window.actions_by_id[spec.id].isEnabled()]
    assert not {spec.id for spec in coach.window.specs if spec.where == PICTURE or spec.menu == "Set up"} & set(firing)
    assert {"undo", "open_logbook", "step_mark"} <= set(firing)


def test_files_dropped_together_are_taken_in_order(coach, filmed):
    second, wrong = coach.folder / "thursday.mp4", coach.folder / "notes.mp4"
    second.write_bytes(filmed.read_bytes() + b"\0" * 64)
    wrong.write_text("Tuesday: deep 1")
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, filmed, wrong, second)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == second)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert {Path(entry.path) for entry in book.clips()} == {filmed, second}


def test_a_clip_still_opening_stays_out_of_the_next_logbook(coach, filmed):
    coach.window.workspace.new_logbook(coach.folder / "first.logbook")
    drop(coach.window, filmed)
    coach.window.workspace.new_logbook(coach.folder / "second.logbook")
    coach.wait(lambda: not coach.window.opening._worker.busy)
    let_work(300)
    assert coach.workspace.clip is None
    assert coach.workspace.book().clips() == []


def test_a_serve_gone_meanwhile_is_a_sentence(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.workspace.go_to_serve("gone")
    assert "no longer" in coach.said[-1]


@pytest.mark.parametrize(("typed", "kept"), [("Tidewater 2026.27", "Tidewater 2026.27.logbook"), ("t.logbook", None)])
def test_a_logbook_is_named_as_typed(coach, typed, kept):
    coach.key(Qt.Key.Key_N, CTRL)
    coach.answer_file(coach.folder / typed)
    coach.wait(lambda: coach.workspace.logbook is not None)
    assert coach.workspace.book().path.name == (kept or typed)


def test_a_frame_that_cannot_be_had_is_blank_and_takes_no_mark(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_2, CTRL)
    coach.wait(lambda: coach.window.page.frames.full_frame() is not None and not coach.window.busy)
    coach.window.page.frames.failed.emit(UserError("This frame cannot be read."))
    coach.key(Qt.Key.Key_N)
    coach.click(coach.picture)
    assert coach.workspace.serves == []
    assert "No picture" in coach.said[-1]


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (2560, 1440)])
def test_the_picture_has_three_fifths_of_the_window(coach, filmed, size):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.window.resize(*size)
    QApplication.processEvents()
    for step in ("setup", "mark"):
        coach.press({"setup": "Set up", "mark": "Mark"}[step])
        assert (coach.window.width(), coach.window.height()) == size
        assert coach.picture.width() * coach.picture.height() >= 0.6 * size[0] * size[1]


def test_every_control_is_named_and_reached_by_tab(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    for step in ("Set up", "Mark"):
        coach.press(step)
        for control in coach.window.findChildren(QWidget):
            if isinstance(control, QAbstractButton | QComboBox | QLineEdit) and control.isVisible():
                if control.objectName().startswith("qt_") or isinstance(control.parentWidget(), QComboBox):
                    continue
                named = control.accessibleName() or (isinstance(control, QAbstractButton) and control.text())
                assert named, control
                assert control.focusPolicy() & Qt.FocusPolicy.TabFocus or not control.isEnabled(), named


def test_keys_do_not_fire_while_typing(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    coach.make_view()
    gym = coach.window.page.setup_pane.gym
    coach.click(gym)
    coach.key(Qt.Key.Key_A, CTRL)
    coach.type("Oak Hall north")
    assert coach.workspace.frame == 0
    assert coach.workspace.serves == []
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [gym.name for gym in book.gyms() if gym.id == book.views()[0].gym_id] == ["Oak Hall north"]


def test_stepping_and_playing(coach, filmed):
    coach.begin(filmed, coach.folder / "team.logbook")
    for key, modifiers, frame in (
        (Qt.Key.Key_Right, Qt.KeyboardModifier.NoModifier, 1),
        (Qt.Key.Key_Right, SHIFT, 11),
        (Qt.Key.Key_Left, Qt.KeyboardModifier.NoModifier, 10),
        (Qt.Key.Key_End, Qt.KeyboardModifier.NoModifier, 149),
        (Qt.Key.Key_Home, Qt.KeyboardModifier.NoModifier, 0),
    ):
        coach.key(key, modifiers)
        assert coach.workspace.frame == frame
    coach.key(Qt.Key.Key_Down)
    assert coach.window.page.player.speed == SPEEDS[-2]
    coach.key(Qt.Key.Key_Space)
    coach.wait(lambda: coach.workspace.frame >= 3)
    coach.key(Qt.Key.Key_Space)
    assert not coach.window.page.player.playing


@pytest.mark.parametrize(("now_s", "frame"), [(0.0, 0), (0.0999, 0), (0.1, 1), (0.49, 1), (0.5, 2), (9.0, 2)])
def test_playing_goes_by_timestamps(now_s, frame):
    assert frame_shown_at(np.array([0.0, 0.1, 0.5]), now_s) == frame


def test_a_moved_clip_is_missed_said_and_found_again(coach, filmed):
    first = coach.folder / "there" / "clip.mp4"
    first.parent.mkdir()
    shutil.copy(filmed, first)
    coach.begin(first, coach.folder / "team.logbook")
    aside = coach.folder / "elsewhere"
    aside.mkdir()
    first.rename(aside / "renamed.mp4")
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip_entry is not None)
    assert coach.workspace.clip is None
    assert "clip.mp4 is not where it was" in coach.said[-1]
    assert coach.window.missing.words.text() == "clip.mp4 is not where it was."
    coach.key(Qt.Key.Key_I, CTRL | SHIFT)
    coach.answer_file(aside)
    coach.wait(lambda: coach.workspace.clip is not None)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert [Path(entry.path).name for entry in book.clips()] == ["renamed.mp4"]


def test_a_file_that_is_no_clip_is_one_sentence(coach):
    wrong = coach.folder / "notes.mp4"
    wrong.write_text("Tuesday: deep 1")
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, wrong)
    coach.wait(lambda: any("notes.mp4" in said and "Opening" not in said for said in coach.said))
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert book.clips() == []
        assert book.practices() == []


def test_a_file_that_is_no_clip_is_still_told_once_the_others_are_open(coach, filmed):
    wrong = coach.folder / "zz notes.mp4"
    wrong.write_text("Tuesday: deep 1")
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    drop(coach.window, filmed, wrong)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None)
    assert any("zz notes.mp4 is not a video" in said for said in coach.said)
    assert coach.said[-1].startswith(f"{filmed.name}: ")
    assert "zz notes.mp4 is not a video" in coach.said[-1]


def test_dropping_a_clip_asks_once_for_a_logbook(coach, filmed):
    drop(coach.window, filmed)
    coach.answer_file(coach.folder / "team.logbook")
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None)
    assert coach.workspace.practice.date
    drop(coach.window, filmed)
    coach.wait(lambda: not coach.window.opening._worker.busy)
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert len(book.clips()) == 1


def test_what_was_said_leaves_with_its_step_and_stands_off_the_controls(coach):
    message = coach.window._message
    coach.workspace.message.emit("Marked.")
    above = message.geometry()
    assert message.isVisible()
    coach.key(Qt.Key.Key_4, CTRL)
    assert not message.isVisible()
    coach.workspace.message.emit("Written.")
    assert message.geometry().top() > above.bottom()
    assert message.geometry().bottom() < coach.window.height()


def test_a_bug_is_told_in_the_window(coach, monkeypatch, capsys):
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    show_bugs(coach.window)
    try:
        raise ZeroDivisionError("by nought")
    except ZeroDivisionError as error:
        sys.excepthook(type(error), error, error.__traceback__)
    assert "by nought" in coach.window.error.words.text()
    assert "ZeroDivisionError" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("said", "package"),
    [
        ("libEGL.so.1: cannot open shared object file: No such file or directory", "libegl1"),
        ("libGL.so.1: cannot open shared object file", "libgl1"),
        ("libxkbcommon.so.0: cannot open shared object file", "libxkbcommon0"),
    ],
)
def test_a_missing_system_library_names_its_package(said, package):
    told = missing_library(ImportError(said))
    assert isinstance(told, UserError)
    assert f"apt install {package}" in str(told)


def test_another_import_error_stays_what_it_is():
    error = ImportError("No module named PySide6")
    assert missing_library(error) is error


def test_a_picture_of_the_window(coach, filmed, tmp_path):
    film = Path(shutil.copy(filmed, coach.folder / "film.mp4"))
    coach.begin(film, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.click_film(*seen_at(1.0, 7.0))
    coach.window.close()
    out = window_picture(coach.folder / "team.logbook", tmp_path / "window.png", (1280, 720), "dark", "mark")
    image = QImage(str(out))
    assert (image.width(), image.height()) == (1280, 720)
    assert sorted(path.name for path in tmp_path.glob("window*")) == ["window.png"]


def drop(window: QWidget, *paths: Path) -> None:
    """Drag files onto the window and let them go."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    copy, left, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(300, 300), copy, mime, left, none)
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(window, QDropEvent(QPointF(300, 300), copy, mime, left, none))

"""Faults inside the program: of whatever thread, they reach the window as a sentence, and the work goes on."""

from __future__ import annotations

import os
import runpy
import sys
import threading
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from serve_marker import __version__
from serve_marker.desktop.app import show_bugs
from serve_marker.desktop.session import clip_loader, damage_search
from serve_marker.desktop.session.error_reports import error_report
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player
from serve_marker.video import frame_worker, packet_stamps, seeking_decoder
from serve_marker.video.glance import glance
from serve_marker.video.picture import colour

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def telling(coach_at_setup, monkeypatch):
    """A coach whose window hears of every fault."""
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    show_bugs(coach_at_setup.window)
    return coach_at_setup


def see_fault(coach, words):
    coach.wait(lambda: coach.window.error.isVisible() and words in coach.window.error.words.text())
    coach.press("Copy the report")
    return QGuiApplication.clipboard().text()


@pytest.mark.parametrize("module", [seeking_decoder, frame_worker])
def test_a_fault_at_one_frame_is_told_and_the_next_frame_shows(telling, module, monkeypatch):
    page = telling.window.page
    faults: list[int] = []

    def failing(*args):
        if not faults:
            faults.append(1)
            raise ValueError("Marit has no such frame")
        return packet_stamps.decoded(*args) if module is seeking_decoder else colour(*args)

    RosterEditor(telling.workspace).put_players([Player(id="1", name="Marit", number=7)])
    monkeypatch.setattr(module, "decoded" if module is seeking_decoder else "colour", failing)
    page.frames.set_cache_bytes(2**26)
    report = see_fault(telling, "ValueError")
    assert __version__ in report
    assert "ValueError: ... has no such frame" in report
    assert f"{module.__name__.rpartition('.')[2]}.py" in report
    telling.press("Close")
    assert not telling.window.error.isVisible()
    telling.key(Qt.Key.Key_Right)
    telling.wait(lambda: page.shown_index == 1)


def test_a_fault_in_a_worker_is_told_and_the_program_goes_on(telling):
    sound = telling.window.page.sound
    sound._worker.submit(lambda: [][1], done=lambda _answer: None)
    assert "test_faults.py" in see_fault(telling, "IndexError")
    heard: list[int] = []
    sound._worker.submit(lambda: 5, done=heard.append)
    telling.wait(lambda: heard == [5])


def test_a_thread_that_dies_is_told(telling):
    thread = threading.Thread(target=lambda: dict[str, str]()["gone"], name="doomed")
    thread.start()
    thread.join()
    assert "KeyError: 'gone'" in see_fault(telling, "KeyError")


def test_a_fault_in_a_slot_of_the_window_is_told(telling):
    telling.workspace.frame_changed.connect(lambda index: 1 / (index - 2))
    telling.key(Qt.Key.Key_Right)
    telling.key(Qt.Key.Key_Right)
    assert "ZeroDivisionError" in see_fault(telling, "ZeroDivisionError")
    telling.key(Qt.Key.Key_Right)
    telling.wait(lambda: telling.window.page.shown_index == 3)


def test_a_fault_in_the_search_for_damage_is_told(telling, monkeypatch):
    monkeypatch.setattr(damage_search, "search_command", lambda *_: [sys.executable, "-c", "[][1]"])
    telling.window.page.damage._wait.start(0)
    assert "IndexError: list index out of range" in see_fault(telling, "the search for damage broke off")


@pytest.mark.parametrize("fault", [ValueError("nonsense"), UserError("The card is out; put it in.")])
def test_files_behind_one_that_fails_are_opened(telling, filmed, fault, monkeypatch):
    """The first opened is the last by name; the fault comes in reading it."""
    first, second = telling.folder / "a.mp4", telling.folder / "b.mp4"
    for number, path in enumerate((first, second), 1):
        path.write_bytes(filmed.read_bytes() + b"\0" * number)
    last = telling.folder / "c.mp4"
    last.write_bytes(filmed.read_bytes() + b"\0" * 3)

    def glance_or_fail(path):
        if path == last:
            raise fault
        return glance(path)

    monkeypatch.setattr(clip_loader, "glance", glance_or_fail)
    telling.window.books.take(last, second, first)
    telling.agree_to_practice()
    telling.wait(lambda: telling.workspace.clip is not None and telling.workspace.clip.path == first)
    assert {Path(entry.path) for entry in telling.workspace.book().clips()} == {filmed, first, second}
    if isinstance(fault, UserError):
        assert telling.said[-1].endswith("The card is out; put it in.")
    else:
        assert "nonsense" in see_fault(telling, "ValueError")


def test_a_pipe_dropped_as_a_clip_is_refused(telling, filmed, pipe):
    try:
        telling.window.books.take(pipe)
        telling.wait(lambda: telling.said[-1].startswith("pipe.mp4 is a pipe, not a film"))
    finally:
        os.close(os.open(pipe, os.O_RDWR))
    assert [Path(entry.path) for entry in telling.workspace.book().clips()] == [filmed]


def test_clips_behind_a_refused_logbook_are_opened_and_the_refusal_said(telling, filmed):
    wrong, second = telling.folder / "old.logbook", telling.folder / "b.mp4"
    wrong.write_text("no logbook")
    second.write_bytes(filmed.read_bytes() + b"\0")
    telling.window.books.take(wrong, second, filmed)
    telling.agree_to_practice()
    telling.wait(lambda: len(telling.workspace.book().clips()) == 2 and telling.workspace.clip.path == second)
    assert telling.workspace.book().path.name == "team.logbook"
    assert "old.logbook" in telling.said[-1]


def test_the_disk_is_searched_and_read_off_the_windows_thread(telling, filmed, monkeypatch):
    threads = []
    for name in ("find_moved", "fingerprint", "open_clip"):
        real = getattr(clip_loader, name)

        def noted(*args, real=real):
            threads.append(threading.current_thread().name)
            return real(*args)

        monkeypatch.setattr(clip_loader, name, noted)
    opening, entry = telling.window.opening, telling.workspace.clip_entry
    opening.show(entry)
    telling.wait(lambda: not opening._worker.busy)
    opening.search(entry, telling.folder)
    telling.wait(lambda: not opening._worker.busy)
    opening.add(filmed)
    telling.wait(lambda: not opening._worker.busy)
    assert set(threads) == {"clip"}
    assert len(threads) == 9


def test_a_window_closed_at_work_ends_its_threads(telling):
    telling.window.page.sound._worker.submit(
        lambda: [None for _ in iter(telling.window.page.sound._worker.cancelled, True)], done=print
    )
    telling.window.close()
    ours = {"clip", "sound", "snap", "advice", "background", "view check", "decode", "pictures"}
    telling.wait(lambda: ours.isdisjoint(thread.name for thread in threading.enumerate()))


def test_the_report_holds_no_names_and_no_home():
    """Names are words of their own: Al is not taken out of Already."""
    try:
        raise ValueError(f"al, AL_2.png, Already, Zoë Smit; {Path.home()}/x")
    except ValueError as error:
        told = error_report(error, ["Al", "Zoë Smit"])
    assert told.endswith("ValueError: ..., ..._2.png, Already, ... ...; ~/x\n")

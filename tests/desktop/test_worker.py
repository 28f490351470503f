from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Iterator

import pytest

from serve_marker.desktop.session.worker import Worker
from serve_marker.errors import UserError


@pytest.fixture
def worker(qapp) -> Iterator[Worker]:
    made = Worker("test worker")
    yield made
    made.close()


def test_answer_arrives_on_the_window_thread(worker: Worker, qtbot):
    seen: list[tuple[int, str, int]] = []

    def work(number: int) -> tuple[int, str]:
        return number * 2, threading.current_thread().name

    worker.submit(work, 21, done=lambda answer: seen.append((*answer, threading.get_ident())))
    qtbot.waitUntil(lambda: bool(seen), timeout=60_000)
    answer, name, window = seen[0]
    assert answer == 42
    assert name.startswith("test worker")
    assert window == threading.get_ident()


def test_the_newest_request_wins(worker: Worker, qtbot):
    gate = threading.Event()
    answers: list[str] = []

    def slow() -> str:
        gate.wait(60)
        return "slow"

    worker.submit(slow, done=answers.append)
    for word in ("one", "two", "three"):
        worker.submit(lambda word=word: word, done=answers.append)
    gate.set()
    qtbot.waitUntil(lambda: not worker.busy, timeout=60_000)
    assert answers == ["three"]


def test_an_overtaken_answer_does_not_keep_the_window_waiting_for_the_newest(worker: Worker, qapp, qtbot):
    """The first answer is ready while the second is still being worked on: it is dropped, not taken for the second."""
    first_runs, overtaken, second_runs, gate = (threading.Event() for _ in range(4))
    answers: list[str] = []

    def first() -> str:
        first_runs.set()
        overtaken.wait(60)
        return "first"

    def second() -> str:
        second_runs.set()
        return "second" if gate.wait(60) else "second, though nobody let it"

    worker.submit(first, done=answers.append)
    assert first_runs.wait(60)
    worker.submit(second, done=answers.append)
    overtaken.set()
    assert second_runs.wait(60)
    qapp.processEvents()
    assert answers == []
    assert worker.busy
    gate.set()
    qtbot.waitUntil(lambda: not worker.busy, timeout=60_000)
    assert answers == ["second"]


def refuse() -> None:
    raise UserError("The disk is full; make room.")


def test_what_the_coach_can_mend_goes_to_who_asked(worker: Worker, qtbot):
    failures: list[BaseException] = []
    worker.submit(refuse, done=lambda _answer: None, failed=failures.append)
    qtbot.waitUntil(lambda: bool(failures), timeout=60_000)
    assert str(failures[0]) == "The disk is full; make room."


@pytest.mark.parametrize("asked", [True, False])
def test_a_fault_is_raised_on_the_window_whoever_asked_and_the_work_goes_on(asked, worker: Worker, qtbot):
    failures: list[BaseException] = []
    with qtbot.captureExceptions() as caught:
        worker.submit(lambda: 1 / 0, done=lambda _answer: None, failed=failures.append if asked else None)
        qtbot.waitUntil(lambda: bool(caught), timeout=60_000)
    assert caught[0][0] is ZeroDivisionError
    assert [type(error) for error in failures] == ([ZeroDivisionError] if asked else [])
    answers: list[int] = []
    worker.submit(lambda: 3, done=answers.append)
    qtbot.waitUntil(lambda: answers == [3], timeout=60_000)


def test_work_learns_that_it_was_cancelled(worker: Worker, qtbot):
    started, told = threading.Event(), threading.Event()

    def work() -> None:
        started.set()
        while not worker.cancelled():
            pass
        told.set()

    worker.submit(work, done=lambda _answer: pytest.fail("a cancelled answer arrived"))
    assert started.wait(60)
    with qtbot.waitSignal(worker.busy_changed, timeout=60_000):
        worker.cancel()
    assert told.wait(60)
    assert not worker.busy


def test_close_ends_the_thread_and_drops_the_answer(qapp, qtbot):
    worker = Worker("closing worker")
    answers: list[int] = []
    worker.submit(lambda: 1, done=answers.append)
    worker.close()
    qtbot.waitUntil(lambda: "closing worker" not in {thread.name for thread in threading.enumerate()}, timeout=60_000)
    assert answers == []
    worker.submit(lambda: 2, done=answers.append)
    assert not worker.busy


def test_close_leaves_work_that_is_deaf_to_it_behind(qapp, qtbot):
    worker, gate = Worker("deaf worker"), threading.Event()
    answers: list[int] = []
    begun, ended = threading.Event(), threading.Event()

    def deaf() -> int:
        begun.set()
        gate.wait(600)
        ended.set()
        return 1

    worker.submit(deaf, done=answers.append)
    assert begun.wait(60)
    worker.close()
    assert not ended.is_set()
    gate.set()
    assert ended.wait(60)
    qtbot.wait(50)
    assert answers == []


DEAF_WINDOW = """
import sys, time
from PySide6.QtCore import QSettings, QTimer
from serve_marker.desktop.app import application, show_bugs
from serve_marker.desktop.main_window import MainWindow

def loop():
    while True:
        pass

app = application("light")
window = MainWindow(QSettings(sys.argv[1], QSettings.Format.IniFormat))
show_bugs(window)
window.show()
for worker, work in ((window.page.sound._worker, lambda: time.sleep(600)), (window.page.snapping._worker, loop)):
    worker.submit(work, done=print)

QTimer.singleShot(200, window.close)
sys.exit(app.exec())
"""


def test_a_window_closes_and_its_process_ends_beside_work_that_never_does(tmp_path):
    command = [sys.executable, "-c", DEAF_WINDOW, str(tmp_path / "settings.ini")]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert ended.returncode == 0, ended.stderr
    assert "Traceback" not in ended.stderr

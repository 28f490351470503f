from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from serve_marker.desktop.session.worker import Worker


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
    qtbot.waitUntil(lambda: bool(seen))
    answer, worker, window = seen[0]
    assert answer == 42
    assert worker.startswith("test worker")
    assert window == threading.get_ident()


def test_the_newest_request_wins(worker: Worker, qtbot):
    gate = threading.Event()
    answers: list[str] = []

    def slow() -> str:
        gate.wait(5)
        return "slow"

    worker.submit(slow, done=answers.append)
    for word in ("one", "two", "three"):
        worker.submit(lambda word=word: word, done=answers.append)
    gate.set()
    qtbot.waitUntil(lambda: not worker.busy)
    assert answers == ["three"]


def test_an_overtaken_answer_does_not_keep_the_window_waiting_for_the_newest(worker: Worker, qapp, qtbot):
    """The first answer is ready while the second is still being worked on: it is dropped, not taken for the second."""
    overtaken, second_runs, gate = threading.Event(), threading.Event(), threading.Event()
    answers: list[str] = []

    def first() -> str:
        overtaken.wait(5)
        return "first"

    def second() -> str:
        second_runs.set()
        return "second" if gate.wait(3) else "second, though nobody let it"

    worker.submit(first, done=answers.append)
    qtbot.waitUntil(lambda: worker._running == 1)
    worker.submit(second, done=answers.append)
    overtaken.set()
    assert second_runs.wait(5)
    qapp.processEvents()
    assert answers == []
    assert worker.busy
    gate.set()
    qtbot.waitUntil(lambda: not worker.busy)
    assert answers == ["second"]


def test_an_exception_travels(worker: Worker, qtbot):
    failures: list[BaseException] = []
    worker.submit(lambda: 1 / 0, done=lambda _answer: None, failed=failures.append)
    qtbot.waitUntil(lambda: bool(failures))
    assert isinstance(failures[0], ZeroDivisionError)


def test_an_exception_nobody_asked_for_reaches_the_window(worker: Worker, qtbot):
    with qtbot.captureExceptions() as caught:
        worker.submit(lambda: 1 / 0, done=lambda _answer: None)
        qtbot.waitUntil(lambda: bool(caught))
    assert caught[0][0] is ZeroDivisionError


def test_work_learns_that_it_was_cancelled(worker: Worker, qtbot):
    started, told = threading.Event(), threading.Event()

    def work() -> None:
        started.set()
        while not worker.cancelled():
            pass
        told.set()

    worker.submit(work, done=lambda _answer: pytest.fail("a cancelled answer arrived"))
    assert started.wait(5)
    with qtbot.waitSignal(worker.busy_changed):
        worker.cancel()
    assert told.wait(5)
    assert not worker.busy


def test_close_joins_the_thread_and_drops_the_answer(qapp, qtbot):
    worker = Worker("closing worker")
    answers: list[int] = []
    worker.submit(lambda: 1, done=answers.append)
    worker.close()
    qapp.processEvents()
    assert answers == []
    assert not any(thread.name.startswith("closing worker") for thread in threading.enumerate())
    worker.submit(lambda: 2, done=answers.append)
    assert not worker.busy

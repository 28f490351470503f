from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from serve_marker.desktop.jobs import Lane


@pytest.fixture
def lane(qapp) -> Iterator[Lane]:
    made = Lane("test lane")
    yield made
    made.close()


def test_answer_arrives_on_the_window_thread(lane: Lane, qtbot):
    seen: list[tuple[int, str, int]] = []

    def work(number: int) -> tuple[int, str]:
        return number * 2, threading.current_thread().name

    lane.submit(work, 21, done=lambda answer: seen.append((*answer, threading.get_ident())))
    qtbot.waitUntil(lambda: bool(seen))
    answer, worker, window = seen[0]
    assert answer == 42
    assert worker.startswith("test lane")
    assert window == threading.get_ident()


def test_the_newest_request_wins(lane: Lane, qtbot):
    gate = threading.Event()
    answers: list[str] = []

    def slow() -> str:
        gate.wait(5)
        return "slow"

    lane.submit(slow, done=answers.append)
    for word in ("one", "two", "three"):
        lane.submit(lambda word=word: word, done=answers.append)
    gate.set()
    qtbot.waitUntil(lambda: not lane.busy)
    assert answers == ["three"]


def test_an_exception_travels(lane: Lane, qtbot):
    failures: list[BaseException] = []
    lane.submit(lambda: 1 / 0, done=lambda _answer: None, failed=failures.append)
    qtbot.waitUntil(lambda: bool(failures))
    assert isinstance(failures[0], ZeroDivisionError)


def test_an_exception_nobody_asked_for_reaches_the_window(lane: Lane, qtbot):
    with qtbot.captureExceptions() as caught:
        lane.submit(lambda: 1 / 0, done=lambda _answer: None)
        qtbot.waitUntil(lambda: bool(caught))
    assert caught[0][0] is ZeroDivisionError


def test_work_learns_that_it_was_cancelled(lane: Lane, qtbot):
    started, told = threading.Event(), threading.Event()

    def work() -> None:
        started.set()
        while not lane.cancelled():
            pass
        told.set()

    lane.submit(work, done=lambda _answer: pytest.fail("a cancelled answer arrived"))
    assert started.wait(5)
    with qtbot.waitSignal(lane.busy_changed):
        lane.cancel()
    assert told.wait(5)
    assert not lane.busy


def test_close_joins_the_thread_and_drops_the_answer(qapp, qtbot):
    lane = Lane("closing lane")
    answers: list[int] = []
    lane.submit(lambda: 1, done=answers.append)
    lane.close()
    qapp.processEvents()
    assert answers == []
    assert not any(thread.name.startswith("closing lane") for thread in threading.enumerate())
    lane.submit(lambda: 2, done=answers.append)
    assert not lane.busy

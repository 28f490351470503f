"""A window's garbage is taken away by the window's own thread, and by no other."""

from __future__ import annotations

import gc
import threading
import weakref

import pytest
from PySide6.QtCore import QSettings

from serve_marker.desktop.garbage import GarbageCollection
from serve_marker.desktop.main_window import MainWindow

pytestmark = [pytest.mark.gui, pytest.mark.qt_log_ignore("This plugin does not support")]


class Ring(list[object]):
    """Garbage that only the collector finds."""

    def __init__(self, threads: list[str]) -> None:
        super().__init__()
        self.append(self)
        weakref.finalize(self, lambda: threads.append(threading.current_thread().name))


def test_no_other_thread_collects_while_a_window_is_there(qtbot, tmp_path):
    window = MainWindow(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))
    qtbot.addWidget(window)
    threads: list[str] = []

    def litter() -> None:
        for _ in range(5000):
            Ring(threads)

    worker = threading.Thread(target=litter, name="worker")
    worker.start()
    worker.join()
    assert threads == []
    qtbot.waitUntil(lambda: len(threads) == 5000, timeout=60_000)
    assert set(threads) == {threading.main_thread().name}


def test_python_collects_again_once_the_window_is_closed(qtbot, tmp_path):
    window = MainWindow(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))
    qtbot.addWidget(window)
    assert not gc.isenabled()
    window.close()
    assert gc.isenabled()


def test_nothing_is_collected_before_it_is_due():
    gc.collect()
    gc.disable()
    try:
        threads: list[str] = []
        Ring(threads)
        GarbageCollection.collect()
        assert threads == []
    finally:
        gc.enable()

"""The window stands where it stood, in the size and the look it had."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QSize

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_size_and_place_of_the_window_come_back(coach):
    coach.window.resize(770, 700)
    coach.window.move(12, 40)
    coach.wait(lambda: coach.window.size() == QSize(770, 700) and coach.window.pos() == QPoint(12, 40))
    coach.window.close()
    again = coach_at_work["Coach"](coach.folder)
    assert (again.window.size(), again.window.pos()) == (QSize(770, 700), QPoint(12, 40))
    again.leave()

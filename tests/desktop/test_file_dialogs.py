"""Files and folders are asked for by the system's own dialogs; here Qt's stand in for them."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = (coach_at_work[name] for name in ("CTRL", "SHIFT"))
NATIVE_OFF = QFileDialog.Option.DontUseNativeDialog

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.mark.parametrize(
    ("key", "modifiers"),
    [(Qt.Key.Key_N, CTRL), (Qt.Key.Key_O, CTRL), (Qt.Key.Key_I, CTRL), (Qt.Key.Key_I, CTRL | SHIFT)],
    ids=["new logbook", "open logbook", "add clips", "find a moved clip"],
)
def test_the_system_asks_for_files(coach_at_setup, key, modifiers):
    coach_at_setup.key(key, modifiers)
    assert not coach_at_setup.dialog(QFileDialog).testOption(NATIVE_OFF)
    coach_at_setup.key(Qt.Key.Key_Escape)
    assert QApplication.activeModalWidget() is None


def test_the_system_asks_for_the_folder_of_sheets(coach):
    coach.workspace.new_logbook(coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_4, CTRL)
    coach.wait(lambda: not coach.window.busy)
    coach.press("Folder…")
    assert not coach.dialog(QFileDialog).testOption(NATIVE_OFF)
    (coach.folder / "on the stick").mkdir()
    coach.answer_file(coach.folder / "on the stick")
    assert coach.window._pane("share").folder == coach.folder / "on the stick"

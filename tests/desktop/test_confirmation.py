"""A question before work goes: no key a coach presses out of habit says yes to it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QPushButton, QWidget

from serve_marker.desktop.app import let_work
from serve_marker.desktop.dialogs.confirmation import Confirmation

CTRL = Qt.KeyboardModifier.ControlModifier
NO_KEY = Qt.KeyboardModifier.NoModifier
PRESSED_MS = 200
"""A button pressed by its shortcut stays down for a tenth of a second."""

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def question(qtbot):
    beneath = QWidget()
    qtbot.addWidget(beneath)
    beneath.show()
    asked = Confirmation("Remove the clip with its 40 serves?", "Remove", beneath)
    asked.open()
    asked.activateWindow()
    QTest.qWaitForWindowActive(asked)
    yield asked
    asked.close()


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space, Qt.Key.Key_Escape])
@pytest.mark.parametrize("modifiers", [NO_KEY, CTRL])
def test_no_key_says_yes_by_itself(question, key, modifiers):
    focused = QApplication.focusWidget()
    assert focused is not None
    QTest.keyClick(focused, key, modifiers)
    let_work(PRESSED_MS)
    assert question.result() == QDialog.DialogCode.Rejected


def test_the_verb_says_yes(question):
    verb = next(button for button in question.findChildren(QPushButton) if button.text() == "Remove")
    QTest.mouseClick(verb, Qt.MouseButton.LeftButton)
    assert question.result() == QDialog.DialogCode.Accepted

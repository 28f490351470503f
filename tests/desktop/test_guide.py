"""The guide in a window of the program: opened by key, with its pictures, its links followed inside it."""

from __future__ import annotations

import re
import runpy
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextCursor, QTextDocument
from PySide6.QtWidgets import QTextBrowser

from serve_marker.desktop.guide_window import GuideWindow

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def guide(coach):
    """The guide as F1 opens it."""
    coach.key(Qt.Key.Key_F1)
    (window,) = coach.window.findChildren(GuideWindow)
    coach.wait(window.isVisible)
    return window


def first_line(guide):
    """What stands at the upper edge of the text."""
    text = guide.findChild(QTextBrowser)
    return text.cursorForPosition(text.viewport().rect().topLeft()).block().text()


def click_link(coach, guide, words):
    text = guide.findChild(QTextBrowser)
    found = text.document().find(words, 0, QTextDocument.FindFlag.FindCaseSensitively)
    while not found.charFormat().isAnchor():
        found = text.document().find(words, found, QTextDocument.FindFlag.FindCaseSensitively)
    within = QTextCursor(found)
    within.setPosition(found.selectionStart() + 2)
    text.setTextCursor(within)
    text.ensureCursorVisible()
    coach.click(text.viewport(), text.cursorRect(within).center())


def test_the_guide_opens_offline_with_its_pictures(guide):
    text = guide.findChild(QTextBrowser)
    document = QTextDocument()
    document.setMarkdown((ROOT / "docs" / "guide.md").read_text(encoding="utf-8"))
    assert text.toPlainText() == document.toPlainText()
    widths = [picture.width() for picture in guide.pictures.values()]
    assert widths
    assert max(widths) <= text.viewport().width()


def test_links_lead_to_headings_and_to_the_glossary(coach, guide):
    click_link(coach, guide, "Once per gym")
    assert first_line(guide) == "Once per gym"
    click_link(coach, guide, "glossary")
    assert "glossary" in first_line(guide).casefold()
    coach.press_in(guide, "Back")
    assert "guide" in guide.findChild(QTextBrowser).toPlainText().splitlines()[0]


def test_it_is_one_window_that_escape_closes_and_f1_brings_back(coach, guide):
    coach.wait(guide.isActiveWindow)
    coach.key(Qt.Key.Key_Escape)
    assert not guide.isVisible()
    coach.face_window()
    coach.key(Qt.Key.Key_F1)
    assert coach.window.findChildren(GuideWindow) == [guide]
    assert guide.isVisible()
    guide.close()


def test_the_wheel_holds_the_guide_and_its_pictures():
    shipped = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    assert shipped["package-dir"]["serve_marker.docs"] == "docs"
    patterns = shipped["package-data"]["serve_marker.docs"]
    opened = [
        "guide.md",
        *re.findall(r"\]\(([\w/-]+\.\w+)\)", (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")),
    ]
    assert len(opened) > 4
    assert [name for name in opened if not any(fnmatch(name, pattern) for pattern in patterns)] == []

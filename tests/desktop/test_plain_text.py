"""Names typed by a coach are shown letter by letter, never read as markup: that would load files."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint
from PySide6.QtGui import QHelpEvent, Qt, QTextDocument
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QLabel, QToolTip, QWidget

from serve_marker.court.formations import preset
from serve_marker.demo import Sample, add_practice
from serve_marker.desktop.film.serve_strip import ServeStrip
from serve_marker.desktop.film.timeline import Timeline
from serve_marker.desktop.mark.half_court import HalfCourt
from serve_marker.desktop.session.practice_editor import PracticeEditor
from serve_marker.desktop.setup.court_map import CourtMap
from serve_marker.desktop.widgets.chart_view import ChartView
from serve_marker.desktop.widgets.plain_text import tooltip
from serve_marker.logbook.store import Logbook

pytestmark = [pytest.mark.gui, pytest.mark.qt_log_ignore("This plugin does not support")]

NAME = '<img src="team.png"><b>Noor</b>'
POINTED_AT = (ServeStrip, Timeline, HalfCourt, CourtMap, ChartView)


def markup_read(window: QWidget) -> list[str]:
    """What Qt would read as markup among the labels and tooltips of a widget and all below it."""
    widgets = [window, *window.findChildren(QWidget)]
    labels = [widget for widget in widgets if isinstance(widget, QLabel) and type(widget).__name__ != "QTipLabel"]
    read = [
        label.text()
        for label in labels
        if label.textFormat() == Qt.TextFormat.RichText
        or (label.textFormat() == Qt.TextFormat.AutoText and Qt.mightBeRichText(label.text()))
    ]
    return read + [widget.toolTip() for widget in widgets if "<img" in widget.toolTip()]


def point_at_everything(window: QWidget) -> None:
    for widget in window.findChildren(QWidget):
        if isinstance(widget, POINTED_AT) and widget.isVisible():
            surface = widget.viewport() if isinstance(widget, ServeStrip) else widget
            for x in range(4, surface.width(), 24):
                for y in range(4, surface.height(), 24):
                    at = QPoint(x, y)
                    QTest.mouseMove(surface, at)
                    QApplication.sendEvent(surface, QHelpEvent(QEvent.Type.ToolTip, at, surface.mapToGlobal(at)))


@pytest.fixture
def logbook_path(tmp_path, sample_clips):
    path = tmp_path / "team.logbook"
    with Logbook.create(path, team=NAME) as book:
        add_practice(book, Sample("winter-stand", sample_clips))
        book.put(*(replace(player, name=f"{NAME} {player.number}") for player in book.players()))
        book.put(*(replace(gym, name=NAME) for gym in book.gyms()))
        book.put(*(replace(view, name=NAME) for view in book.views()))
        book.put(*(replace(practice, name=NAME) for practice in book.practices()))
        book.put(*(replace(serve, note=NAME) for serve in book.serves()))
    return path


def test_no_label_or_tooltip_reads_a_name_as_markup(coach, logbook_path, sample_clips, monkeypatch):
    shown: list[str] = []
    monkeypatch.setattr(QToolTip, "showText", lambda _at, words, *_rest: shown.append(words))
    window = coach.window
    window.opening.allow(sample_clips)
    window.books.open_logbook_at(logbook_path)
    coach.wait(lambda: coach.workspace.clip is not None and not window.busy)
    PracticeEditor(coach.workspace).set_formation(replace(preset(3, "up", coach.workspace.court), name=NAME))
    found: list[str] = []
    for step in ("setup", "mark", "study", "share"):
        window.go_to_step(step)
        coach.wait(lambda: not window.busy)
        point_at_everything(window)
        found += markup_read(window)
    window.say(NAME)
    window.go_to_step("mark")
    coach.workspace.go_to_serve(coach.workspace.serves[0].id)
    opened = set()
    for action in [spec.id for spec in window.specs if spec.text.endswith("…") and spec.id != "give_serves"]:
        window.actions_by_id[action].trigger()
        QApplication.processEvents()
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, QDialog):
            opened.add(action)
            found += markup_read(dialog)
            dialog.reject()
            QApplication.processEvents()
    found += markup_read(window)
    assert found == []
    assert {"edit_practice", "choose_clip", "edit_players", "edit_passers", "choose_view"} <= opened
    assert not [words for words in shown if "<img" in words]
    assert any("&lt;img" in words for words in shown), "some tooltip shows a name"


def test_a_tooltip_shows_what_was_typed():
    page = QTextDocument()
    page.setHtml(tooltip(f"{NAME}\n2 < 3 & 4"))
    assert page.toPlainText() == f"{NAME}\n2 < 3 & 4"

"""The start: one drawing of the job, and the logbooks opened lately as cards with their date and last picture."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QSettings, QSize

from serve_marker.desktop.recent_files import CARDS
from serve_marker.desktop.start_drawing import FAR, LANDING, NEAR, StartDrawing
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.theme import LIGHT
from serve_marker.study.sentences import date_words

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def test_a_logbook_left_is_a_card_with_its_date_and_picture_and_a_click_opens_it(coach_at_mark):
    coach = coach_at_mark
    coach.step_to(20)
    date, floor = coach.workspace.practice.date, (176, 120, 72)
    coach.window.close()
    again = coach_at_work["Coach"](coach.folder)
    (card,) = again.window.start.cards
    assert card.isVisible()
    assert card.text() == f"team\n{date_words(date)}"
    assert card.accessibleDescription() == date_words(date)
    shown = image_array(card.icon().pixmap(card.iconSize()).toImage())[..., :3].astype(int)
    assert (np.abs(shown - floor).max(axis=2) < 30).mean() > 0.2, "the floor of the film is in the picture"
    again.click(card)
    again.wait(lambda: again.workspace.clip is not None and not again.window.busy)
    assert again.workspace.book().path.name == "team.logbook"
    again.leave()


def test_what_was_kept_of_a_logbook_goes_with_it(coach_at_mark):
    coach = coach_at_mark
    book = coach.workspace.book().path
    coach.window.close()
    settings = QSettings(str(coach.folder / "settings.ini"), QSettings.Format.IniFormat)
    settings.beginGroup(CARDS)
    assert len(settings.childGroups()) == 1
    settings.endGroup()
    book.rename(coach.folder / "elsewhere.logbook")
    again = coach_at_work["Coach"](coach.folder)
    assert again.window.start.cards == []
    again.press("New logbook…")
    again.answer_file(coach.folder / "new.logbook")
    again.wait(lambda: again.workspace.logbook is not None)
    again.window.close()
    settings.sync()
    settings.beginGroup(CARDS)
    assert settings.childGroups() == []
    again.leave()


def test_a_picture_goes_with_its_film(coach_at_mark):
    coach = coach_at_mark
    film = coach.workspace.clip.path
    settings = QSettings(str(coach.folder / "settings.ini"), QSettings.Format.IniFormat)
    coach.window.close()
    assert [key for key in settings.allKeys() if key.endswith("/picture")]
    film.rename(film.with_suffix(".away"))
    try:
        again = coach_at_work["Coach"](coach.folder)
        assert len(again.window.start.cards) == 1
        again.leave()
    finally:
        film.with_suffix(".away").rename(film)
    settings.sync()
    assert not [key for key in settings.allKeys() if key.endswith("/picture")]


def test_a_low_window_with_large_letters_keeps_cards_whole(coach_at_mark):
    coach_at_mark.window.close()
    again = coach_at_work["Coach"](coach_at_mark.folder)
    window = again.window
    window.resize(1024, 640)
    window.actions_by_id["text_150"].trigger()
    again.wait(lambda: not window.busy)
    (card,) = window.start.cards
    assert (window.size(), card.size().height() >= card.sizeHint().height()) == (QSize(1024, 640), True)
    window.actions_by_id["text_100"].trigger()
    again.leave()


def test_the_drawing_shows_four_crossings_and_one_dot(dressed, qtbot):
    drawing = StartDrawing()
    qtbot.addWidget(drawing)
    drawing.resize(drawing.sizeHint())
    ink = drawing.grab().toImage()
    rings = [ink.pixelColor(corner.toPoint()).name() for corner in (*NEAR, *FAR)]
    edges = [ink.pixelColor(int(corner.x()) - 7, int(corner.y())).name() for corner in (*NEAR, *FAR)]
    assert rings == [LIGHT.panel] * 4
    assert edges == [LIGHT.accent] * 4
    assert ink.pixelColor(LANDING.toPoint()).name().lower() == LIGHT.of("disc").name().lower()

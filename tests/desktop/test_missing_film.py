"""A film that has gone, or is another one now, is named beside the button that looks for it, until it is found."""

from __future__ import annotations

import runpy
import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
seen_at, CTRL = coach_at_work["seen_at"], coach_at_work["CTRL"]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def film(coach, filmed):
    """The film on the screen, ready to be marked, and a copy of it in another folder."""
    path, aside = coach.folder / "card" / "tuesday.mp4", coach.folder / "aside"
    path.parent.mkdir()
    aside.mkdir()
    shutil.copy(filmed, path)
    shutil.copy(filmed, aside / "kept.mp4")
    coach.begin(path, coach.folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    return path


def words_of(coach):
    bar = coach.window.missing
    return bar.words.text() if bar.isVisible() else ""


def find_it(coach):
    coach.press("Find it…")
    coach.answer_file(coach.folder / "aside")
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path.name == "kept.mp4")
    assert words_of(coach) == ""


def test_a_film_missing_from_the_start_is_named_beside_the_button_that_looks_for_it(coach, film):
    film.unlink()
    film.parent.rmdir()
    coach.window.books.open_logbook_at(coach.folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip_entry is not None)
    assert words_of(coach) == "tuesday.mp4 is not where it was."
    find_it(coach)


def test_a_film_that_goes_while_it_is_open_is_named_until_it_is_back(coach, film, filmed):
    film.unlink()
    coach.wait(lambda: words_of(coach) == "tuesday.mp4 is not where it was.")
    coach.click_film(*seen_at(1.0, 7.0))
    assert len(coach.workspace.serves) == 1, "what is on the screen is still the film"
    shutil.copy(filmed, film)
    coach.wait(lambda: words_of(coach) == "")


def test_a_film_replaced_by_another_is_marked_no_more(coach, film, filmed):
    coach.click_film(*seen_at(1.0, 7.0))
    film.write_bytes(filmed.read_bytes() + b"\0")
    coach.wait(lambda: words_of(coach) == "tuesday.mp4 is another film now.")
    coach.click_film(*seen_at(-1.0, 7.0))
    assert len(coach.stored_serves()) == len(coach.workspace.serves) == 1
    find_it(coach)
    assert len(coach.workspace.serves) == 1

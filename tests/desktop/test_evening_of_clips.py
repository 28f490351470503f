"""An evening has more than one clip, in a logbook that opens by itself."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def coach_again(coach_at_setup):
    """The coach of last week, back at a window that has just opened."""
    coach_at_setup.window.close()
    made = coach_at_work["Coach"](coach_at_setup.folder)
    yield made
    made.leave()


def test_the_last_logbook_opens_by_itself(coach_again, filmed):
    coach_again.window.open_at_start()
    coach_again.wait(lambda: coach_again.workspace.clip is not None and not coach_again.window.busy)
    assert coach_again.workspace.book().path == coach_again.folder / "team.logbook"
    assert coach_again.workspace.clip.path == filmed


def test_a_last_logbook_that_has_gone_is_one_sentence_on_the_start_page(coach_at_setup):
    coach_at_setup.window.close()
    (coach_at_setup.folder / "team.logbook").rename(coach_at_setup.folder / "moved.logbook")
    coach = coach_at_work["Coach"](coach_at_setup.folder)
    coach.window.open_at_start()
    assert coach.workspace.logbook is None
    assert coach.window.start.isVisible()
    assert coach.window.start.logbook_words.text() == "team.logbook is not where it was; open it where it is now."
    coach.leave()

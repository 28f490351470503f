"""Views of the stretches of a clip, their drafts, what was checked and the passers of a practice: kept in tables."""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect
from serve_marker.logbook.records import StoredFormation, StoredView
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.store import Logbook

STAND, MOVED = (
    StoredView(id=view_id, gym_id="hall", name=name, made_on="2026-03-02", document='{"version": 1}')
    for view_id, name in (("stand", "Stand"), ("moved", "Stand 2"))
)
THREE = StoredFormation(id="three", name="three passers up", document='{"passers": []}')
THIRD_S = 2 / 3
"""No time with three decimals: drafts were found by 0.667."""
DRAFT = '{"marks": {"end-b/left": [216.504, 101.119]}}'

SETTINGS = {
    "team": "Tidewater",
    "scheme": "{}",
    "stretches film": json.dumps([[THIRD_S, None], [2.5, "moved"], [4.0, "gone"], [0.0, "moved"]]),
    "landmarks film": '{"marks": {}}',
    "landmarks film 0.667": DRAFT,
    "landmarks film 9.000": "a stretch that is no more",
    "checked film": "moved",
    "formation of practice march": "three",
    "formation of practice april": "",
    "stretches gone": "[[1.0, null]]",
    "stretches second": "[[1.0",
    "checked second": "gone",
    "formation of practice may": "gone",
}
"""As the window of version 3 wrote them (`stretches` and `landmarks` copied from a logbook it made), and worse."""
LEFT = {"team", "scheme", "landmarks film 9.000", "stretches gone", "stretches second"}


@pytest.fixture
def older(tmp_path: Path) -> Iterator[Logbook]:
    """A logbook of version 3, opened by the program of now."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:3])
    connection.execute("INSERT INTO gym VALUES ('hall', 'Tidewater hall')")
    for view in (STAND, MOVED):
        connection.execute(
            "INSERT INTO stored_view VALUES (?, 'hall', ?, ?, ?)", (view.id, view.name, view.made_on, view.document)
        )
    connection.execute("INSERT INTO formation VALUES ('three', 'three passers up', ?)", (THREE.document,))
    for practice_id in ("march", "april", "may"):
        connection.execute(
            "INSERT INTO practice VALUES (?, '2026-03-02', 'Monday', NULL, 'drill', 'none')", (practice_id,)
        )
    for clip_id in ("film", "second"):
        connection.execute("INSERT INTO clip VALUES (?, 'march', 'film.mp4', 5, 'ab', 'stand', NULL)", (clip_id,))
    connection.executemany("INSERT INTO setting VALUES (?, ?)", SETTINGS.items())
    connection.close()
    with Logbook.open(path) as opened:
        yield opened


def settings_of(logbook: Logbook) -> dict[str, str]:
    return dict(logbook._connection.execute("SELECT key, text FROM setting").fetchall())


def test_an_older_logbook_finds_everything_in_the_tables(older: Logbook) -> None:
    first, second = older.clips()
    assert first.view_id == "stand"
    assert first.later_views == ((THIRD_S, None), (2.5, "moved"), (4.0, None))
    assert second.later_views == ()
    assert [older.view_draft("film", from_s) for from_s in (0.0, THIRD_S, 2.5)] == ['{"marks": {}}', DRAFT, ""]
    assert (older.checked_view("film"), older.checked_view("second")) == ("moved", None)
    formations = {practice.id: practice.formation_id for practice in older.practices()}
    assert formations == {"march": "three", "april": None, "may": None}
    assert older.check() == []


def test_of_the_settings_only_those_moved_are_gone(older: Logbook) -> None:
    assert settings_of(older) == {key: text for key, text in SETTINGS.items() if key in LEFT}


@pytest.fixture
def moved_twice(logbook: Logbook) -> Logbook:
    """A logbook with one clip whose camera was moved twice."""
    (practice,), (clip,) = logbook.practices(), logbook.clips()
    logbook.put(MOVED, THREE, replace(practice, formation_id="three"))
    logbook.put(replace(clip, later_views=((1.5, "moved"), (2.5, None))))
    return logbook


def test_a_clip_keeps_its_views_in_order(moved_twice: Logbook) -> None:
    (clip,) = moved_twice.clips()
    assert clip.later_views == ((1.5, "moved"), (2.5, None))
    assert moved_twice.clips(practice_id="march") == [clip]
    moved_twice.put(replace(clip, later_views=()))
    assert moved_twice.clips() == [replace(clip, later_views=())]


def test_a_draft_belongs_to_its_stretch(moved_twice: Logbook) -> None:
    moved_twice.put_view_draft("film", 1.5, "first")
    moved_twice.put_view_draft("film", 1.5, DRAFT)
    moved_twice.put(*moved_twice.clips())
    assert [moved_twice.view_draft("film", from_s) for from_s in (0.0, 1.5)] == ["", DRAFT]
    with pytest.raises(UserError, match="clip this change belongs to is gone, so nothing was changed"):
        moved_twice.put_view_draft("gone", 0.0, DRAFT)


def test_a_view_that_holds_in_a_stretch_is_still_needed(moved_twice: Logbook) -> None:
    with pytest.raises(UserError, match="Stand 2 cannot be removed, because there is 1 clip seen through Stand 2"):
        moved_twice.remove(MOVED)
    moved_twice.put(*(replace(clip, later_views=()) for clip in moved_twice.clips()))
    moved_twice.put_checked_view("film", "moved")
    moved_twice.remove(MOVED)
    assert moved_twice.checked_view("film") is None


def test_a_formation_a_practice_plays_against_is_still_needed(moved_twice: Logbook) -> None:
    with pytest.raises(UserError, match="there is 1 practice played against three passers up; choose another"):
        moved_twice.remove(THREE)


def test_a_removed_clip_takes_what_is_known_of_its_views_along(moved_twice: Logbook) -> None:
    moved_twice.put_view_draft("film", 0.0, DRAFT)
    moved_twice.put_checked_view("film", "stand")
    moved_twice.remove(*moved_twice.serves(), *moved_twice.clips())
    assert (moved_twice.view_draft("film", 0.0), moved_twice.checked_view("film")) == ("", None)
    moved_twice.remove(MOVED)
    assert moved_twice.check() == []

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.health import problems
from serve_marker.logbook.store import Logbook


@pytest.fixture
def filmed(logbook: Logbook, tmp_path: Path) -> Logbook:
    """A logbook whose clip is really there."""
    film = tmp_path / "films" / "film.mp4"
    film.parent.mkdir()
    film.write_bytes(b"moving pictures")
    size_bytes, digest = fingerprint(film)
    logbook.put(replace(logbook.clips()[0], path=str(film), size_bytes=size_bytes, fingerprint=digest))
    return logbook


def test_nothing_to_say_where_all_is_well(filmed: Logbook) -> None:
    assert problems(filmed) == []


def test_a_clip_that_is_gone(filmed: Logbook) -> None:
    place = Path(filmed.clips()[0].path)
    place.unlink()

    assert problems(filmed) == [f"film.mp4 is not at {place}; put it back or beside the logbook."]


def test_a_clip_that_lies_beside_the_logbook(filmed: Logbook, tmp_path: Path) -> None:
    place = Path(filmed.clips()[0].path)
    place.rename(tmp_path / "copied.mp4")

    moved = tmp_path / "copied.mp4"
    assert problems(filmed) == [f"film.mp4 is not at {place}, but the same film lies at {moved}."]


def test_another_film_in_its_place(filmed: Logbook) -> None:
    place = Path(filmed.clips()[0].path)
    place.write_bytes(b"another film...")

    assert problems(filmed) == [f"film.mp4 is no longer the film that was marked. Put the old one back at {place}."]


def test_a_pipe_in_its_place_is_not_waited_for(filmed: Logbook, pipe: Path, in_time: Callable[..., Any]) -> None:
    filmed.put(replace(filmed.clips()[0], path=str(pipe), size_bytes=0))

    assert in_time(problems, filmed) == [f"pipe.mp4 is not at {pipe}; put it back or beside the logbook."]


@pytest.mark.parametrize(
    ("document", "sentence"),
    [
        ("no json", "The view Stand cannot be read; set it up again."),
        ("[1]", "The view Stand cannot be read; set it up again."),
        ("{}", "The view Stand cannot be read; set it up again."),
        ('{"version": 99}', "The view Stand was written by another version; set it up again or update."),
    ],
)
def test_a_view_that_is_not_of_this_version(filmed: Logbook, document: str, sentence: str) -> None:
    filmed.put(replace(filmed.views()[0], document=document))

    assert problems(filmed) == [sentence]


def test_serves_without_a_view(filmed: Logbook) -> None:
    first = filmed.serves()[0]
    filmed.put(
        replace(first, view_id=None),
        replace(first, id="second", view_id=None, landing_point=None, contact_point=None),
        replace(first, id="third", view_id=None, landing_point=None, contact_point=None),
    )

    assert problems(filmed) == [
        "1 serve has a place from a lost view in film.mp4. Choose the clip's view again.",
        "2 serves have no view in film.mp4; choose one for the clip.",
    ]


def test_damage_comes_before_everything(filmed: Logbook) -> None:
    connection = sqlite3.connect(filmed.path, isolation_level=None)
    connection.execute("DELETE FROM stored_view")
    connection.close()

    assert len(problems(filmed)) == 2
    assert all("belongs to a stored_view that is gone" in sentence for sentence in problems(filmed))

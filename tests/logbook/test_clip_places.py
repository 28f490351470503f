"""A logbook from elsewhere can name any file and any computer: none of them is looked at unasked."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from serve_marker.cli import app
from serve_marker.logbook import moved_clips
from serve_marker.logbook.clip_places import folder_to_ask_about, may_open
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.health import problems
from serve_marker.logbook.moved_clips import find_moved, likely_folders
from serve_marker.logbook.store import Logbook

NETWORK = (r"\\server\films\film.mp4", "//server/films/film.mp4", r"\/server/films/film.mp4", "smb://server/film.mp4")


@pytest.fixture
def outside(logbook: Logbook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film in a folder of its own that the logbook names rightly."""
    film = tmp_path_factory.mktemp("elsewhere") / "film.mp4"
    film.write_bytes(b"moving pictures")
    size_bytes, digest = fingerprint(film)
    logbook.put(replace(logbook.clips()[0], path=str(film), size_bytes=size_bytes, fingerprint=digest))
    return film


def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is looked at on the disk from now on."""
    seen: list[str] = []
    real = os.stat

    def stat(path: str, *rest: object, **named: object) -> object:
        seen.append(str(path))
        return real(path, *rest, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "stat", stat)
    return seen


def test_a_folder_outside_is_opened_once_it_is_allowed(logbook: Logbook, outside: Path) -> None:
    (entry,) = logbook.clips()
    assert folder_to_ask_about(logbook, entry) == outside.parent
    assert find_moved(entry, likely_folders(logbook)) is None

    logbook.clip_folders.add(outside.parent)
    assert folder_to_ask_about(logbook, entry) is None
    assert find_moved(entry, likely_folders(logbook)) == outside


def test_the_same_film_beside_the_logbook_needs_no_leave(logbook: Logbook, outside: Path) -> None:
    beside = logbook.path.with_name("film.mp4")
    outside.rename(beside)

    assert find_moved(logbook.clips()[0], likely_folders(logbook)) == beside


@pytest.mark.parametrize("place", NETWORK)
def test_no_other_computer_is_asked(logbook: Logbook, place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    logbook.put(replace(logbook.clips()[0], path=place))
    (entry,) = logbook.clips()
    seen = looked_at(monkeypatch)

    assert not may_open(logbook, place)
    assert find_moved(entry, likely_folders(logbook)) is None
    (sentence,) = [found for found in problems(logbook) if "lies in" in found]
    assert sentence.endswith("outside the logbook's folder. Copy it beside the logbook, or allow that folder.")
    assert [path for path in seen if path.startswith((place[:8], "smb:"))] == []


def test_the_old_place_is_looked_at_where_it_may_be(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    """That what is looked at is heard at all."""
    place = logbook.path.with_name("server.mp4")
    logbook.put(replace(logbook.clips()[0], path=str(place)))
    seen = looked_at(monkeypatch)
    assert moved_clips.find_moved(logbook.clips()[0], likely_folders(logbook)) is None

    assert str(place) in seen


@pytest.mark.parametrize("steps", ["../other/film.mp4", "clips/../../other/film.mp4"])
def test_steps_back_lead_out_of_no_folder(logbook: Logbook, steps: str) -> None:
    assert not may_open(logbook, f"{logbook.path.parent}/{steps}")
    assert may_open(logbook, f"{logbook.path.parent}/clips/../film.mp4")


def test_a_logbook_on_another_computer_opens_the_clips_beside_it(tmp_path: Path) -> None:
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.path = Path("//server/team/team.logbook")
        assert may_open(book, "//server/team/clips/film.mp4")
        assert not may_open(book, "//server/other/film.mp4")
        assert not may_open(book, "//evil/team/film.mp4")


def test_check_names_another_folder_and_looks_there(logbook: Logbook, outside: Path) -> None:
    logbook.remove(*logbook.serves())
    logbook.put(replace(logbook.clips()[0], view_id=None))
    logbook.remove(*logbook.views())
    logbook.close()

    told = CliRunner().invoke(app, ["logbook", "check", str(logbook.path)])
    assert told.stderr == f'Clips are also looked for in "{outside.parent}", outside the logbook\'s folder.\n'
    assert told.stdout == "team.logbook is sound: 0 serves.\n"


def test_check_asks_another_computer_only_where_told(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    logbook.put(replace(logbook.clips()[0], path="//server/films/film.mp4"))
    logbook.close()
    seen = looked_at(monkeypatch)

    CliRunner().invoke(app, ["logbook", "check", str(logbook.path)])
    assert [path for path in seen if path.startswith("//server")] == []
    CliRunner().invoke(app, ["logbook", "check", str(logbook.path), "--clips", "//server/films"])
    assert "//server/films/film.mp4" in seen

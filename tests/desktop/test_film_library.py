"""A film of the logbook is found and read once, whoever asks for it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import numpy as np
import pytest

from serve_marker.desktop.session import film_library
from serve_marker.desktop.session.film_library import FilmFrames, FilmLibrary
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry, Practice
from serve_marker.logbook.store import Logbook
from serve_marker.video.clip import open_clip

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"


@pytest.fixture
def opens(monkeypatch):
    """The paths that were read through, in order."""
    read = []

    def counted(path, *args, **kwargs):
        read.append(Path(path).name)
        return open_clip(path, *args, **kwargs)

    monkeypatch.setattr(film_library, "open_clip", counted)
    return read


@pytest.fixture
def film(tmp_path):
    path = tmp_path / "tuesday.mp4"
    shutil.copy(next(SAMPLES.glob("*.mp4")), path)
    return path


@pytest.fixture
def library(tmp_path, film):
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(Practice(id="p", date="2026-11-03", name="Tuesday"))
        yield FilmLibrary(book)


def entry_of(film):
    size_bytes, digest = fingerprint(film)
    return ClipEntry(id="c", practice_id="p", path=str(film), size_bytes=size_bytes, fingerprint=digest)


def test_two_who_ask_share_one_reading_and_the_film_stays_open(library, film, opens):
    entry = entry_of(film)
    hover, share = FilmFrames(library), FilmFrames(library)

    first = hover.reader(entry)
    np.testing.assert_array_equal(first.frame(3), share.reader(entry).frame(3))

    assert hover.reader(entry) is first
    assert opens == ["tuesday.mp4"]
    hover.close()
    share.close()


def test_a_clip_the_window_has_opened_is_not_read_again(library, film, opens):
    library.keep("c", open_clip(film))

    assert library.clip(entry_of(film)).path == film
    assert opens == []


def test_another_film_under_the_same_name_is_read_anew(library, film, opens):
    library.clip(entry_of(film))
    other = sorted(SAMPLES.glob("*.mp4"))[1]
    shutil.copy(other, film)
    os.utime(film, ns=(1, 1))

    assert library.clip(entry_of(film)).frame_count == open_clip(other).frame_count
    assert opens == ["tuesday.mp4", "tuesday.mp4"]


def test_a_film_that_is_gone_is_nobodys(library, film):
    entry = entry_of(film)
    film.unlink()

    assert library.clip(entry) is None


def test_the_kept_table_of_a_long_film_is_used(library, film, monkeypatch, tmp_path):
    monkeypatch.setattr(film_library, "LONG_S", 0.1)
    entry = entry_of(film)

    library.clip(entry)

    assert (tmp_path / "team clips" / f"{entry.fingerprint}.times").is_file()

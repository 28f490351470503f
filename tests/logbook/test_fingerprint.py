import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook.fingerprint import SAMPLE_BYTES, fingerprint
from serve_marker.logbook.moved_clips import find_moved
from serve_marker.logbook.records import ClipEntry


def film(path: Path, head: bytes = b"head", middle: int = 3 * SAMPLE_BYTES, tail: bytes = b"tail") -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(head + bytes(middle) + tail)
    return path


def entry_of(path: Path) -> ClipEntry:
    size_bytes, digest = fingerprint(path)
    return ClipEntry(id="c", practice_id="p", path=str(path), size_bytes=size_bytes, fingerprint=digest)


def test_a_hash_of_size_head_and_tail(tmp_path: Path) -> None:
    """Built here by hand: size in decimal digits, first and last MiB, SHA-256."""
    path = film(tmp_path / "a.mp4")
    content = path.read_bytes()
    by_hand = hashlib.sha256(str(len(content)).encode() + content[: 1 << 20] + content[-(1 << 20) :]).hexdigest()

    assert fingerprint(path) == (len(content), by_hand)


def test_head_tail_and_size_tell_films_apart(tmp_path: Path) -> None:
    films = [
        film(tmp_path / "a.mp4"),
        film(tmp_path / "b.mp4", head=b"HEAD"),
        film(tmp_path / "c.mp4", tail=b"TAIL"),
        film(tmp_path / "d.mp4", middle=3 * SAMPLE_BYTES + 1),
        film(tmp_path / "e.mp4", middle=0),
    ]

    assert len({fingerprint(path) for path in films}) == len(films)


def test_a_renamed_film_is_found_among_others(tmp_path: Path) -> None:
    path = film(tmp_path / "old" / "a.mp4")
    entry = entry_of(path)
    film(tmp_path / "new" / "a.mp4", head=b"HEAD")
    (tmp_path / "new" / "folder.mp4").mkdir()
    assert find_moved(entry, [tmp_path / "new", path.parent]) == path
    assert find_moved(entry, [tmp_path / "new"]) is None, "no other folder is looked at"

    moved = path.rename(tmp_path / "new" / "renamed.mp4")
    assert find_moved(entry, [tmp_path / "none", tmp_path / "new"]) == moved
    assert find_moved(entry, [tmp_path / "none"]) is None


@pytest.mark.parametrize(
    ("name", "sentence"), [("none.mp4", "is not there"), ("", "is a folder; choose the video file inside it")]
)
def test_no_file_is_one_sentence(tmp_path: Path, name: str, sentence: str) -> None:
    with pytest.raises(UserError, match=sentence):
        fingerprint(tmp_path / name)


def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path, pipe: Path, in_time: Callable[..., Any]) -> None:
    with pytest.raises(UserError, match=r"^pipe\.mp4 is a pipe, not a film"):
        in_time(fingerprint, pipe)

    entry = replace(entry_of(film(tmp_path / "films" / "a.mp4")), path=str(pipe), size_bytes=0)
    assert in_time(find_moved, entry, [tmp_path]) is None

"""The boxes of an MP4's index, against indexes made by hand and against nonsense."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from serve_marker.video.mp4_index import BrokenIndexError, Edit, TrackIndex, read_index

boxes: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("boxes.py")))
box, movie, with_number = boxes["box"], boxes["movie"], boxes["with_number"]
FILM = box(b"ftyp", b"isom", bytes(4))
# Four frames 40 ms apart, decoded I P B B and shown I B B P: decoded at 0 40 80 120, shown at 40 160 80 120.
REORDERED = {"deltas": [(4, 40)], "offsets": [(1, 40), (1, 120), (2, 0)], "samples": 4, "ticks_s": 1000, "length": 160}


def written(tmp_path: Path, *parts: bytes) -> Path:
    path = tmp_path / "made.mp4"
    path.write_bytes(b"".join(parts))
    return path


@pytest.mark.parametrize("version", [0, 1])
def test_numbers_are_those_written(tmp_path: Path, version: int) -> None:
    index = read_index(written(tmp_path, FILM, movie(**REORDERED, edits=[(20, -1), (160, 40)], version=version)), 1)
    assert index is not None
    assert (index.ticks_s, index.media_length, index.samples) == (1000, 160, 4)
    assert (index.movie_ticks_s, index.movie_length, index.track_length) == (1000, 160, 160)
    assert index.edits == (Edit(20, -1, 1.0), Edit(160, 40, 1.0))
    assert index.deltas.each().tolist() == [40, 40, 40, 40]
    assert index.offsets is not None
    assert (index.offsets.counts.tolist(), index.offsets.values.tolist()) == ([1, 1, 2], [40, 120, 0])
    assert index.offsets.each().tolist() == [40, 120, 0, 0]


def test_the_index_may_stand_behind_a_wide_box_and_offsets_may_be_negative(tmp_path: Path) -> None:
    made = movie([(2, 40)], [(1, 0), (1, -40)], 2, 1000, 80)
    index = read_index(written(tmp_path, FILM, box(b"mdat", bytes(100), wide=True), made), 1)
    assert index is not None
    assert index.offsets is not None
    assert index.offsets.each().tolist() == [0, -40]


def test_a_length_of_all_ones_is_not_known(tmp_path: Path) -> None:
    index = read_index(written(tmp_path, with_number(movie(**REORDERED), b"mdhd", 16, 0xFFFFFFFF)), 1)
    assert index is not None
    assert index.media_length == 0


@pytest.mark.parametrize(
    "content",
    [b"", b"\0\0\0", FILM, b"\0\0\0\x04mdat", b"\x1aE\xdf\xa3" * 9, box(b"moov", box(b"mvex"), box(b"trak"))],
    ids=["empty", "three bytes", "no index", "size below eight", "Matroska", "fragments"],
)
def test_files_without_such_an_index_are_not_judged(tmp_path: Path, content: bytes) -> None:
    assert read_index(written(tmp_path, content), 1) is None


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda whole: whole.replace(b"mdhd", b"mdxd"), "one of its tables is missing"),
        (lambda whole: whole.replace(b"stts", b"stxs"), "no known name"),
        (lambda whole: whole.replace(b"ctts", b"stts"), "no known name"),
        (lambda whole: whole.replace(b"ctts", b"ctvs"), "no known name"),
        (lambda whole: whole.replace(b"mdhd", b"m\xe4hd"), "do not fit together"),
        (lambda whole: whole.replace(b"trak", b"trax"), "do not fit together"),
        (lambda whole: with_number(whole, b"tkhd", 12, 9), "do not fit together"),
        (lambda whole: with_number(whole, b"mdia", -8, 7), "do not fit together"),
        (lambda whole: with_number(whole, b"stbl", -8, 1 << 30), "do not fit together"),
        (lambda whole: with_number(whole, b"stts", 4, 1 << 30), "cut short"),
        (lambda whole: with_number(whole, b"ctts", 4, 4), "cut short"),
        (lambda whole: with_number(whole, b"stsz", 8, 1 << 31), "it counts 2147483648 frames"),
    ],
)
def test_broken_boxes_are_named(tmp_path: Path, spoil: Any, says: str) -> None:
    with pytest.raises(BrokenIndexError, match=says):
        read_index(written(tmp_path, FILM, spoil(movie(**REORDERED))), 1)


@pytest.mark.parametrize("kind", [b"csgp", b"sgpd", b"sbgp", b"subs", b"saiz", b"saio", b"cslg", b"stps", b"zzz9"])
def test_further_tables_are_no_cause_for_doubt(tmp_path: Path, kind: bytes) -> None:
    """The names, but for the last one, are those of ISO/IEC 14496-12, 8.5 to 8.9, and of QuickTime, from memory."""
    further, film = box(kind, bytes(12)), movie(**REORDERED)
    at = film.index(b"stsz") - 4
    film = film[:at] + further + film[at:]
    for holder in (b"moov", b"trak", b"mdia", b"minf", b"stbl"):
        film = with_number(film, holder, -8, boxes["number_in"](film, holder, -8) + len(further))
    index = read_index(written(tmp_path, FILM, film), 1)
    assert index is not None
    assert index.samples == 4


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 430), st.integers(0, 255)), min_size=1, max_size=12), st.integers(0, 430))
def test_nonsense_ends_in_numbers_or_in_a_reason(tmp_path: Path, changes: list[tuple[int, int]], cut: int) -> None:
    content = bytearray(FILM + movie(**REORDERED, edits=[(160, 40)]))
    for at, value in changes:
        content[at % len(content)] = value
    try:
        index = read_index(written(tmp_path, bytes(content[: len(content) - cut // 20])), 1)
    except BrokenIndexError:
        return
    assert index is None or isinstance(index, TrackIndex)

"""Long clips and slow motion: a first look, a table of times that is kept, rates told by the container."""

from __future__ import annotations

import os
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.errors import UserError
from serve_marker.video import times_file
from serve_marker.video.clip import open_clip
from serve_marker.video.glance import glance
from serve_marker.video.packet_stamps import PacketTable
from serve_marker.video.progress import Cancelled
from serve_marker.video.times_file import load_table, save_table

CLIP_BYTES = 123_456


@pytest.fixture
def film(tmp_path: Path, make_clip: Callable[..., Path]) -> Path:
    return make_clip(tmp_path / "film.mp4", 60, b_frames=2)


def test_a_glance_shows_the_first_picture(film: Path, read_number: Callable[..., int]) -> None:
    seen = glance(film)
    assert read_number(seen.picture) == 0
    assert seen.duration_s == pytest.approx(2.0, abs=0.1)


def test_a_glance_at_nothing_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"gone\.mp4 is not there"):
        glance(tmp_path / "gone.mp4")


def test_the_table_is_kept_and_used(film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = tmp_path / "beside the logbook" / "0a1b.times"
    first = open_clip(film, table_path=kept)
    assert kept.exists()
    monkeypatch.setattr("serve_marker.video.clip.read_packets", None)
    again = open_clip(film, table_path=kept)
    assert np.array_equal(again.stamps, first.stamps)
    assert (again.keyframes, again.entry_points, again.warnings) == (
        first.keyframes,
        first.entry_points,
        first.warnings,
    )


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 nonsense", b"\x93NUMPY"])
def test_a_spoilt_table_is_made_anew(film: Path, tmp_path: Path, content: bytes) -> None:
    kept = tmp_path / "spoilt.times"
    kept.write_bytes(content)
    assert open_clip(film, table_path=kept).frame_count == 60
    assert kept.stat().st_size > 1000


def test_the_table_of_another_file_is_not_used(film: Path, tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    kept = tmp_path / "same.times"
    open_clip(film, table_path=kept)
    assert open_clip(make_clip(tmp_path / "other.mp4", 20), table_path=kept).frame_count == 20


@pytest.fixture
def small_table(tmp_path: Path) -> Path:
    """Return the kept table of a clip of three frames."""
    stamps = np.array([0, 20, 41], dtype=np.int64)
    shown_key = np.array([True, False, False])
    key_stamps = np.array([[0, 0]], dtype=np.int64)
    table = PacketTable(stamps, shown_key, key_stamps, 0, 0, out_of_order=False, read_error=False)
    kept = tmp_path / "small.times"
    save_table(kept, table, CLIP_BYTES)
    assert load_table(kept, CLIP_BYTES) is not None
    return kept


def test_a_table_with_any_bit_flipped_is_no_table(small_table: Path) -> None:
    content = small_table.read_bytes()
    trusted = []
    with small_table.open("r+b", buffering=0) as file:
        for place, byte in enumerate(content):
            for bit in range(8):
                file.seek(place)
                file.write(bytes([byte ^ 1 << bit]))
                if load_table(small_table, CLIP_BYTES) is not None:
                    trusted.append((place, bit))
            file.seek(place)
            file.write(bytes([byte]))
    assert trusted == []
    assert small_table.read_bytes() == content


def test_a_table_cut_off_or_grown_is_no_table(small_table: Path) -> None:
    whole = small_table.stat().st_size
    for length in (whole + 1, *reversed(range(whole))):
        os.truncate(small_table, length)
        assert load_table(small_table, CLIP_BYTES) is None, length


def test_a_table_of_an_older_version_is_no_table(tmp_path: Path) -> None:
    """Version 2 was the bare .npz with its version and the clip's size first among the facts."""
    older = tmp_path / "older.times"
    with older.open("wb") as file:
        stamps = np.array([0, 20, 41])
        facts = np.array([2, CLIP_BYTES, 0, 0, 0, 0, 0])
        np.savez(file, facts=facts, shown_pts=stamps, shown_key=stamps == 0, key_stamps=np.array([[0, 0]]))
    assert load_table(older, CLIP_BYTES) is None


FACTS, STAMPS = np.zeros(5, np.int64), np.array([0, 20, 41], np.int64)
FORGED: dict[str, dict[str, Any]] = {
    "objects": {"shown_pts": np.array([{}, {}, {}], dtype=object)},
    "texts": {"shown_pts": np.array(["a", "b", "c"])},
    "numbers with parts": {"shown_pts": np.array([0.0, np.nan, np.inf])},
    "another length": {"shown_key": np.array([True])},
    "another shape": {"key_stamps": STAMPS},
    "time runs back": {"shown_pts": STAMPS[::-1]},
    "facts are missing": {"facts": np.zeros(2, np.int64)},
}


@pytest.mark.parametrize("change", [*FORGED.values(), None], ids=[*FORGED, "packed"])
def test_a_forged_table_is_no_table(small_table: Path, change: dict[str, Any] | None) -> None:
    """Its checksum is right, for everybody can compute it."""
    whole = {"facts": FACTS, "shown_pts": STAMPS, "shown_key": STAMPS == 0, "key_stamps": np.array([[0, 0]])}
    columns = BytesIO()
    if change is None:
        np.savez_compressed(columns, **whole)
    else:
        np.savez(columns, **whole | change)
    content = columns.getvalue()
    small_table.write_bytes(times_file._checksum(content, CLIP_BYTES) + content)
    assert load_table(small_table, CLIP_BYTES) is None


def test_a_table_is_of_one_version_and_one_size_of_clip(small_table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert load_table(small_table, CLIP_BYTES + 1) is None
    monkeypatch.setattr(times_file, "VERSION", times_file.VERSION + 1)
    assert load_table(small_table, CLIP_BYTES) is None


def test_where_no_table_can_be_written_the_clip_still_opens(film: Path) -> None:
    assert open_clip(film, table_path=film / "not a folder" / "x.times").frame_count == 60


def test_opening_tells_how_far_it_is_and_stops(film: Path) -> None:
    told: list[tuple[int, int]] = []
    open_clip(film, progress=lambda done, of: told.append((done, of)))
    assert told
    assert all(0 <= done <= of for done, of in told)
    with pytest.raises(Cancelled):
        open_clip(film, cancelled=lambda: True)


def slow_motion(path: Path) -> Path:
    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as out:
        out.metadata["com.android.capture.fps"] = "240.000000"
        film: Any = out.add_stream("libx264", rate=30)
        film.width, film.height, film.pix_fmt = 64, 48, "yuv420p"
        for k in range(30):
            out.mux(film.encode(av.VideoFrame.from_ndarray(np.full((48, 64, 3), 8 * k, np.uint8), format="rgb24")))
        out.mux(film.encode(None))
    return path


def test_slow_motion_is_told_and_times_follow(tmp_path: Path) -> None:
    clip = open_clip(slow_motion(tmp_path / "slow.mp4"))
    assert clip.capture_rate == 240.0
    assert clip.shown_fps == pytest.approx(30)
    assert "filmed at 240 frames a second and shown at 30" in clip.warnings[-1]
    assert clip.time_scale(240.0) == pytest.approx(1 / 8)
    assert clip.time_scale(None) == 1.0


def test_true_speed_suggests_nothing(film: Path) -> None:
    assert open_clip(film).capture_rate is None

"""Films cut by their edit list or without encoding: what it leaves is shown, and nothing is called cut off."""

from __future__ import annotations

import struct
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
EVEN = [20 * k for k in range(60)]
UNEVEN = np.cumsum([20 + (k % 7 == 3) * 20 + k % 3 for k in range(60)]).tolist()
CONTAINERS: dict[str, dict[str, str]] = {
    "plain": {},
    "fragments": {"movflags": "frag_keyframe+empty_moov"},
    "negative offsets": {"movflags": "negative_cts_offsets"},
    "coarse clocks": {"movie_timescale": "600", "video_track_timescale": "600"},
}


@pytest.mark.parametrize("container", CONTAINERS)
@pytest.mark.parametrize("stamps", [EVEN, [stamp + 900 for stamp in UNEVEN]], ids=["even", "uneven and late"])
def test_whole_films_of_every_dialect_are_opened_without_a_word(
    tmp_path: Path, make_clip: Callable[..., Path], container: str, stamps: list[int]
) -> None:
    options = CONTAINERS[container]
    clip = open_clip(make_clip(tmp_path / "phone.mov", stamps=stamps, b_frames=3, sound=True, container=options))
    assert (clip.warnings, clip.frame_count) == ((), 60)


@pytest.mark.parametrize("fps", ["22", "241/2", "30"])
@pytest.mark.parametrize("left_over", [2, 20])
def test_a_film_cut_at_its_end_by_the_edit_list_is_whole(
    tmp_path: Path, make_clip: Callable[..., Path], fps: str, left_over: int
) -> None:
    path = make_clip(tmp_path / "dark.mp4", stamps=range(50), time_base=1 / Fraction(fps), b_frames=2)
    content = bytearray(path.read_bytes())
    # ISO/IEC 14496-12, 8.6.6 (from memory): the span of the first edit follows version, flags and the count.
    at = content.index(b"elst") + 12
    content[at : at + 4] = struct.pack(">I", round(1000 * (50 - left_over) / Fraction(fps)))
    path.write_bytes(content)
    clip = open_clip(path)
    assert clip.warnings == ()
    assert abs(clip.frame_count - (50 - left_over)) <= 1


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_copy_cut_without_encoding_is_whole(tmp_path: Path, make_clip: Callable[..., Path], codec: str) -> None:
    quiet = {"x265-params": "log-level=none:keyint=24"} if codec == "libx265" else {}
    source = make_clip(tmp_path / "whole.mp4", stamps=UNEVEN, codec=codec, b_frames=3, options=quiet)
    assert open_clip(cut_copy(source, tmp_path / "cut.mp4", 0.5, 2.0)).warnings == ()


def cut_copy(source: Path, path: Path, from_s: float, until_s: float) -> Path:
    """The packets from the key frame before `from_s` on, in a new container that starts there by its edit list."""
    with av.open(str(source)) as film, av.open(str(path), "w") as out:
        pictures = film.streams.video[0]
        track: Any = out.add_stream_from_template(pictures)
        ticks = round(from_s / Fraction(pictures.time_base or 1))
        film.seek(ticks, stream=pictures)
        for packet in film.demux(pictures):
            if packet.pts is None or packet.dts is None or packet.pts * Fraction(packet.time_base or 1) > until_s:
                break
            packet.pts, packet.dts, packet.stream = packet.pts - ticks, packet.dts - ticks, track
            out.mux(packet)
    return path


def test_a_picture_without_a_time_is_not_shown_at_another_ones(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "camcorder.ts", 40, options={"x264-params": "keyint=10:scenecut=0"})
    whole = open_clip(path)
    path.write_bytes(without_stamp(path.read_bytes(), 21))
    clip = open_clip(path)
    assert (clip.frame_count, clip.frames_without_time) == (39, 1)
    with FrameReader(clip) as reader:
        for i in range(clip.frame_count):
            true = whole.frame_at(clip.time_s(i) + clip.starts_s - whole.starts_s)
            assert read_number(reader.frame(i)) == true


def without_stamp(content: bytes, which: int) -> bytes:
    """Say of one picture's PES header (ISO/IEC 13818-1, 2.4.3.6, from memory) that no time is in it."""
    at = -1
    for _ in range(which + 1):
        at = content.index(b"\x00\x00\x01\xe0", at + 1)
    return content[: at + 7] + bytes([content[at + 7] & 0x3F]) + content[at + 8 :]


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.mp4")), ids=lambda path: path.name)
def test_the_sample_clips_are_opened_without_a_word(path: Path) -> None:
    assert open_clip(path).warnings == ()

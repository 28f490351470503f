"""Damaged stretches: found where bytes were spoilt, none where the film is whole, and said in a sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.errors import UserError
from serve_marker.video import damage as damage_module
from serve_marker.video.clip import open_clip
from serve_marker.video.clip_warnings import FrameRange, damage_sentence, runs
from serve_marker.video.damage import scan_damage
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Cancelled

GROUP, FRAMES = 20, 80
OPTIONS = {"x264-params": f"keyint={GROUP}:min-keyint={GROUP}:scenecut=0:bframes=2"}


@pytest.fixture
def whole(tmp_path: Path, make_clip: Callable[..., Path]) -> Path:
    return make_clip(tmp_path / "serves.mp4", FRAMES, group=GROUP, b_frames=2, options=OPTIONS)


def packets_of(path: Path) -> list[tuple[int, int, int]]:
    """(position, size, stamp) in the order of decoding."""
    with av.open(str(path)) as container:
        return [(int(p.pos or 0), p.size, int(p.pts or 0)) for p in container.demux(video=0) if p.size]


def spoil(path: Path, which: int, how: Callable[[bytearray], bytes]) -> int:
    """Change one packet in the file; returns its frame."""
    at, size, stamp = packets_of(path)[which]
    clip = open_clip(path)
    content = bytearray(path.read_bytes())
    content[at : at + size] = how(content[at : at + size])
    path.write_bytes(content)
    return int(clip.stamps.searchsorted(stamp))


def noise(packet: bytearray) -> bytes:
    return bytes(packet[:8]) + np.random.default_rng(3).bytes(len(packet) - 8)


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_whole_film_has_none(tmp_path: Path, make_clip: Callable[..., Path], codec: str) -> None:
    options = {"x265-params": "log-level=none:keyint=20"} if codec == "libx265" else OPTIONS
    assert scan_damage(open_clip(make_clip(tmp_path / "whole.mp4", 60, codec=codec, b_frames=2, options=options))) == ()


@pytest.mark.parametrize("how", [lambda p: bytes(len(p)), noise], ids=["zeros", "noise"])
def test_a_spoilt_packet_spoils_up_to_the_next_key_frame(whole: Path, how: Callable[[bytearray], bytes]) -> None:
    frame = spoil(whole, 25, how)
    stretches = scan_damage(open_clip(whole))
    marked = {i for s in stretches for i in range(s.first, s.last + 1)}
    assert set(range(frame, 2 * GROUP)) <= marked
    assert marked <= set(range(GROUP, 2 * GROUP))


def test_altered_pictures_lie_in_the_stretches(whole: Path, sequential: Callable[..., Any]) -> None:
    good = [picture for _, picture in sequential(whole)]
    spoil(whole, 45, noise)
    clip = open_clip(whole)
    marked = {i for s in scan_damage(clip) for i in range(s.first, s.last + 1)}
    altered = set()
    with FrameReader(clip) as reader:
        for i in range(FRAMES):
            try:
                same = np.array_equal(reader.frame(i), good[i])
            except UserError:
                same = False
            if not same:
                altered.add(i)
    assert altered
    assert altered <= marked


def test_the_clip_says_so(whole: Path) -> None:
    spoil(whole, 25, lambda p: bytes(len(p)))
    clip = open_clip(whole)
    clip = clip.with_damage(scan_damage(clip))
    assert clip.damaged
    assert "serves.mp4 is damaged at frames" in clip.warnings[-1]
    assert clip.with_damage(()) is clip


def test_many_stretches_are_counted() -> None:
    stretches = [FrameRange(10 * k, 10 * k + 2, "lost") for k in range(6)]
    said = damage_sentence(Path("a.mp4"), stretches)
    assert (
        said
        == "a.mp4 is damaged at frames 0-2, 10-12, 20-22 and 3 more places. The picture may be wrong or missing there."
    )


def test_progress_and_cancel(whole: Path) -> None:
    clip = open_clip(whole)
    told: list[tuple[int, int]] = []
    scan_damage(clip, progress=lambda done, of: told.append((done, of)))
    assert told == sorted(set(told))
    assert told[-1][0] > 950
    with pytest.raises(Cancelled):
        scan_damage(clip, cancelled=lambda: len(told) > 0)


def test_runs_of_nothing() -> None:
    assert runs([]) == runs([False]) == []


def test_a_lost_frame_spoils_its_group_up_to_the_next_key_frame(
    tmp_path: Path, make_clip: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """MPEG-4 part 2 shows what it can without a word, so that the lost frame alone tells."""
    clip = open_clip(make_clip(tmp_path / "serves.avi", 40, codec="mpeg4", group=10))
    lost = 13
    stamp = int(clip.stamps[lost])
    keyframes = clip.keyframes
    assert keyframes == (0, 10, 20, 30)
    real = damage_module._Findings.frame

    def without_one(self: Any, frame: Any) -> None:
        if frame.pts != stamp:
            real(self, frame)

    monkeypatch.setattr(damage_module._Findings, "frame", without_one)
    assert [(part.first, part.last) for part in scan_damage(clip)] == [(lost, 19)]


@pytest.mark.parametrize(
    ("came", "why"), [((18,), "packets are damaged"), ((19,), "packets are damaged"), ((), "frames are lost")]
)
def test_frames_are_lost_only_where_none_of_the_stretch_came(
    tmp_path: Path, make_clip: Callable[..., Path], came: tuple[int, ...], why: str
) -> None:
    """The last two frames of a group of ten, of which one came, wrong as the other lacks, or none."""
    clip = open_clip(make_clip(tmp_path / "serves.avi", 40, codec="mpeg4", group=10))
    found = damage_module._Findings(clip)
    for index, stamp in enumerate(clip.stamps.tolist()):
        if index not in (18, 19) or index in came:
            found.frame(SimpleNamespace(pts=stamp, is_corrupt=index in came))
    assert found.frame_ranges() == (FrameRange(18, 19, why),)

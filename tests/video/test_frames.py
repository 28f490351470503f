"""The exact frame in any order, against one sequential single-thread decode by the library alone."""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from serve_marker.errors import UserError
from serve_marker.video import packet_stamps, seeking_decoder
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

PROJECT = Path(__file__).resolve().parents[2]
RENDERED = [
    path
    for folder in (PROJECT.parent / "shared" / "clips", PROJECT / "sample_clips")
    for path in sorted(folder.glob("*.m[po][4v]"))
]
THIRTIETH: dict[str, Any] = {"time_base": Fraction(1, 30), "stamps": range(40)}

MADE: dict[str, dict[str, Any]] = {
    "b-frames.mp4": {"b_frames": 3},
    "uneven.mp4": {"b_frames": 3, "stamps": np.cumsum([20 + k % 5 * 7 for k in range(40)]).tolist()},
    "starts-late.mkv": {"b_frames": 2, "stamps": [900 + 20 * k for k in range(40)]},
    "open-groups.mp4": {"b_frames": 3, "options": {"x264-params": "open-gop=1:keyint=12:scenecut=0"}},
    "intra-refresh.mkv": {"options": {"x264-params": "intra-refresh=1:keyint=12"}},
    "hevc-open-groups.mp4": {
        "codec": "libx265",
        "b_frames": 3,
        "options": {"x265-params": "log-level=none:keyint=12:open-gop=1"},
    },
    "hidden-references.webm": {"codec": "libvpx", "options": {"auto-alt-ref": "1", "lag-in-frames": "10"}},
    "vp9.webm": {"codec": "libvpx-vp9", "options": {"auto-alt-ref": "1", "lag-in-frames": "10"}},
    "camcorder.ts": {"b_frames": 2},
    "old-camera.avi": {"codec": "mpeg4", "b_frames": 2, **THIRTIETH},
    "stills.mov": {"codec": "mjpeg", "pixel_format": "yuvj420p"},
    "ten-bit.mov": {"codec": "prores_ks", "pixel_format": "yuv422p10le"},
}


@pytest.fixture(scope="module")
def long_group(tmp_path_factory: pytest.TempPathFactory, make_clip: Callable[..., Path]) -> Path:
    return make_clip(tmp_path_factory.mktemp("long") / "long.mp4", 200, group=100, b_frames=3)


@pytest.fixture
def decodes(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Grows by one stamp for each frame the decoder delivers."""
    delivered: list[int] = []

    def counting(source: Iterable[Any]) -> Iterator[Any]:
        for frame in packet_stamps.decoded(source):
            delivered.append(frame.pts)
            yield frame

    monkeypatch.setattr(seeking_decoder, "decoded", counting)
    return delivered


@pytest.mark.parametrize("name", MADE)
def test_any_order_equals_one_sequential_decode(
    tmp_path: Path,
    make_clip: Callable[..., Path],
    read_number: Callable[..., int],
    sequential: Callable[..., Any],
    name: str,
) -> None:
    codec = MADE[name].get("codec", "libx264")
    if codec not in av.codecs_available:
        pytest.skip(f"this build of the decoder's library cannot encode {codec}")
    path = make_clip(tmp_path / name, **MADE[name])
    shown = sequential(path)
    clip = open_clip(path)
    assert clip.frame_count == len(shown) == 40
    order = random.Random(4).sample(range(40), 40)
    with FrameReader(clip) as reader:
        for i in [*order, *range(40), *reversed(range(40))]:
            picture = reader.frame(i)
            assert np.array_equal(picture, shown[i][1]), f"frame {i}"
            assert read_number(picture) == i


@pytest.mark.parametrize("path", RENDERED, ids=lambda path: path.name)
def test_rendered_clips_in_random_order(path: Path) -> None:
    clip = open_clip(path)
    first = random.Random(path.name).choice(clip.keyframes[:-2]) if len(clip.keyframes) > 2 else 0
    wanted = random.Random(8).sample(range(first, min(first + 80, clip.frame_count)), 12)
    expected: dict[int, Any] = {}
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        for i, frame in enumerate(container.decode(stream)):
            if i in wanted:
                picture = frame.to_ndarray(format="rgb24")
                expected[i] = np.rot90(picture, -clip.rotation_deg // 90)
            if i > max(wanted):
                break
    with FrameReader(clip) as reader:
        for i in wanted:
            assert np.array_equal(reader.frame(i), expected[i]), f"frame {i}"


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(visits=st.lists(st.tuples(st.integers(0, 199), st.booleans()), max_size=25))
def test_whatever_was_visited_before(
    long_group: Path, read_number: Callable[..., int], visits: list[tuple[int, bool]]
) -> None:
    with FrameReader(open_clip(long_group)) as reader:
        for i, small in visits:
            picture = reader.scaled(i, 100, 90) if small else reader.frame(i)
            if small:
                assert picture.shape == (60, 100, 3)
                assert _number_at_any_size(picture) == i
            else:
                assert read_number(picture) == i


def _number_at_any_size(picture: Any) -> int:
    block_px = picture.shape[1] / 10
    row = picture[int(block_px / 2)].mean(axis=1)
    return sum(1 << bit for bit in range(8) if row[int((bit + 1.5) * block_px)] > 128)


def test_pictures_are_read_only_upright_colour(long_group: Path) -> None:
    with FrameReader(open_clip(long_group)) as reader:
        picture = reader.frame(7)
        assert picture.shape == (96, 160, 3)
        assert picture.dtype == np.uint8
        assert picture.flags.c_contiguous
        with pytest.raises(ValueError, match="read-only"):
            picture[0, 0, 0] = 1


def test_scaled_never_enlarges_and_keeps_proportions(long_group: Path) -> None:
    with FrameReader(open_clip(long_group)) as reader:
        assert reader.scaled(3, 1600, 960).shape == (96, 160, 3)
        assert reader.scaled(3, 80, 960).shape == (48, 80, 3)
        assert reader.scaled(3, 800, 24).shape == (24, 40, 3)


def test_going_forward_decodes_each_frame_once(long_group: Path, decodes: list[int]) -> None:
    with FrameReader(open_clip(long_group)) as reader:
        for i in range(200):
            reader.frame(i)
    assert len(decodes) == 200


@pytest.mark.parametrize("i", [-1, 200])
def test_no_such_frame(long_group: Path, i: int) -> None:
    with (
        FrameReader(open_clip(long_group)) as reader,
        pytest.raises(UserError, match=f"no frame {i}; choose one from 0 to 199"),
    ):
        reader.frame(i)


def test_a_damaged_frame_is_refused_and_its_neighbours_shown(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "scratched.mp4", 30, group=1)
    content = bytearray(path.read_bytes())
    with av.open(str(path)) as container:
        spoilt = [packet for packet in container.demux(video=0) if packet.size][13]
        start, length = int(spoilt.pos or 0), spoilt.size
    content[start : start + length] = bytes(length)
    path.write_bytes(content)
    with FrameReader(open_clip(path)) as reader:
        for _ in range(2):
            with pytest.raises(UserError, match=r"Frame 13 of scratched\.mp4 is damaged"):
                reader.frame(13)
        assert [read_number(reader.frame(i)) for i in (14, 12, 15, 0, 29)] == [14, 12, 15, 0, 29]


def test_a_vanished_file(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    path = make_clip(tmp_path / "gone.mp4", 10)
    clip = open_clip(path)
    path.unlink()
    with pytest.raises(UserError, match=r"gone\.mp4 is not there"):
        FrameReader(clip)


def test_a_file_cut_while_open_says_which_frame_is_lost(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "cut.mov", 200, codec="mjpeg", pixel_format="yuvj420p")
    with FrameReader(open_clip(path)) as reader:
        assert read_number(reader.frame(10)) == 10
        os.truncate(path, path.stat().st_size // 2)
        with pytest.raises(UserError, match=r"cut\.mov is damaged|could not be read at frame 190"):
            reader.frame(190)
        assert read_number(reader.frame(20)) == 20


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="needs /proc to count threads and open files")
def test_closing_releases_file_and_threads(long_group: Path) -> None:
    def held() -> tuple[int, int]:
        return len(list(Path("/proc/self/task").iterdir())), len(list(Path("/proc/self/fd").iterdir()))

    clip = open_clip(long_group)
    before = held()
    reader = FrameReader(clip)
    reader.frame(50)
    assert held()[1] == before[1] + 1
    reader.close()
    reader.close()
    assert held() == before
    with pytest.raises(ValueError, match="closed"):
        reader.frame(50)

"""Frames for a screen: the right one in the end, decoded once, in bounded memory, by threads that go away."""

from __future__ import annotations

import os
import platform
import queue
import random
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.errors import UserError
from serve_marker.video import packet_stamps, seeking_decoder
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.decode_plan import DecodeTarget, nearest_key_frame
from serve_marker.video.frame_cache import BEHIND_KEPT, SURPLUS, FrameCache
from serve_marker.video.frame_worker import FrameWorker, Shown
from serve_marker.video.malloc_trim import give_back_free_memory
from serve_marker.video.orientation import Orientation
from serve_marker.video.picture import bytes_of, colour, divided

FRAME_BYTES = 160 * 96 * 3 // 2
GROUP = 50


class Screen:
    def __init__(self, clip: Clip, cache_bytes: int = 1 << 28) -> None:
        self.answers: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self.worker = FrameWorker(clip, self.answers.put, lambda _, error: self.answers.put(error), cache_bytes)

    def see(self, i: int, size: tuple[int, int] | None = None, sharp: bool = False) -> Shown:
        self.worker.want(i, size)
        while True:
            answer: Shown | UserError = self.answers.get(timeout=60)
            if isinstance(answer, UserError):
                raise answer
            if answer.index == i and (answer.sharp or not sharp):
                return answer

    def __enter__(self) -> Screen:
        return self

    def __exit__(self, *_: object) -> None:
        self.worker.close()


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory, make_clip: Callable[..., Path]) -> Path:
    options = {"x264-params": f"keyint={GROUP}:min-keyint={GROUP}:scenecut=0"}
    return make_clip(tmp_path_factory.mktemp("worker") / "film.mp4", 200, group=GROUP, b_frames=3, options=options)


@pytest.fixture
def delivered(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    stamps: list[int] = []

    def counting(source: Iterable[Any]) -> Iterator[Any]:
        for frame in packet_stamps.decoded(source):
            stamps.append(frame.pts)
            yield frame

    monkeypatch.setattr(seeking_decoder, "decoded", counting)
    return stamps


def test_whatever_is_asked_for_is_what_comes(film: Path, read_number: Callable[..., int]) -> None:
    with Screen(open_clip(film), cache_bytes=30 * FRAME_BYTES) as screen:
        order = [*random.Random(1).sample(range(200), 30), *range(40), *range(199, 150, -1)]
        assert [read_number(screen.see(i).picture) for i in order] == order


def test_a_burst_of_wishes_ends_on_the_last(film: Path, read_number: Callable[..., int]) -> None:
    with Screen(open_clip(film)) as screen:
        for i in random.Random(2).sample(range(200), 100):
            screen.worker.want(i)
        assert read_number(screen.see(77, sharp=True).picture) == 77


def test_backward_and_forward_again_decodes_each_frame_once(film: Path, delivered: list[int]) -> None:
    with Screen(open_clip(film), cache_bytes=500 * FRAME_BYTES) as screen:
        for i in [*range(199, 100, -1), *range(100, 200), *range(199, 50, -1)]:
            screen.see(i)
        assert screen.worker.decoded_count <= 200
    assert len(delivered) <= 200 + 30


def test_backward_decodes_nothing_in_vain(film: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fed: list[int] = []

    def noting(source: Iterable[Any]) -> Iterator[Any]:
        for packet in source:
            if not packet_stamps.is_end(packet):
                fed.append(packet.pts)
            yield packet

    monkeypatch.setattr(seeking_decoder, "decoded", lambda source: packet_stamps.decoded(noting(source)))
    clip = open_clip(film)
    with Screen(clip, cache_bytes=500 * FRAME_BYTES) as screen:
        for i in range(199, -1, -1):
            screen.see(i)
    assert sorted(fed) == clip.stamps.tolist()


def test_a_run_that_ends_is_taken_up_anew_behind_its_end(film: Path, read_number: Callable[..., int]) -> None:
    clip = open_clip(film)
    frames = seeking_decoder.Decoder(clip)
    orders = [(99, True, range(50, 100)), (101, False, range(100, 102)), (102, False, range(102, 103))]
    orders += [(130, True, range(103, 131)), (60, True, range(50, 61)), (70, False, range(50, 71))]
    for last, ends_there, expected in orders:
        run = list(frames.run_to(last, ends_there))
        assert [i for i, _ in run] == list(expected)
        assert [read_number(colour(frame, clip.orientation)) for _, frame in run] == list(expected)
    frames.close()


def test_the_group_before_is_ready_before_it_is_entered(film: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Screen(open_clip(film)) as screen:
        plan, ready = screen.worker._plan, threading.Event()
        keep = plan.keep

        def noting(index: int, frame: Any, goal: DecodeTarget) -> None:
            keep(index, frame, goal)
            if index == 95:
                ready.set()

        monkeypatch.setattr(plan, "keep", noting)
        screen.see(102)
        screen.see(101)
        assert ready.wait(timeout=60)
        assert all(i in plan.small for i in range(80, 96))


def test_memory_stays_within_its_bound(film: Path) -> None:
    bound = 25 * FRAME_BYTES
    with Screen(open_clip(film), cache_bytes=bound) as screen:
        for i in [*range(0, 200, 3), *range(199, 0, -2)]:
            screen.see(i)
            assert screen.worker.held_bytes <= bound


def test_an_older_wish_is_abandoned_in_the_middle(film: Path, delivered: list[int]) -> None:
    clip = open_clip(film)
    with Screen(clip) as screen:
        screen.see(0)
        far = GROUP * 3
        screen.worker.want(far - 1)
        screen.see(far)
        before_far = sum(clip.stamps[GROUP * 2] <= stamp < clip.stamps[far] for stamp in delivered)
        assert before_far <= GROUP


def test_dragging_shows_key_frames_and_rests_on_the_exact_frame(film: Path, read_number: Callable[..., int]) -> None:
    with Screen(open_clip(film)) as screen:
        screen.see(0)
        screen.worker.want(GROUP * 2 + 7, dragging=True)
        seen = [screen.answers.get(timeout=60)]
        while seen[-1].index != GROUP * 2 + 7:
            seen.append(screen.answers.get(timeout=60))
        assert GROUP * 2 in [shown.index for shown in seen[:-1]]
        assert read_number(seen[-1].picture) == GROUP * 2 + 7


@pytest.mark.parametrize(("index", "key"), [(0, 0), (24, 0), (26, 50), (199, 150)])
def test_nearest_key_frame(film: Path, index: int, key: int) -> None:
    assert nearest_key_frame(open_clip(film), index) == key


def enlarged(picture: Any) -> Any:
    return np.kron(picture, np.ones((8, 8, 1), dtype=np.uint8))


def test_smaller_while_moving_and_full_on_rest(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    path = make_clip(tmp_path / "large.mp4", 30, group=30, stored=enlarged, options={"preset": "ultrafast"})
    with Screen(open_clip(path), cache_bytes=20 << 20) as screen:
        screen.see(20, (700, 420))
        moving = screen.see(18, (700, 420))
        assert moving.picture.shape == (384, 640, 3)
        assert moving.full is None
        resting = screen.see(18, (700, 420), sharp=True)
        assert resting.picture.shape == (420, 700, 3)
        assert resting.full is not None
        assert resting.full.shape == (768, 1280, 3)
        assert screen.worker.held_bytes <= 20 << 20
        with av.open(str(path)) as container:
            expected = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)][18]
        assert np.array_equal(resting.full, expected)


def test_a_lost_frame_is_said_and_its_neighbours_come(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "scratched.mp4", 30, group=1)
    with av.open(str(path)) as container:
        spoilt = [packet for packet in container.demux(video=0) if packet.size][13]
        start, length = int(spoilt.pos or 0), spoilt.size
    content = bytearray(path.read_bytes())
    content[start : start + length] = bytes(length)
    path.write_bytes(content)
    with Screen(open_clip(path)) as screen:
        with pytest.raises(UserError, match=r"Frame 13 of scratched\.mp4 is damaged"):
            screen.see(13)
        assert [read_number(screen.see(i).picture) for i in (14, 12)] == [14, 12]


def test_a_vanished_file_is_one_sentence_and_comes_back(
    tmp_path: Path, film: Path, read_number: Callable[..., int]
) -> None:
    path = tmp_path / "gone.mp4"
    path.write_bytes(film.read_bytes())
    clip = open_clip(path)
    hidden = path.rename(tmp_path / "pulled out.mp4")
    with Screen(clip) as screen:
        with pytest.raises(UserError, match=r"gone\.mp4 is not there"):
            screen.see(3)
        hidden.rename(path)
        assert read_number(screen.see(3).picture) == 3


def test_closing_in_the_middle_leaves_no_thread(film: Path) -> None:
    before = threading.active_count()
    for i in (0, 199, 90):
        screen = Screen(open_clip(film))
        screen.worker.want(i)
        screen.worker.close()
    assert threading.active_count() == before


def test_kept_frames_forget_what_lies_behind_first() -> None:
    kept = FrameCache(20 * FRAME_BYTES)
    kept.cursor, kept.travel = 30, -1
    frame = av.VideoFrame(160, 96, "yuv420p")
    for i in range(50, 10, -1):
        kept.put(i, frame)
        assert kept.held_bytes <= 20 * FRAME_BYTES
    assert [i for i in range(60) if i in kept] == list(range(30 - 20 + 1 + BEHIND_KEPT, 30 + BEHIND_KEPT + 1))
    assert not kept.has_room()
    kept.put(0, frame)
    assert 0 not in kept
    kept.put(0, frame, needed=True)
    assert 0 in kept


def test_a_screen_of_another_size_gets_the_frame_at_full_resolution_too(
    tmp_path: Path, make_clip: Callable[..., Path]
) -> None:
    """Nearer film, or a larger window, asks for another size of a frame that is kept at half its own."""
    path = make_clip(tmp_path / "large.mp4", 30, group=30, stored=enlarged, options={"preset": "ultrafast"})
    with Screen(open_clip(path), cache_bytes=20 << 20) as screen:
        for size in ((700, 420), (320, 192), (640, 384), None):
            full = screen.see(18, size, sharp=True).full
            assert full is not None
            assert full.shape == (768, 1280, 3)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only the GNU C library is asked for free memory")
def test_free_memory_between_blocks_in_use_is_given_back() -> None:
    def resident_mb() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1024**2

    blocks = [bytearray(b"x" * 100_000) for _ in range(1000)]
    del blocks[:-1:2], blocks[:-1:2], blocks[:-1:2]
    held_mb = resident_mb()
    give_back_free_memory()
    assert resident_mb() < held_mb - 40


def pixels(plane: Any) -> Any:
    return np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: plane.height, : plane.width]


@pytest.mark.parametrize("size", [(64, 48), (66, 50), (70, 46), (1920, 1080)])
def test_halves_are_means_of_four(size: tuple[int, int]) -> None:
    width, height = size
    frame = av.VideoFrame(width, height, "yuv420p")
    rng = np.random.default_rng(5)
    for plane in frame.planes:
        plane.update(rng.integers(0, 255, plane.buffer_size, dtype=np.uint8).tobytes())
    half = divided(frame, 2)
    grey = pixels(frame.planes[0]).astype(float)
    means = grey.reshape(height // 2, 2, width // 2, 2).mean(axis=(1, 3))
    assert np.abs(pixels(half.planes[0]) - means).max() <= 1
    assert bytes_of(half) < bytes_of(frame) / 2
    assert divided(frame, 2, lambda _: half) is half
    assert divided(frame, 2, lambda _: frame) is not frame


def test_frames_made_small_are_written_into_the_same_memory_over_and_over() -> None:
    kept = FrameCache(20 * FRAME_BYTES)
    made: list[av.VideoFrame] = []

    def make() -> av.VideoFrame:
        made.append(av.VideoFrame(160, 96, "yuv420p"))
        return made[-1]

    for i in range(200):
        kept.cursor = i
        frame = kept.take_spare(make)
        assert frame is not kept.in_use
        kept.put(i, frame)
        kept.in_use = kept.get(max(0, i - i % 19))
    assert len(kept) == 20
    assert len(made) == 20 + SURPLUS + 1


@pytest.mark.parametrize(("curve", "code", "grey"), [(16, 0.0, 0), (16, 0.5807, 193), (18, 0.75, 193), (16, 1.0, 255)])
def test_bright_film_is_toned_down_and_stays_so_when_smaller(curve: int, code: float, grey: int) -> None:
    # ITU-R BT.2408: paper white is 203 cd/m2, coded as 58 % PQ and 75 % HLG; (1 + x/4.93^2)/2 of it at gamma 2.4 = 193.
    frame = av.VideoFrame(64, 48, "yuv420p10le")
    frame.color_trc, frame.color_primaries, frame.colorspace, frame.color_range = curve, 9, 9, 1
    for plane, level in zip(frame.planes, (64 + code * 876, 512, 512), strict=True):
        plane.update(np.full(plane.buffer_size // 2, round(level), np.uint16).tobytes())
    assert colour(frame, Orientation())[5, 5].tolist() == pytest.approx([grey] * 3, abs=2)
    assert colour(divided(frame, 2), Orientation())[5, 5].tolist() == pytest.approx([grey] * 3, abs=4)
    assert colour(frame, Orientation(), (40, 30))[5, 5].tolist() == pytest.approx([grey] * 3, abs=2)

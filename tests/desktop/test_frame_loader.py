from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import av
import numpy as np
import pytest

from serve_marker.desktop.session.frame_loader import FrameLoader
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frames import FrameReader

FRAMES = 40


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Clip:
    """Frames of 64x48 that grow brighter by six grey levels each, one key frame in twenty."""
    path: Path = tmp_path_factory.mktemp("film") / "grey.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30, options={"g": "20"})
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for number in range(FRAMES):
            picture = np.full((48, 64, 3), 6 * number, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return open_clip(path)


@pytest.fixture
def supply(qapp, clip: Clip) -> Iterator[FrameLoader]:
    made = FrameLoader()
    made.open(clip)
    yield made
    made.close()


def test_hands_out_the_exact_frame(supply: FrameLoader, clip: Clip, qtbot):
    with FrameReader(clip) as reader:
        for index in (31, 2, 30):
            with qtbot.waitSignal(supply.frame_ready, timeout=60_000) as ready:
                supply.request(index)
            assert ready.args[0] == index
            assert np.array_equal(ready.args[1], reader.frame(index))
            assert supply.shown_index == index


def test_small_frame_comes_with_the_full_one(supply: FrameLoader, qtbot):
    with qtbot.waitSignal(supply.frame_ready, timeout=60_000) as ready:
        supply.request(5, (32, 24))
    assert ready.args[1].shape == (24, 32, 3)
    assert supply.full_frame().shape == (48, 64, 3)


def test_a_burst_of_wishes_ends_on_the_last(supply: FrameLoader, qtbot):
    shown: list[int] = []
    supply.frame_ready.connect(lambda index, _frame: shown.append(index))
    for index in range(30):
        supply.request(index)
    qtbot.waitUntil(lambda: supply.shown_index == 29, timeout=60_000)
    assert len(shown) < 30
    assert shown == sorted(shown)


def test_full_resolution_comes_on_rest(supply: FrameLoader, clip: Clip, qtbot):
    for index in (20, 19, 18):
        with qtbot.waitSignal(supply.frame_ready, timeout=60_000):
            supply.request(index, (32, 24))
    qtbot.waitUntil(lambda: supply.full_frame() is not None, timeout=60_000)
    shown = supply.full_frame()
    assert shown is not None
    with FrameReader(clip) as reader:
        assert np.array_equal(shown, reader.frame(18))


def test_dragging_ends_on_the_exact_frame(supply: FrameLoader, qtbot):
    with qtbot.waitSignal(supply.frame_ready, timeout=60_000):
        supply.request(0)
    supply.request(27, dragging=True)
    qtbot.waitUntil(lambda: supply.shown_index == 27, timeout=60_000)


def test_a_frame_that_is_not_there_is_told_and_the_next_still_comes(supply: FrameLoader, qtbot):
    with qtbot.waitSignal(supply.failed, timeout=60_000) as told:
        supply.request(FRAMES)
    assert "40" in str(told.args[0])
    with qtbot.waitSignal(supply.frame_ready, timeout=60_000):
        supply.request(1)


def test_another_clip_drops_what_was_asked_of_the_old_one(supply: FrameLoader, qtbot):
    with qtbot.assertNotEmitted(supply.frame_ready, wait=50):
        supply.request(3)
        supply.open(None)
    assert supply.full_frame() is None


def test_close_ends_the_threads(qtbot, clip: Clip):
    supply = FrameLoader()
    supply.open(clip)
    supply.request(0)
    supply.close()
    supply.close()
    ours = {"decode", "pictures"}
    qtbot.waitUntil(lambda: ours.isdisjoint(thread.name for thread in threading.enumerate()), timeout=60_000)

"""Small clips made on the spot; each frame carries its number as blocks that survive compression."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray

BLOCK_PX = 16
BITS = 8
WIDTH_PX, HEIGHT_PX = BLOCK_PX * (BITS + 2), 96


def numbered_picture(number: int) -> NDArray[np.uint8]:
    """Top row, left to right: a white block, BITS blocks of the number, a black block; something moves below."""
    picture = np.full((HEIGHT_PX, WIDTH_PX, 3), 128, dtype=np.uint8)
    blocks = [1, *((number >> bit) & 1 for bit in range(BITS)), 0]
    for k, on in enumerate(blocks):
        picture[:BLOCK_PX, k * BLOCK_PX : (k + 1) * BLOCK_PX] = 235 if on else 20
    left = number * 7 % (WIDTH_PX - 20)
    picture[50:70, left : left + 20] = (200, 60, 30)
    return picture


def read_number(picture: NDArray[np.uint8]) -> int:
    """The number in an upright picture; fails where the blocks do not stand as drawn."""
    centres = picture[BLOCK_PX // 2, BLOCK_PX // 2 :: BLOCK_PX].mean(axis=1) > 128
    assert centres[0], "the white block is not at the top left"
    assert not centres[BITS + 1], "the black block is not at the top right"
    return int(sum(1 << bit for bit in range(BITS) if centres[1 + bit]))


def make_clip(
    path: Path,
    frames: int = 40,
    codec: str = "libx264",
    stamps: Sequence[int] | None = None,
    time_base: Fraction = Fraction(1, 600),
    group: int = 12,
    b_frames: int = 0,
    options: dict[str, str] | None = None,
    stored: Callable[[NDArray[np.uint8]], NDArray[np.uint8]] = lambda picture: picture,
    display_matrix: Sequence[int] | None = None,
    sound: bool = False,
    pixel_format: str = "yuv420p",
    container: dict[str, str] | None = None,
    tags: dict[str, str] | None = None,
    pixel_aspect: Fraction | None = None,
) -> Path:
    stamps = [20 * k for k in range(frames)] if stamps is None else stamps
    muxer = container or ({"movflags": "use_metadata_tags"} if tags else {})
    with av.open(str(path), "w", options=muxer) as out:
        out.metadata.update(tags or {})
        stream: Any = out.add_stream(codec, rate=30)
        first = stored(numbered_picture(0))
        stream.height, stream.width = first.shape[:2]
        stream.pix_fmt = pixel_format
        stream.time_base = stream.codec_context.time_base = time_base
        stream.codec_context.gop_size = group
        stream.codec_context.max_b_frames = b_frames
        stream.options = options or {}
        if pixel_aspect is not None:
            stream.codec_context.sample_aspect_ratio = pixel_aspect
        if display_matrix is not None:
            stream.set_display_matrix(display_matrix)
        tone: Any = out.add_stream("aac", rate=48000) if sound else None
        for number, stamp in enumerate(stamps):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(stored(numbered_picture(number))), format="rgb24")
            frame.pts, frame.time_base = stamp, time_base
            out.mux(stream.encode(frame))
        if tone is not None:
            silence = av.AudioFrame.from_ndarray(np.zeros((2, 1024), dtype=np.float32), format="fltp", layout="stereo")
            silence.sample_rate, silence.pts = 48000, 0
            out.mux(tone.encode(silence))
            out.mux(tone.encode(None))
        out.mux(stream.encode(None))
    return path


def sequential(path: Path) -> list[tuple[int | None, Any]]:
    """(stamp, stored picture) of one decode from the beginning, single thread, by the library alone."""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "NONE"
        return [(frame.pts, frame.to_ndarray(format="rgb24")) for frame in container.decode(stream)]


@pytest.fixture(scope="session", name="make_clip")
def _make_clip() -> Callable[..., Path]:
    return make_clip


@pytest.fixture(scope="session", name="read_number")
def _read_number() -> Callable[[NDArray[np.uint8]], int]:
    return read_number


@pytest.fixture(scope="session", name="sequential")
def _sequential() -> Callable[[Path], list[tuple[int | None, Any]]]:
    return sequential


@pytest.fixture(scope="session")
def make_sound() -> Callable[[Path], Path]:
    def make(path: Path) -> Path:
        with av.open(str(path), "w") as out:
            tone: Any = out.add_stream("aac", rate=48000)
            for k in range(20):
                silence = av.AudioFrame.from_ndarray(np.zeros((2, 1024), np.float32), format="fltp", layout="stereo")
                silence.sample_rate, silence.pts = 48000, 1024 * k
                out.mux(tone.encode(silence))
            out.mux(tone.encode(None))
        return path

    return make

"""How long one step, one seek and one whole decode take on 1080p60 film with 250 frames between key frames.

Run with `python tests/benchmarks/frames.py`; it makes its own clip in a temporary folder and prints a table.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frames import FrameReader

WIDTH_PX, HEIGHT_PX, RATE, GROUP = 1920, 1080, 60, 250
SCREEN_PX = (1280, 720)


def make_film(path: Path, frames: int) -> None:
    """A ball over a noisy gym floor, H.264 with B-frames."""
    rng = np.random.default_rng(3)
    floor = rng.integers(90, 140, (HEIGHT_PX, WIDTH_PX + 400, 3), dtype=np.uint8)
    with av.open(str(path), "w") as out:
        stream: Any = out.add_stream("libx264", rate=RATE)
        stream.width, stream.height, stream.pix_fmt = WIDTH_PX, HEIGHT_PX, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, RATE)
        stream.options = {"preset": "veryfast", "x264-params": f"keyint={GROUP}:scenecut=0:bframes=3"}
        for k in range(frames):
            picture = floor[:, k % 40 : k % 40 + WIDTH_PX].copy()
            left, top = k * 12 % (WIDTH_PX - 60), abs(k * 9 % 1600 - 800)
            picture[top : top + 60, left : left + 60] = (230, 220, 60)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = k
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def timed(ask: Callable[[int], object], indices: Iterable[int]) -> list[float]:
    """Seconds each request takes."""
    spent = []
    for i in indices:
        start = time.perf_counter()
        ask(i)
        spent.append(time.perf_counter() - start)
    return spent


def show(what: str, spent_s: list[float], limit_fps: float) -> None:
    """One line: median, 95th percentile and worst [ms], and the sustained rate against plain decoding."""
    ms = sorted(1000 * s for s in spent_s)
    fps = len(ms) / sum(spent_s)
    p95 = ms[min(len(ms) - 1, int(0.95 * len(ms)))]
    print(
        f"{what:34} median {statistics.median(ms):7.1f}  p95 {p95:7.1f}  worst {ms[-1]:7.1f} ms"
        f"  {fps:6.0f} frames/s = {fps / limit_fps:.2f} of the limit"
    )


def plain_decode_fps(path: Path) -> float:
    """Frames a second of the library alone, from beginning to end."""
    start = time.perf_counter()
    with av.open(str(path)) as container:
        container.streams.video[0].thread_type = "AUTO"
        count = sum(1 for _ in container.decode(video=0))
    return count / (time.perf_counter() - start)


def peak_memory_mb() -> float:
    """Largest resident memory of this process so far."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform != "darwin" else 1024**2)


def measure(clip: Clip, limit_fps: float) -> None:
    """Print all figures of one clip."""
    last = clip.frame_count - 1
    before_mb = peak_memory_mb()
    with FrameReader(clip) as reader:
        show("full size, forward", timed(reader.frame, range(clip.frame_count)), limit_fps)
        show("full size, backward", timed(reader.frame, range(last, -1, -1)), limit_fps)
        seeks = random.Random(2).sample(range(clip.frame_count), 12)
        show("full size, random seek", timed(reader.frame, seeks), limit_fps)
        decoded = statistics.mean(i - max(k for k in clip.keyframes if k <= i) + 1 for i in seeks)
        print(
            f"  on average {decoded:.0f} frames from the key frame on, which alone take the library"
            f" {1000 * decoded / limit_fps:.0f} ms"
        )
    with FrameReader(clip) as reader:

        def at_screen_size(i: int) -> object:
            return reader.scaled(i, *SCREEN_PX)

        show("screen size, forward", timed(at_screen_size, range(clip.frame_count)), limit_fps)
        show("screen size, backward", timed(at_screen_size, range(last, -1, -1)), limit_fps)
    print(f"peak memory {peak_memory_mb():.0f} MB ({before_mb:.0f} MB before the first frame was asked for)")


def main() -> None:
    """Make the clip, or take the one named, and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", nargs="?", type=Path, help="a clip to measure instead of a made one")
    parser.add_argument("--frames", type=int, default=3 * GROUP)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = chosen.clip or Path(folder) / "film.mp4"
        if chosen.clip is None:
            make_film(path, chosen.frames)
        limit_fps = plain_decode_fps(path)
        start = time.perf_counter()
        clip = open_clip(path)
        print(f"{clip.frame_count} frames of {clip.width}x{clip.height}, opened in {time.perf_counter() - start:.2f} s")
        print(f"limit: the library alone decodes {limit_fps:.0f} frames/s")
        measure(clip, limit_fps)


if __name__ == "__main__":
    main()

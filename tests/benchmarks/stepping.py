"""What stepping, holding a key and seeking cost, beside what the decoding library alone takes in the same run.

Run with `python tests/benchmarks/stepping.py`. It makes its own clips once and keeps them in the folder for
temporary files. Each clip is measured in a process of its own, so that peak memory is that clip's.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import queue
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frame_worker import FrameWorker, Shown

FOLDER = Path(tempfile.gettempdir()) / "serve-marker-benchmarks"
SCREEN_PX = (1148, 646)
HOLD_FRAMES = 600


@dataclass(frozen=True)
class Film:
    """A clip to make: what a phone or an exported edit could be."""

    codec: str
    width: int
    height: int
    group: int
    frames: int
    options: tuple[tuple[str, str], ...]


X265 = "log-level=none:keyint={0}:min-keyint={0}:bframes=3:scenecut=0"
FILMS = {
    "1080p60-h264": Film(
        "libx264",
        1920,
        1080,
        250,
        1000,
        (("preset", "veryfast"), ("x264-params", "keyint=250:min-keyint=250:scenecut=0:bframes=3")),
    ),
    "1080p60-hevc": Film("libx265", 1920, 1080, 60, 420, (("preset", "ultrafast"), ("x265-params", X265.format(60)))),
    "4k60-hevc": Film("libx265", 3840, 2160, 60, 180, (("preset", "ultrafast"), ("x265-params", X265.format(60)))),
}


def film(name: str) -> Path:
    """The clip's path; made where it is not there yet."""
    wanted, path = FILMS[name], FOLDER / f"{name}.mp4"
    if path.exists():
        return path
    FOLDER.mkdir(exist_ok=True)
    start, partly = time.perf_counter(), path.with_suffix(".part.mp4")
    floor = np.random.default_rng(3).integers(90, 140, (wanted.height, wanted.width + 400, 3), dtype=np.uint8)
    with av.open(str(partly), "w") as out:
        stream: Any = out.add_stream(wanted.codec, rate=60)
        stream.width, stream.height, stream.pix_fmt = wanted.width, wanted.height, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 60)
        stream.options = dict(wanted.options)
        for k in range(wanted.frames):
            picture = floor[:, k % 40 : k % 40 + wanted.width].copy()
            left, top = k * 12 % (wanted.width - 60), abs(k * 9 % 1600 - 800)
            picture[top : top + 60, left : left + 60] = (230, 220, 60)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = k
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    partly.rename(path)
    print(f"made {name} in {time.perf_counter() - start:.0f} s")
    return path


def limit_fps(path: Path) -> float:
    """Frames a second of the library alone, from beginning to end."""
    start = time.perf_counter()
    with av.open(str(path)) as container:
        container.streams.video[0].thread_type = "AUTO"
        count = sum(1 for _ in container.decode(video=0))
    return count / (time.perf_counter() - start)


def library_seek_s(clip: Clip, index: int) -> float:
    """Seconds the library alone takes from the key frame to the frame of this index, the file being open."""
    path, stamp = clip.path, int(clip.stamps[index])
    start_dts = max(point.dts for point in clip.entry_points if point.index <= index)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        next(container.decode(stream))
        start = time.perf_counter()
        container.seek(start_dts, stream=stream)
        for frame in container.decode(stream):
            if frame.pts == stamp:
                return time.perf_counter() - start
    raise AssertionError("the library did not deliver the frame")


class Screen:
    """Asks a worker for frames and waits for them as a window would."""

    def __init__(self, clip: Clip) -> None:
        self.shown: queue.SimpleQueue[Shown] = queue.SimpleQueue()
        self.worker = FrameWorker(clip, self.shown.put, lambda _, error: print(error))

    def see(self, i: int) -> float:
        """Seconds until frame `i` is there."""
        start = time.perf_counter()
        self.worker.want(i, SCREEN_PX)
        while self.shown.get(timeout=60).index != i:
            pass
        return time.perf_counter() - start

    def hold(self, indices: Iterable[int]) -> float:
        """Frames a second when each is asked for as soon as the one before is seen."""
        spent = [self.see(i) for i in indices]
        return len(spent) / sum(spent)

    def close(self) -> None:
        """Let go of the worker."""
        self.worker.close()

    def settle(self) -> None:
        """Wait until nothing more comes."""
        while True:
            try:
                self.shown.get(timeout=1.5)
            except queue.Empty:
                return


def ms(spent_s: list[float]) -> str:
    """Median and 95th percentile [ms]."""
    ordered = sorted(spent_s)
    return f"median {1000 * statistics.median(ordered):.1f} ms, p95 {1000 * ordered[int(0.95 * len(ordered))]:.1f} ms"


def peak_mb() -> float:
    """Largest resident memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024**2 if sys.platform == "darwin" else 1024)


def measure(name: str) -> None:
    """Print one clip's figures."""
    path = film(name)
    clip = open_clip(path)
    limit, start_mb = limit_fps(path), peak_mb()
    print(f"{name}: {clip.frame_count} frames, key distance {FILMS[name].group}; the limit is {limit:.0f} frames/s")
    with contextlib.closing(Screen(clip)) as screen:
        hold_step_and_seek(screen, path, name)
    print(f"  load           {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"  peak memory    {peak_mb():.0f} MB ({start_mb:.0f} MB after the library alone)")


def hold_step_and_seek(screen: Screen, path: Path, name: str) -> None:
    """Print what the screen gets to see, and when."""
    clip = screen.worker.clip
    last = clip.frame_count - 1
    frames = min(HOLD_FRAMES, last - 1)
    for words, start, stop, step in (("forward", 0, frames, 1), ("backward", last, last - frames, -1)):
        screen.see(start)
        screen.settle()
        before = limit_fps(path)
        held = screen.hold(range(start + step, stop, step))
        limit = statistics.mean((before, limit_fps(path)))
        print(f"  held {words:8}  {held:5.0f} frames/s, {held / limit:.2f} of the limit of {limit:.0f} around it")
    middle = clip.frame_count // 2 + 5
    screen.see(middle)
    screen.settle()
    for words, step in (("forward", 1), ("backward", -1)):
        spent = []
        steps = min(150, last - middle) if step > 0 else min(150, middle)
        for k in range(steps):
            time.sleep(0.02)
            spent.append(screen.see(middle + step * (k + 1)))
        print(f"  one step {words:8} {ms(spent)}, 30 ms apart over {steps // FILMS[name].group + 1} groups")
        middle += step * steps
    shares = []
    for i in random.Random(2).sample(range(clip.frame_count), 20):
        screen.settle()
        kept = i in screen.worker._plan.small
        spent_s = screen.see(i)
        if not kept:
            shares.append(spent_s / library_seek_s(clip, i))
    print(f"  random seek    {statistics.median(shares):.2f} times the library's own (worst {max(shares):.2f})")
    print(f"  frames kept    {screen.worker.held_bytes / 1024**2:.0f} MB")


def main() -> None:
    """Print the figures of all clips or of those named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("films", nargs="*", choices=[*FILMS, []], default=[])
    parser.add_argument("--here", action="store_true", help="measure in this process")
    chosen = parser.parse_args()
    for name in chosen.films or FILMS:
        film(name)
        if chosen.here:
            measure(name)
        else:
            subprocess.run([sys.executable, __file__, name, "--here"], check=True)


if __name__ == "__main__":
    main()

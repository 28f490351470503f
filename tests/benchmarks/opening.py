"""How long a three-hour 1080p30 clip takes to its first picture, to its table of times, and the second time.

Run with `python tests/benchmarks/opening.py`; the clip is made once, from packets repeated, in the folder for
temporary files.
"""

from __future__ import annotations

import os
import runpy
import tempfile
import time
from fractions import Fraction
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import av
import numpy as np
from PySide6.QtCore import QEventLoop
from PySide6.QtWidgets import QApplication

from serve_marker.logbook.records import Practice
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.glance import glance

FOLDER = Path(tempfile.gettempdir()) / "serve-marker-benchmarks"
RATE, GROUP, HOURS = 30, 30, 3


def film() -> Path:
    """Three hours of the same second, each packet with its own time."""
    path = FOLDER / "three-hours.mp4"
    if path.exists():
        return path
    FOLDER.mkdir(exist_ok=True)
    second = FOLDER / "one-second.mp4"
    with av.open(str(second), "w") as out:
        stream: Any = out.add_stream("libx264", rate=RATE, options={"preset": "veryfast", "bf": "0", "g": str(GROUP)})
        stream.width, stream.height, stream.pix_fmt = 1920, 1080, "yuv420p"
        for k in range(GROUP):
            picture = np.full((1080, 1920, 3), 120, np.uint8)
            picture[500:560, 60 * k : 60 * k + 60] = 230
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode(None))
    with av.open(str(second)) as source, av.open(str(path), "w") as out:
        copy: Any = out.add_stream_from_template(source.streams.video[0])
        packets: list[Any] = [packet for packet in source.demux(video=0) if packet.size]
        ticks = round(Fraction(1, RATE) / Fraction(packets[0].time_base))
        contents = [(bytes(packet), packet.is_keyframe) for packet in packets]
        for number in range(HOURS * 3600 * RATE):
            content, key = contents[number % GROUP]
            packet: Any = av.Packet(content)
            packet.stream, packet.time_base = copy, packets[0].time_base
            packet.pts = packet.dts = number * ticks
            packet.duration, packet.is_keyframe = ticks, key
            out.mux(packet)
    return path


def through_the_window(path: Path) -> None:
    """Print the seconds from the file being dropped to its first picture on the screen, and to all of it."""
    coaching = runpy.run_path(str(Path(__file__).resolve().parents[1] / "desktop" / "coach.py"), run_name="coach")
    with tempfile.TemporaryDirectory() as name:
        coach: Any = coaching["Coach"](Path(name))
        opening, loop = coach.window.opening, QEventLoop()
        coach.workspace.new_logbook(Path(name) / "team.logbook")
        tuesday = Practice(id="1", date="2026-11-03", name="Tuesday")
        opening.practice_asked.disconnect(coach.window.books.ask_practice)
        opening.practice_asked.connect(lambda days: opening.put_in(dict.fromkeys(days, tuesday)))
        for words in ("first time", "again"):
            start = time.perf_counter()
            coach.window.books.take(path)
            spent_s = []
            for reached in (opening.glanced, opening.settled):
                connection = reached.connect(lambda *_: loop.quit())
                loop.exec()
                reached.disconnect(connection)
                QApplication.processEvents()
                spent_s.append(time.perf_counter() - start)
            print(f"window, {words}: first picture {spent_s[0]:.2f} s, all times {spent_s[1]:.2f} s")
        coach.leave()


def main() -> None:
    """Print the seconds."""
    path = film()
    table = FOLDER / "three-hours.times"
    table.unlink(missing_ok=True)
    start = time.perf_counter()
    picture = glance(path).picture
    print(f"first picture {picture.shape[1]}x{picture.shape[0]} after {time.perf_counter() - start:.2f} s")
    for words in ("read through", "from the table kept"):
        start = time.perf_counter()
        clip = open_clip(path, table_path=table)
        print(f"{clip.frame_count} times {words} after {time.perf_counter() - start:.2f} s")
    with FrameReader(clip) as reader:
        start = time.perf_counter()
        reader.frame(clip.frame_count - 7)
        print(f"a frame near the end after {time.perf_counter() - start:.2f} s")
    through_the_window(path)


if __name__ == "__main__":
    main()

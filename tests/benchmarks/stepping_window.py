"""Stepping through the real window: a key event in, the repaint of the right frame out. And a long random evening.

Run with `python tests/benchmarks/stepping_window.py [--minutes 15]` after `stepping.py` has made its clips.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import runpy
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEvent, QEventLoop, QObject, QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.app import let_work

HERE = Path(__file__).resolve()
stepping = runpy.run_path(str(HERE.with_name("stepping.py")), run_name="stepping")
coaching = runpy.run_path(str(HERE.parents[1] / "desktop" / "coach.py"), run_name="coach")
STEPS, ACTIONS_PER_S = 300, 20


class Paints(QObject):
    """Counts the repaints of a widget."""

    count = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        self.count += event.type() == QEvent.Type.Paint
        return False


class Bench:
    """The window on a clip, and the clock."""

    def __init__(self, folder: Path, film: Path) -> None:
        self.coach: Any = coaching["Coach"](folder)
        self.coach.window.resize(1440, 900)
        self.coach.begin(film, folder / "team.logbook")
        self.paints = Paints()
        self.coach.picture.installEventFilter(self.paints)
        self.frames: Any = self.coach.window.page.frames

    def leave(self) -> None:
        """Close the window."""
        self.coach.leave()
        gc.collect()

    def go(self, index: int) -> None:
        self.coach.workspace.set_frame(index)
        end = time.monotonic() + 2.0
        while time.monotonic() < end or self.frames.shown_index != index:
            let_work(20)

    def step(self, key: Qt.Key) -> float:
        """Seconds from the key to the repaint of the frame it asks for."""
        return self._until_painted(lambda: QTest.keyClick(self.coach.picture, key))

    def jump(self, share: float) -> float:
        """Seconds from a click on the time bar, so far along it, to the repaint of the frame clicked."""
        bar = self.coach.window.page.time_bar
        track = bar._track()
        place = QPoint(round(track.left() + share * track.width()), bar.height() - 8)
        left = Qt.MouseButton.LeftButton
        return self._until_painted(lambda: QTest.mouseClick(bar, left, Qt.KeyboardModifier.NoModifier, place))

    def _until_painted(self, ask: Callable[[], object]) -> float:
        start, before = time.perf_counter(), self.paints.count
        ask()
        wanted = self.coach.workspace.frame
        while self.frames.shown_index != wanted or self.paints.count == before:
            QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        return time.perf_counter() - start


def measure(bench: Bench, film: Path) -> None:
    """Print single steps 30 ms apart and keys as fast as frames are painted."""
    clip = bench.coach.workspace.clip
    steps = min(STEPS, clip.frame_count - 10)
    first = (clip.frame_count - steps) // 2
    for words, key, start in (
        ("forward", Qt.Key.Key_Right, first),
        ("backward", Qt.Key.Key_Left, first + steps),
    ):
        bench.go(start)
        spent = []
        for _ in range(steps):
            time.sleep(0.02)
            spent.append(bench.step(key))
        print(f"  one step {words:8} {stepping['ms'](spent)}")
        bench.go(start)
        before = stepping["limit_fps"](film)
        spent = [bench.step(key) for _ in range(steps)]
        limit = statistics.mean((before, stepping["limit_fps"](film)))
        fps = len(spent) / sum(spent)
        print(f"  held {words:8} {fps:.0f} frames/s painted, {fps / limit:.2f} of the limit of {limit:.0f} around it")
    shares = []
    for place in random.Random(2).sample(range(2, 98), 20):
        let_work(1500)
        kept = set(bench.frames._worker._plan.small._order)
        spent_s, index = bench.jump(place / 100), bench.coach.workspace.frame
        if index not in kept:
            shares.append(spent_s / stepping["library_seek_s"](clip, index))
    middle = statistics.median(shares)
    print(f"  click on the time bar {middle:.2f} times the library's own seek (worst {max(shares):.2f})")
    print(f"  peak memory {stepping['peak_mb']():.0f} MB")


def resident_mb() -> float:
    """Resident memory of this process now."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1024**2


def held() -> tuple[int, int]:
    """Threads and open files of this process."""
    return len(list(Path("/proc/self/task").iterdir())), len(list(Path("/proc/self/fd").iterdir()))


def drag_a_little(bar: Any, rng: random.Random) -> None:
    """Press somewhere on the time bar, move along it and let go."""
    places = [QPoint(rng.randrange(bar.width() // 2), bar.height() - 8) for _ in range(3)]
    QTest.mousePress(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, places[0])
    for place in places:
        QTest.mouseMove(bar, place)
    QTest.mouseRelease(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, places[-1])


def fill_memory(bench: Bench) -> None:
    """Play the clip to its end and back, so that as many frames are kept as may be."""
    player = bench.coach.window.page.player
    for play in (player.play_or_pause, player.play_backward):
        play()
        while player.playing:
            let_work(50)


def random_evening(bench: Bench, minutes: float) -> None:
    """Step, seek, drag and play at random; print memory as it goes."""
    rng, workspace = random.Random(5), bench.coach.workspace
    last = workspace.clip.frame_count - 1
    keys = [Qt.Key.Key_Left, Qt.Key.Key_Right]
    fill_memory(bench)
    start = time.monotonic()
    memory: list[float] = []
    count = 0
    while (elapsed_s := time.monotonic() - start) < 60 * minutes:
        action, count = rng.random(), count + 1
        if action < 0.7:
            QTest.keyClick(bench.coach.picture, rng.choice(keys))
        elif action < 0.8:
            workspace.set_frame(rng.randrange(last))
        elif action < 0.97:
            drag_a_little(bench.coach.window.page.time_bar, rng)
        else:
            bench.coach.window.page.player.play_or_pause()
        let_work(max(0, round(1000 * (start + count / ACTIONS_PER_S - time.monotonic()))))
        if elapsed_s > 20 * (len(memory) + 1):
            memory.append(resident_mb())
    print(f"  {count} actions, {count / (time.monotonic() - start):.1f} a second")
    settled = memory[len(memory) // 4 :]
    print(f"  memory every 20 s [MB]: {' '.join(f'{mb:.0f}' for mb in memory)}")
    if settled:
        swing = (max(settled) - min(settled)) / statistics.mean(settled)
        print(f"  after the first quarter it stays within {swing:.1%}")


def main() -> None:
    """Print the figures of the H.264 clip."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=0.0, help="of random stepping, seeking, dragging and playing")
    parser.add_argument("--film", default="1080p60-h264", choices=list(stepping["FILMS"]))
    chosen = parser.parse_args()
    film = stepping["film"](chosen.film)
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name), film)
        bench.go(bench.coach.workspace.clip.frame_count // 2)
        bench.leave()
    before = held()
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(Path(name), film)
        print(f"{chosen.film} through the window")
        if chosen.minutes:
            random_evening(bench, chosen.minutes)
        else:
            measure(bench, film)
        working = held()
        bench.leave()
        print(f"  threads and open files: {before} with no window, {working} at work, {held()} after closing it again")


if __name__ == "__main__":
    main()

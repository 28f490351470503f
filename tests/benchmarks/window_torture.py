"""The window at random actions: killed, on a full disk, on one that turns read-only. Nothing acknowledged may be lost.

Each episode is a window of its own on a fresh copy of one logbook, with real clicks and keys. After every action it
tells what its serves are now. Afterwards the file must be sound, and hold what was told last; where an action was
under way, but for the one serve that it changes. A full disk is a small file system in memory, a
read-only one such a one whose folder takes no new file; only root can make them.

Run: python3 -m tests.benchmarks.window_torture [kill COUNT] [full COUNT] [readonly COUNT]
"""

from __future__ import annotations

import json
import os
import runpy
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import IO

import numpy as np

from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook

ROOT = Path(__file__).resolve().parents[2]
READY_S, EPISODE_S, ACTIONS = 240.0, 4.0, 60
DISK = "size=3m"


def state_of(serves: Iterable[Serve]) -> dict[str, str]:
    return {serve.id: repr(serve) for serve in serves}


def prepare(folder: Path) -> None:
    """A film, and a logbook with its view."""
    hands = runpy.run_path(str(ROOT / "tests" / "desktop" / "coach.py"))
    hands["film_court"](folder / "tuesday.mp4")
    coach = hands["Coach"](folder)
    coach.begin(folder / "tuesday.mp4", folder / "team.logbook")
    making = coach.window.page._making
    coach.wait(lambda: making.seen() is not None)
    making.move({name: hands["seen_at"](*place) for name, place in landmarks(COURTS["indoor"]).items()})
    coach.leave()


def act(folder: Path, seed: int) -> None:
    """In the episode's own process: act without end, telling each action before and its result after."""
    from PySide6.QtCore import Qt

    hands = runpy.run_path(str(ROOT / "tests" / "desktop" / "coach.py"))
    coach, chance = hands["Coach"](folder), np.random.default_rng(seed)
    ctrl, shift = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
    coach.window.books.open_logbook_at(folder / "team.logbook")
    coach.wait(lambda: coach.workspace.clip is not None and not coach.window.busy)
    coach.key(Qt.Key.Key_2, ctrl)
    keys = [(Qt.Key.Key_Z, ctrl), (Qt.Key.Key_Z, ctrl | shift), (Qt.Key.Key_Right, shift), (Qt.Key.Key_Left, shift)]
    plain = (Qt.Key.Key_N, Qt.Key.Key_O, Qt.Key.Key_F, Qt.Key.Key_R, Qt.Key.Key_A, Qt.Key.Key_Y, Qt.Key.Key_Backspace)
    keys += [(key, Qt.KeyboardModifier.NoModifier) for key in plain]
    keys += [(Qt.Key.Key_Right, ctrl), (Qt.Key.Key_Left, ctrl)]
    told = sys.stdout.write
    told(f"{json.dumps(state_of(coach.workspace.serves))}\n")
    for _ in range(ACTIONS if seed % 2 else 10**9):
        told("acting\n")
        sys.stdout.flush()
        if chance.random() < 0.5:
            coach.click_film(*hands["seen_at"](chance.uniform(-4, 4), chance.uniform(1, 9)))
            coach.key(Qt.Key.Key_Right, shift)
        else:
            coach.key(*keys[chance.integers(len(keys))])
        if any("nothing was changed" in words for words in coach.said):
            told("refused\n")
            coach.said.clear()
        told(f"{json.dumps(state_of(coach.workspace.serves))}\n")
        sys.stdout.flush()
    told("done\n")
    sys.stdout.flush()
    time.sleep(READY_S)


def episode(way: str, seed: int, prepared: Path, folder: Path) -> str:
    """Return "kept", or what was lost."""
    for name in ("team.logbook", "tuesday.mp4"):
        shutil.copy(prepared / name, folder)
    with tempfile.TemporaryFile("w+") as told, tempfile.TemporaryFile("w+") as failed:
        command = [sys.executable, "-m", "tests.benchmarks.window_torture", "act", str(folder), str(seed)]
        window = subprocess.Popen(command, cwd=ROOT, stdout=told, stderr=failed, text=True)
        _wait_for_lines(told, window, 4)
        if way == "full":
            with (folder / "ballast").open("wb") as ballast:
                _fill(ballast, leave_bytes=4096 * (seed % 8))
        elif way == "readonly":
            subprocess.run(["chattr", "+i", str(folder)], check=True)
        time.sleep(np.random.default_rng(seed).uniform(0.1, EPISODE_S))
        crashed = window.poll() is not None
        window.send_signal(signal.SIGKILL)
        window.wait()
        told.seek(0)
        lines = told.read().split("\n")[:-1]
        failed.seek(0)
        words = [line for line in failed.read().splitlines() if "Traceback" in line or "Error" in line]
    if way == "readonly":
        subprocess.run(["chattr", "-i", str(folder)], check=True)
    (folder / "ballast").unlink(missing_ok=True)
    states = [line for line in lines if line.startswith("{")]
    acknowledged = json.loads(states[-1])
    with Logbook.open(folder / "team.logbook") as book:
        faults, kept = book.check(), state_of(book.serves())
    different = {key for key in acknowledged.keys() | kept.keys() if acknowledged.get(key) != kept.get(key)}
    if crashed or words:
        return f"ENDED BY ITSELF {words[-1:]}"
    if faults:
        return f"NOT SOUND {faults[0]}"
    if len(different) > (1 if lines[-1] == "acting" else 0):
        return f"LOST {len(different)}"
    return "kept, and changes refused in a sentence" if "refused" in lines else "kept"


def _wait_for_lines(told: IO[str], window: subprocess.Popen[str], count: int) -> None:
    end_s = time.monotonic() + READY_S
    while os.fstat(told.fileno()).st_size < 12 * count:
        assert window.poll() is None, "the window ended by itself"
        assert time.monotonic() < end_s, "the window never got ready"
        time.sleep(0.02)


def _fill(ballast: IO[bytes], leave_bytes: int) -> None:
    """Take all room there is, and give so much back."""
    size_bytes = 0
    try:
        while True:
            size_bytes += os.write(ballast.fileno(), bytes(4096))
    except OSError:
        os.ftruncate(ballast.fileno(), max(size_bytes - leave_bytes, 0))


def _unmount(folder: Path) -> None:
    """Unmount once the processes that the killed window had begun have ended too."""
    end_s = time.monotonic() + READY_S
    while subprocess.run(["umount", str(folder)], capture_output=True, check=False).returncode:
        assert time.monotonic() < end_s, f"{folder} stays busy"
        time.sleep(0.2)


def main(ways: dict[str, int]) -> None:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    prepared = Path(tempfile.mkdtemp())
    subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.window_torture", "prepare", str(prepared)], cwd=ROOT, check=True
    )
    for way, count in ways.items():
        outcomes: Counter[str] = Counter()
        for seed in range(count):
            folder = Path(tempfile.mkdtemp())
            if way != "kill":
                subprocess.run(["mount", "-t", "tmpfs", "-o", DISK, "tmpfs", str(folder)], check=True)
            try:
                outcomes[episode(way, seed, prepared, folder)] += 1
            finally:
                if way != "kill":
                    _unmount(folder)
                shutil.rmtree(folder)
            print(f"{way:<10}{seed + 1:5} of {count}: {dict(outcomes)}", flush=True)
    shutil.rmtree(prepared)


if __name__ == "__main__":
    asked = sys.argv[1:] or ["kill", "500", "full", "50", "readonly", "50"]
    if asked[0] == "act":
        act(Path(asked[1]), int(asked[2]))
    elif asked[0] == "prepare":
        prepare(Path(asked[1]))
    else:
        main({way: int(count) for way, count in zip(asked[::2], asked[1::2], strict=True)})

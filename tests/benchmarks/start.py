"""Print how long the program takes to answer and to show a usable window, and what it holds in memory.

Run: python3 tests/benchmarks/start.py
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 5
WINDOW = """
import resource, sys, time
started = time.perf_counter()
from serve_marker.desktop.app import offscreen_app, wait_until
app = offscreen_app()
from PySide6.QtCore import QSettings
from serve_marker.desktop.main_window import MainWindow
window = MainWindow(QSettings(sys.argv[1], QSettings.Format.IniFormat))
window.show()
app.processEvents()
usable = time.perf_counter() - started
if len(sys.argv) > 2:
    from pathlib import Path
    window.open_at_start(Path(sys.argv[2]))
    wait_until(lambda: window.workspace.clip is not None and not window.busy)
    for i in range(0, window.workspace.clip.frame_count, 5):
        window.workspace.set_frame(i)
        wait_until(lambda: not window.busy)
print(usable, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
window.close()
"""


def make_clip(path: Path) -> None:
    """Write ten seconds of moving 1080p60 film with 250-frame groups."""
    import av
    import numpy as np

    noise = np.random.default_rng(7).integers(60, 190, (1080 + 600, 1920, 3), dtype=np.uint8)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=60, options={"preset": "ultrafast", "g": "250", "crf": "30"})
        stream.width, stream.height, stream.pix_fmt = 1920, 1080, "yuv420p"
        for i in range(600):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(noise[i : i + 1080], format="rgb24")))
        container.mux(stream.encode())


def make_logbook(path: Path, clip: Path) -> None:
    """Write a logbook whose one practice has that clip."""
    from serve_marker.logbook.fingerprint import fingerprint
    from serve_marker.logbook.records import ClipEntry, Practice, new_id
    from serve_marker.logbook.store import Logbook

    size_bytes, digest = fingerprint(clip)
    practice = Practice(id=new_id(), date="2026-11-03", name="Benchmark")
    entry = ClipEntry(id=new_id(), practice_id=practice.id, path=str(clip), size_bytes=size_bytes, fingerprint=digest)
    with Logbook.create(path) as logbook:
        logbook.put(practice, entry)


def seconds(*command: str) -> float:
    """Return the median wall time of a command [s]."""
    taken = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def main() -> None:
    """Print the figures."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    print(f"serve-marker --help: {seconds(sys.executable, '-m', 'serve_marker', '--help'):.2f} s (to stay under 0.5 s)")
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        os.environ["HOME"] = os.environ["XDG_CONFIG_HOME"] = str(home)
        start = (sys.executable, "-c", WINDOW, str(home / "settings.ini"))
        whole_s = seconds(*start)
        to_window_s, empty_mb = figures(*start)
        make_clip(home / "clip.mp4")
        make_logbook(home / "team.logbook", home / "clip.mp4")
        _, full_mb = figures(*start, str(home / "team.logbook"))
    print(f"start to usable window: {to_window_s:.2f} s in the process, {whole_s:.2f} s in all (to stay under 2 s)")
    print(
        f"memory: {empty_mb:.0f} MB empty, {full_mb:.0f} MB after stepping through 1080p60 film (to stay under 800 MB)"
    )


def figures(*command: str) -> tuple[float, float]:
    """Return what the program printed: seconds to the window and the most memory it held [MB]."""
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    return float(printed[-2]), float(printed[-1])


if __name__ == "__main__":
    main()

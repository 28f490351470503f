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
from serve_marker.desktop.app import offscreen_app
app = offscreen_app()
from serve_marker.desktop.window import Window
window = Window()
window.show()
app.processEvents()
print(time.perf_counter() - started, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
window.close()
"""


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
    with tempfile.TemporaryDirectory() as home:
        os.environ["HOME"] = os.environ["XDG_CONFIG_HOME"] = str(Path(home))
        whole = seconds(sys.executable, "-c", WINDOW)
        inside = subprocess.run([sys.executable, "-c", WINDOW], capture_output=True, text=True, check=True)
    to_window_s, memory_mb = map(float, inside.stdout.split())
    print(f"start to usable window: {to_window_s:.2f} s in the process, {whole:.2f} s in all (to stay under 2 s)")
    print(f"memory of the empty window: {memory_mb:.0f} MB")


if __name__ == "__main__":
    main()

"""The window is killed in the middle of marking; every mark whose chip was there must be in the logbook."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from serve_marker.logbook.store import Logbook

COACH = Path(__file__).with_name("coach.py")
KILLS = int(os.environ.get("SERVE_MARKER_KILLS", "2"))


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is a signal of POSIX systems")
@pytest.mark.parametrize("seed", range(KILLS))
def test_every_acknowledged_mark_survives_a_kill(seed, tmp_path):
    told_path = tmp_path / "told"
    with told_path.open("wb") as told_file:
        window = subprocess.Popen(
            [sys.executable, str(COACH), str(tmp_path)], stdout=told_file, stderr=subprocess.DEVNULL
        )
        deadline = time.monotonic() + 120
        while b"ready" not in told_path.read_bytes():
            assert window.poll() is None, "the window ended by itself"
            assert time.monotonic() < deadline, "the window never got ready"
            time.sleep(0.02)
        while told_path.read_bytes().count(b"\n") < 2:
            assert time.monotonic() < deadline, "the window never kept a mark"
            time.sleep(0.02)
        time.sleep(np.random.default_rng(seed).uniform(0.0, 1.5))
        window.send_signal(signal.SIGKILL)
        window.wait()
    acknowledged = told_path.read_text().split("\n")[1:-1]
    logbook = tmp_path / "team.logbook"
    with Logbook.open(logbook) as book:
        kept = {serve.id for serve in book.serves()}
    assert acknowledged
    assert set(acknowledged) <= kept
    alone = tmp_path / "alone"
    alone.mkdir()
    shutil.copy(logbook, alone)
    with Logbook.open(alone / logbook.name) as copied:
        assert copied.check() == []
        assert {serve.id for serve in copied.serves()} == kept

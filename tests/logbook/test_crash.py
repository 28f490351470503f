"""Writes survive a kill at any moment: what was acknowledged is there, and the file copied alone is whole."""

import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from serve_marker.logbook.store import Logbook

WRITER = """
import sys
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.records import Mark, Serve
book = Logbook.open(sys.argv[1])
start = len(book.serves())
print("ready", flush=True)
for number in range(start, 100000):
    serve = Serve(id=f"s{number}", clip_id="film", landing=Mark(float(number), (1.0, 2.0)), ball_marks=(Mark(0.5),))
    book.put(serve) if number % 2 else book.change_serves([(None, serve)])
    print(serve.id, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill -9 on this system")
def test_every_acknowledged_mark_survives_kill_9(logbook: Logbook, tmp_path: Path) -> None:
    path = logbook.path
    logbook.close()
    moments = random.Random(20)
    acknowledged = {"first"}
    copy = tmp_path / "alone" / "copy.logbook"
    copy.parent.mkdir()
    kills = 0
    while kills < 20 or len(acknowledged) <= 20:
        kills += 1
        writer = subprocess.Popen([sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE, text=True)
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        time.sleep(moments.uniform(0.002, 0.06))
        writer.kill()
        said, _ = writer.communicate()
        acknowledged |= {line for line in said.split("\n")[:-1] if line}

        with Logbook.open(path) as again:
            found = {serve.id for serve in again.serves()}
            assert acknowledged <= found
            assert all(len(serve.ball_marks) == 1 for serve in again.serves() if serve.id != "first")
            assert again.check() == []
        shutil.copyfile(path, copy)
        connection = sqlite3.connect(copy)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()
        with Logbook.open(copy) as alone:
            assert {serve.id for serve in alone.serves()} == found

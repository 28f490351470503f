"""Seconds, those of the processor, and peak memory of `logbook check` and `export` with a million serves.

Each is a process of its own. The logbook is the demo's invented season over and over, on other days and with a new team
each year; each serve keeps two marks of the ball, each clip is a small file that is where the logbook says.

Run: python3 -m tests.benchmarks.million [COUNT, a million if nothing is said] [FOLDER that keeps it] [COMMAND]
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from multiprocessing import Process
from pathlib import Path

from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.opening import connect
from serve_marker.logbook.record_rows import put_rows
from serve_marker.logbook.records import ClipEntry, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.tables import BALL_COLUMNS, SERVES, ball_cells
from tests.test_demo_season import SEASON, logbook_of

SEASONS = 10
BALLS_KEPT = 2
ROWS_AT_ONCE = 20_000


def build(path: Path, count: int) -> None:
    """Write a logbook with so many serves."""
    template = logbook_of(SEASON, path.with_name("template.logbook"))
    with template, Logbook.create(path, team="Tidewater") as book:
        book.put(*template.gyms(), *template.views(), *template.formations())
        practices, clips, serves = template.practices(), template.clips(), template.serves()
        copies = -(-count // len(serves))
        for season in range(SEASONS):
            book.put(*(replace(player, id=f"{player.id}-{season}") for player in template.players()))
        folder = path.parent / "clips"
        folder.mkdir()
        with book.one_change():
            for copy in range(copies):
                book.put(*(practice_of(one, copy, copies) for one in practices))
                book.put(*(clip_of(one, copy, folder) for one in clips))
    with closing(connect(path)) as connection:
        connection.set_progress_handler(None, 0)
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("BEGIN")
        columns = tuple(SERVES.columns)
        rows = ((SERVES.row(one), one) for one in served(serves, copies, count))
        while batch := [row for _, row in zip(range(ROWS_AT_ONCE), rows, strict=False)]:
            put_rows(connection, "serve", columns, [row for row, _ in batch])
            balls = [(one.id, *cells) for _, one in batch for cells in ball_cells(one)[:BALLS_KEPT]]
            put_rows(connection, "ball_mark", ("serve_id", *BALL_COLUMNS), balls)
        connection.execute("COMMIT")


def served(serves: Sequence[Serve], copies: int, count: int) -> Iterator[Serve]:
    numbers = ((copy, one) for copy in range(copies) for one in serves)
    for (copy, one), _ in zip(numbers, range(count), strict=False):
        season = copy * SEASONS // copies
        yield replace(
            one,
            id=f"{one.id}-{copy}",
            clip_id=f"{one.clip_id}-{copy}",
            player_id=f"{one.player_id}-{season}" if one.player_id else None,
            passer_id=f"{one.passer_id}-{season}" if one.passer_id else None,
        )


def practice_of(practice: Practice, copy: int, copies: int) -> Practice:
    season, in_season = divmod(copy * SEASONS, copies)
    day = date.fromisoformat(practice.date) + timedelta(days=365 * (season - SEASONS) + 200 * in_season // copies)
    return replace(practice, id=f"{practice.id}-{copy}", date=day.isoformat(), order_a=(), order_b=())


def clip_of(clip: ClipEntry, copy: int, folder: Path) -> ClipEntry:
    film = folder / f"{copy} {clip.file_name}"
    film.write_text(film.name)
    size_bytes, digest = fingerprint(film)
    key, practice = f"{clip.id}-{copy}", f"{clip.practice_id}-{copy}"
    return replace(clip, id=key, practice_id=practice, path=str(film), size_bytes=size_bytes, fingerprint=digest)


def run(command: str, *arguments: str) -> None:
    """Run the installed command, and tell seconds, peak memory and what it said last."""
    start_s = time.monotonic()
    with subprocess.Popen(
        [command, *arguments], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        assert process.stdout is not None
        said = process.stdout.read().splitlines()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    elapsed_s, peak_mb = time.monotonic() - start_s, used.ru_maxrss / 1024
    processor_s = used.ru_utime + used.ru_stime
    last = said[-1] if said else ""
    name = " ".join(arguments[:2] if arguments[0] == "logbook" else (arguments[0], Path(arguments[-1]).suffix))
    print(f"{name:<16}{elapsed_s:8.1f} s {processor_s:8.1f} s {peak_mb:8.0f} MB  {last[-100:]}", flush=True)


def main(count: int, folder: Path, command: str) -> None:
    path = folder / f"{count}" / "team.logbook"
    if not path.exists():
        path.parent.mkdir(parents=True)
        start_s = time.monotonic()
        builder = Process(target=build, args=(path, count))  # what a process holds counts for those it begins
        builder.start()
        builder.join()
        print(f"{'built':<16}{time.monotonic() - start_s:8.1f} s")
    print(f"{count:,} serves, {path.stat().st_size / 1e6:.0f} MB", flush=True)
    run(command, "logbook", "check", str(path))
    for ending in (".csv", ".xlsx"):
        run(command, "export", str(path), "-o", str(folder / f"all{ending}"))


if __name__ == "__main__":
    kept = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    where = kept or Path(tempfile.mkdtemp())
    try:
        installed = str(Path(sys.executable).with_name("serve-marker"))
        count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
        main(count, where, sys.argv[3] if len(sys.argv) > 3 else installed)
    finally:
        if kept is None:
            shutil.rmtree(where)

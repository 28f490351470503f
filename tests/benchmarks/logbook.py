"""Figures of a logbook with 10,000 serves: reading them in from a table, opening, loading, changing one.

Run: python tests/benchmarks/logbook.py [COUNT]
"""

import csv
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.marking.marks_csv import MARKS_COLUMNS
from serve_marker.video.clip import Clip

SIZE = (1920, 1080)
FRAMES = 60 * 60 * 60
FLIGHT_FRAMES = 60


@dataclass(frozen=True)
class Hour:
    """An hour at 60 frames a second, standing in for a clip: only its times and its file's hash are asked for."""

    path: Path
    width: int = SIZE[0]
    height: int = SIZE[1]
    frame_count: int = FRAMES

    def time_s(self, i: int) -> float:
        return i / 60

    def gaps_s(self, i: int) -> tuple[float, float]:
        return 1 / 60, 1 / 60

    def time_scale(self, filmed_at_fps: float | None) -> float:
        return 1.0


def view_from_the_stand() -> View:
    """A camera 4 m high, 7 m behind end a, 15 degrees down."""
    places = {name: place for name, place in landmarks(COURTS["indoor"]).items() if place[1] > -9}
    down = np.radians(15.0)
    marks = {}
    for name, place in places.items():
        x, y, z = np.array(place) - (0.5, -16.0, 4.0)
        depth = y * np.cos(down) - z * np.sin(down)
        marks[name] = (
            float(960 + 1350 * x / depth),
            float(540 + 1350 * (-y * np.sin(down) - z * np.cos(down)) / depth),
        )
    return fit_view(marks, COURTS["indoor"], SIZE, 2.24).view


def write_table(path: Path, view: View, count: int) -> None:
    chance = np.random.default_rng(8)
    landing = view.project(np.column_stack([chance.uniform(-4.4, 4.4, count), chance.uniform(2, 9, count)]))
    contact = view.project(np.column_stack([chance.uniform(-4.4, 4.4, count), np.full(count, -7.0)]))
    frames = np.sort(chance.integers(0, FRAMES - FLIGHT_FRAMES, count))
    with path.open("w", newline="") as file:
        table = csv.writer(file)
        table.writerow(MARKS_COLUMNS)
        for row in range(count):
            start = (row % 20, "jump float", "deep 1", "floor", frames[row], *contact[row].round(2))
            table.writerow((*start, frames[row] + FLIGHT_FRAMES, *landing[row].round(2), row % 4, "Odile", *[""] * 3))


@contextmanager
def timed(what: str) -> Iterator[None]:
    start_s = time.perf_counter()
    yield
    print(f"{what:<44}{time.perf_counter() - start_s:8.3f} s")


def main(count: int) -> None:
    view = view_from_the_stand()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        film = folder / "hour.mp4"
        film.write_bytes(bytes(3 << 20))
        write_table(folder / "marks.csv", view, count)
        with Logbook.create(folder / "team.logbook", team="Tidewater") as logbook, timed(f"read {count} serves in"):
            clip, text = cast(Clip, Hour(film)), view_to_text(view)
            import_marks(logbook, folder / "marks.csv", clip, view, text, "Monday", from_film=False)
        print(f"{'size of the file':<44}{(folder / 'team.logbook').stat().st_size / 1e6:8.1f} MB")
        with timed("open"):
            logbook = Logbook.open(folder / "team.logbook")
        with logbook:
            with timed("load all serves"):
                serves = logbook.serves()
            with timed("load all serves as columns"):
                logbook.serve_columns()
            with timed("load one practice"):
                logbook.serves(practice_id=logbook.practices()[0].id)
            with timed("change 50 serves one by one"):
                for serve in serves[:50]:
                    logbook.change_serves([(serve, replace(serve, note="changed"))])
            with timed("change 500 one by one, no wait for the disk"):
                logbook._connection.execute("PRAGMA synchronous = OFF")
                for serve in serves[50:550]:
                    logbook.change_serves([(serve, replace(serve, note="changed"))])
                logbook._connection.execute("PRAGMA synchronous = FULL")
            with timed("put 1,000 serves in one change"):
                logbook.put(*serves[:1000])
            with timed("check"):
                logbook.check()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)

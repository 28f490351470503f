"""Damaged and hostile inputs over all readers: every answer is a result or a UserError.

Each input is read in a process of its own, so that a crash, a hang and its memory are told apart. For logbooks whose
bytes were damaged it is also counted whether `logbook check` notices what changed.

Run: python -m tests.benchmarks.hostile [COUNT [KIND ...]]     COUNT inputs of each kind, or of these
"""

from __future__ import annotations

import json
import os
import pickle
import random
import select
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import load_view, read_marks, view_to_text
from serve_marker.errors import UserError
from serve_marker.logbook.health import problems
from serve_marker.logbook.pack import pack
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.unpack import unpack
from serve_marker.marking.import_marks import import_marks
from serve_marker.report.bundle import write_report
from serve_marker.report.write_tables import write_table
from serve_marker.study.readable import unreadable_parts
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.serve_worth import ServeWorth
from serve_marker.video.clip import open_clip
from tests.benchmarks.hostile_inputs import (
    SAMPLE,
    Case,
    base_logbook,
    damaged_bytes,
    damaged_pack,
    hostile_schema,
    hostile_settings,
    hostile_table,
    hostile_values,
    json_case,
)

LONGEST_S = 60.0
Reader = Callable[[Path], str]


@dataclass(frozen=True)
class Answer:
    """What became of one input."""

    kind: str
    seed: int
    outcome: str
    words: str
    seconds: float
    memory_mb: float


def read_logbook(path: Path) -> str:
    """Read a logbook as check, export and report do, and the window's views of its clips."""
    from serve_marker.desktop.session.view_edits import view_state_at

    with Logbook.open(path, to_check=True) as book:
        book.clip_folders.add(SAMPLE.folder)
        said = problems(book) or unreadable_parts(book)
    with Logbook.open(path) as book:
        table = serve_table(book)
        write_table(table, path.with_suffix(".csv"))
        for clip in book.clips():
            view_state_at(book, clip, 0.0)
        if path.parent.name.endswith("0"):
            write_table(table, path.with_suffix(".xlsx"))
            write_report(book, path.parent / "sheets", parts=("team sheet", "server pages"))
        same = kept_records(book) == path.with_name("truth").read_bytes()
    return "check told" if said else "unchanged" if same else "CHANGED AND NOT TOLD"


def kept_records(book: Logbook) -> bytes:
    """All that a logbook keeps, as bytes."""
    everything = [book.players(), book.seasons(), book.gyms(), book.views(), book.practices(), book.clips()]
    everything += [book.formations(), book.tallies(), book.plans(), book.trials(), book.serves()]
    return pickle.dumps([*everything, *(book.next_serves(practice.id) for practice in book.practices())])


def read_hostile_values(path: Path) -> str:
    return read_logbook(path).replace("CHANGED AND NOT TOLD", "read")


def read_view(path: Path) -> str:
    view = load_view(path)
    view.locate([[600.0, 500.0], [0.0, 0.0], [1e6, -1e6]])
    view.expected_error_m()
    view_to_text(view)
    return "read"


def read_landmarks(path: Path) -> str:
    sheet = read_marks(path)
    fit = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces)
    fit.view.expected_error_m()
    return "read"


def read_marks_table(path: Path) -> str:
    view_path = path.parent / "view.json"
    view, clip = load_view(view_path), open_clip(SAMPLE.clip)
    text = view_path.read_text(encoding="utf-8")
    with Logbook.open(path) as book:
        import_marks(book, path.parent / "marks.csv", clip, view, text, "Hostile", "2026-03-02", from_film=False)
        return "CHECK COMPLAINS" if book.check() else "read"


def read_pack(path: Path) -> str:
    """Unpack as the window does; what is refused leaves nothing behind."""
    house = path.with_name("house")
    try:
        with Logbook.open(unpack(path, house).logbook) as book:
            return "unchanged" if kept_records(book) == path.with_name("truth").read_bytes() else "CHANGED"
    except UserError:
        left = [one.name for one in path.parent.iterdir() if "house" in one.name]
        if left:
            return f"LEFT BEHIND {left}".upper()
        raise


def read_worth(path: Path) -> str:
    ServeWorth.read(path)
    return "read"


KINDS: dict[str, tuple[Case, Reader]] = {
    "logbook bytes": (damaged_bytes, read_logbook),
    "logbook values": (hostile_values, read_hostile_values),
    "logbook schema": (hostile_schema, read_hostile_values),
    "settings, documents": (hostile_settings, read_hostile_values),
    "VIEW.json": (json_case("view.json"), read_view),
    "MARKS.json": (json_case("marks.json"), read_landmarks),
    "MARKS.csv": (hostile_table, read_marks_table),
    "packed logbook": (damaged_pack, read_pack),
    "worth JSON": (json_case("worth.json"), read_worth),
}


def read_apart(kind: str, seed: int, seeds: Path, spoilt: bool = True) -> Answer:
    """Spoil a copy of all inputs, or none of them, and read it in a process of its own."""
    spoil, read = KINDS[kind]
    folder = Path(tempfile.mkdtemp(suffix=str(seed)))
    shutil.copytree(seeds, folder, dirs_exist_ok=True)
    place = spoil(random.Random(seed), folder / "team.logbook")
    if not spoilt:
        shutil.copytree(seeds, folder, dirs_exist_ok=True)
    pipe_out, pipe_in = os.pipe()
    start_s = time.perf_counter()
    child = os.fork()
    if child == 0:
        signal.setitimer(signal.ITIMER_REAL, LONGEST_S)
        os.write(pipe_in, json.dumps(_answer_of(read, place)).encode())
        os._exit(0)
    os.close(pipe_in)
    select.select([pipe_out], [], [])
    told = os.read(pipe_out, 60_000)
    os.close(pipe_out)
    _, status, used = os.wait4(child, 0)
    shutil.rmtree(folder)
    seconds = time.perf_counter() - start_s
    outcome, words = json.loads(told) if told else ("HANG" if seconds > LONGEST_S else "CRASH", f"status {status}")
    return Answer(kind, seed, outcome, words, seconds, used.ru_maxrss / 1024)


def _answer_of(read: Reader, place: Path) -> tuple[str, str]:
    devnull = os.open(os.devnull, os.O_WRONLY)
    os.dup2(devnull, 2)
    try:
        return read(place), ""
    except UserError as error:
        one_line = len(str(error).splitlines()) == 1
        return ("refused", str(error)[:300]) if one_line else ("NOT ONE LINE", str(error)[:300])
    except BaseException:  # noqa: BLE001
        return "BUG", traceback.format_exc()[-4000:]


def preload(path: Path) -> None:
    """Import once what the readers need, so that each of the processes begins with it."""
    with tempfile.TemporaryDirectory() as name, Logbook.open(path) as book:
        for ending in (".csv", ".xlsx"):
            write_table(serve_table(book), Path(name) / f"all{ending}")
        write_report(book, Path(name), parts=("team sheet", "server pages"))


def main(count: int, kinds: Sequence[str]) -> None:
    with tempfile.TemporaryDirectory() as name:
        seeds = Path(name)
        path = base_logbook(seeds)
        with Logbook.open(path) as book:
            pack(book, seeds / "pack.zip")
            (seeds / "truth").write_bytes(kept_records(book))
        sheet = read_marks(SAMPLE.landmarks)
        view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view
        (seeds / "view.json").write_text(view_to_text(view), encoding="utf-8")
        preload(path)
        shutil.copy(SAMPLE.landmarks, seeds / "marks.json")
        shutil.copy(SAMPLE.serves, seeds / "marks.csv")
        (seeds / "worth.json").write_text('{"net": -1, "long": -1, "wide": -1, "places": {"deep 1": 2}}')
        whole = {kind: read_apart(kind, 0, seeds, spoilt=False) for kind in kinds}
        print({answer.outcome for answer in whole.values()}, f"{max(a.memory_mb for a in whole.values()):.0f} MB")
        answers: list[Answer] = []
        for kind in kinds:
            found = [read_apart(kind, seed, seeds) for seed in range(1, count + 1)]
            answers += found
            outcomes = Counter(answer.outcome for answer in found).most_common()
            slowest, largest = max(found, key=lambda a: a.seconds), max(found, key=lambda a: a.memory_mb)
            print(f"{kind:<20} {len(found):5}: " + ", ".join(f"{number} {outcome}" for outcome, number in outcomes))
            most = f"most memory {largest.memory_mb:.0f} MB (seed {largest.seed})"
            print(f"{'':<20} slowest {slowest.seconds:.1f} s (seed {slowest.seed}), {most}", flush=True)
        wrong = [answer for answer in answers if answer.outcome.isupper()]
        for words, number in Counter(f"{a.kind}: {a.outcome}\n{a.words}" for a in wrong).most_common(12):
            print(f"\n{number} x {words}")
        named = ", ".join(f"{answer.kind} {answer.seed} {answer.outcome}" for answer in wrong[:40])
        print(f"\nseeds: {named or 'none, nothing is wrong'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 250, sys.argv[2:] or list(KINDS))

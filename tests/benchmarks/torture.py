"""Films damaged at random: bytes flipped, cut and spliced. No crash, no hang, times right, damage found.

Run with `python tests/benchmarks/torture.py [--files N] [--seed S]`. Each batch runs in a process of its own, so that a
crash of the decoding library is counted and does not end the run.
"""

from __future__ import annotations

import argparse
import json
import random
import runpy
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.frames import FrameReader

drawing = runpy.run_path(str(Path(__file__).resolve().parents[1] / "video" / "conftest.py"))
make_clip, read_number = drawing["make_clip"], drawing["read_number"]
BATCH, LONGEST_S, FRAMES = 25, 10.0, 60
SAME_TIME_S, MOVED_SHARE = 0.0011, 0.9
UNCERTAIN = "or an earlier one"
X264 = {"x264-params": "keyint=15:min-keyint=15:scenecut=0:bframes=2"}
X265 = {"x265-params": "log-level=none:keyint=15:min-keyint=15"}
FILMS: dict[str, dict[str, Any]] = {
    "h264.mp4": {"options": X264, "b_frames": 2, "sound": True},
    "h264.mkv": {"options": X264, "b_frames": 2},
    "index first.mp4": {"options": X264, "b_frames": 2, "container": {"movflags": "faststart"}},
    "hevc.mp4": {"codec": "libx265", "options": X265, "b_frames": 2},
    "camcorder.ts": {"options": X264, "b_frames": 2},
    "vp9.webm": {"codec": "libvpx-vp9"},
}


def make_films(folder: Path) -> None:
    """The whole films that are damaged afterwards."""
    for name, recipe in FILMS.items():
        make_clip(folder / name, FRAMES, group=15, **recipe)


def damage(content: bytes, other: bytes, rng: random.Random) -> bytes:
    """The bytes with one kind of damage."""
    kind = rng.choice(("flip", "flip", "zero", "cut", "splice", "lose"))
    spoilt = bytearray(content)
    at = rng.randrange(len(spoilt))
    length = min(rng.choice((1, 16, 188, 2048)), len(spoilt) - at)
    if kind == "flip":
        for _ in range(rng.choice((1, 3, 30))):
            spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
    elif kind == "zero":
        spoilt[at : at + length] = bytes(length)
    elif kind == "cut":
        del spoilt[at:]
    elif kind == "splice":
        start = rng.randrange(len(other))
        spoilt[at : at + length] = other[start : start + length]
    else:
        del spoilt[at : at + length]
    return bytes(spoilt)


@dataclass(frozen=True)
class Whole:
    """What the whole film shows: (N,) times [s] and the picture at each."""

    times_s: Any
    pictures: list[Any]

    def at(self, time_s: float) -> int | None:
        """The frame at a time, None where the film has none."""
        nearest = int(np.abs(self.times_s - time_s).argmin())
        return nearest if abs(self.times_s[nearest] - time_s) < SAME_TIME_S else None

    def same_picture(self, picture: Any) -> list[int]:
        """The frames that look exactly so."""
        return [
            k for k, true in enumerate(self.pictures) if true.shape == picture.shape and np.array_equal(true, picture)
        ]


def whole_film(path: Path) -> Whole:
    """Everything a whole film shows."""
    clip = open_clip(path)
    assert not clip.warnings, clip.warnings
    with FrameReader(clip) as reader:
        return Whole(clip.starts_s + clip.times_s, [reader.frame(i) for i in range(clip.frame_count)])


def look(path: Path, whole: Whole) -> Counter[str]:
    """What came of one damaged file."""
    seen: Counter[str] = Counter()
    try:
        clip = open_clip(path)
    except UserError:
        return Counter({"refused with a sentence": 1})
    seen["opened"] += 1
    stretches = (*clip.damaged, *scan_damage(clip))
    marked = {i for stretch in stretches for i in range(stretch.first, stretch.last + 1)}
    pictures: dict[int, Any] = {}
    with FrameReader(clip) as reader:
        for i in range(clip.frame_count):
            try:
                pictures[i] = reader.frame(i)
            except UserError:
                seen["frames refused"] += 1
                seen["frames refused outside marked stretches"] += i not in marked
    seen["frames shown"] += len(pictures)
    alike = {i: whole.same_picture(picture) for i, picture in pictures.items()}
    times_s = clip.starts_s + clip.times_s
    moved_s = moved_altogether_s(times_s, {i: found for i, found in alike.items() if i not in marked}, whole)
    seen["files that start at another time, all gaps right"] += bool(moved_s)
    wrong = set()
    for i, picture in pictures.items():
        true = whole.at(times_s[i] - moved_s)
        if true is None or (alike[i] and true not in alike[i]):
            wrong.add(i)
            continue
        if true in alike[i]:
            seen["whole frames in marked stretches"] += i in marked
            continue
        seen["frames altered"] += 1
        seen["frames altered outside marked stretches"] += i not in marked
        other = i not in marked and _other(picture, whole.pictures[true])
        seen["frames of another time outside marked stretches"] += other
    said = any(UNCERTAIN in warning for warning in clip.warnings)
    seen["frames at wrong times"] += len(wrong)
    seen["frames at wrong times, a sentence says so"] += len(wrong) if said else 0
    seen["frames at wrong times, only marked"] += 0 if said else len(wrong & marked)
    seen["frames at wrong times without a word"] += 0 if said else len(wrong - marked)
    seen["files whose times are called uncertain"] += said
    seen["files whose times are called uncertain, none of them wrong"] += said and not wrong
    return seen


def moved_altogether_s(times_s: Any, alike: dict[int, list[int]], whole: Whole) -> float:
    """By how much nearly all frames come later, as in a film whose edit list is lost; 0 where they do not agree."""
    late_s = [round(float(times_s[i] - whole.times_s[found[0]]), 3) for i, found in alike.items() if len(found) == 1]
    common_s, count = Counter(late_s).most_common(1)[0] if late_s else (0.0, 0)
    return common_s if abs(common_s) > SAME_TIME_S and count > MOVED_SHARE * len(late_s) else 0.0


def _other(picture: Any, truth: Any) -> bool:
    try:
        return bool(read_number(picture) != read_number(truth))
    except (AssertionError, IndexError):
        return False


def batch(folder: Path, first: int, count: int, seed: int) -> None:
    """Damage and look at some files; prints one line of JSON for each as it is done."""
    contents = {name: (folder / name).read_bytes() for name in FILMS}
    truths: dict[str, Whole] = {}
    for number in range(first, first + count):
        rng = random.Random(f"{seed} {number}")
        name, other = rng.choice(list(FILMS)), rng.choice(list(FILMS))
        if name not in truths:
            truths[name] = whole_film(folder / name)
        path = folder / f"{number} {name}"
        path.write_bytes(damage(contents[name], contents[other], rng))
        start = time.perf_counter()
        seen = look(path, truths[name])
        spent_s = time.perf_counter() - start
        seen["slower than 10 s"] += spent_s > LONGEST_S
        print(json.dumps({"number": number, "name": name, "spent_s": spent_s, "seen": seen}), flush=True)
        path.unlink()


def run(folder: Path, files: int, seed: int, say: Callable[[str], object]) -> Counter[str]:
    """All batches; what a crashed or hanging one leaves undone goes on in the next."""
    total: Counter[str] = Counter()
    by_film: dict[str, Counter[str]] = {name: Counter() for name in FILMS}
    number, slowest_s = 0, 0.0
    while number < files:
        count = min(BATCH, files - number)
        command = [sys.executable, __file__, "--batch", str(folder), str(number), str(count), "--seed", str(seed)]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_S * count, check=False)
            output, code, errors = done.stdout, done.returncode, done.stderr
        except subprocess.TimeoutExpired as late:
            output, code, errors = (late.stdout or b"").decode(), None, "took too long"
        lines = [json.loads(line) for line in output.splitlines() if line.endswith("}")]
        for line in lines:
            total.update(line["seen"])
            by_film[line["name"]].update(line["seen"])
            slowest_s = max(slowest_s, line["spent_s"])
            silent = line["seen"].get("frames at wrong times without a word", 0)
            if silent:
                say(f"file {line['number']} {line['name']}: {silent} frames at wrong times without a word")
        number += len(lines)
        total["files"] += len(lines)
        if len(lines) < count:
            say(f"file {number} ended its process: {code} {errors[-400:]}")
            total["crashes or hangs"] += 1
            total["files"] += 1
            number += 1
    say(f"slowest file {slowest_s:.1f} s")
    for name, seen in by_film.items():
        altered, unmarked = seen["frames altered"], seen["frames altered outside marked stretches"]
        say(f"  {name:16} {altered:6} pictures altered, {unmarked:6} of them outside marked stretches")
    return total


def main() -> None:
    """Print what came of the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", nargs=3, metavar=("FOLDER", "FIRST", "COUNT"))
    chosen = parser.parse_args()
    if chosen.batch:
        batch(Path(chosen.batch[0]), int(chosen.batch[1]), int(chosen.batch[2]), chosen.seed)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_films(folder)
        total = run(folder, chosen.files, chosen.seed, print)
    for what, count in sorted(total.items()):
        print(f"{count:8} {what}")
    altered, unmarked = total["frames altered"], total["frames altered outside marked stretches"]
    print(f"{unmarked / max(altered, 1):.2%} of altered pictures lie outside the stretches marked as damaged")


if __name__ == "__main__":
    main()

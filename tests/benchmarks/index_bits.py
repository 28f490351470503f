"""Every bit of an MP4's boxes about times, turned over one at a time: who shows wrong times, and is it said?

Run with `python tests/benchmarks/index_bits.py`. A frame is known again by its place in the file; its time is wrong
where it differs from the whole film's by more than a millisecond, after what all frames have in common is taken off.
"""

from __future__ import annotations

import runpy
import struct
import tempfile
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip

torture = runpy.run_path(str(Path(__file__).with_name("torture.py")))
make_clip, times_are_doubted = torture["make_clip"], torture["times_are_doubted"]
WRONG_S, FRAMES = 0.001, 60
HOLDERS = (b"moov", b"trak", b"edts", b"mdia", b"minf", b"stbl")
OF_TIMES = (*HOLDERS, b"mvhd", b"tkhd", b"elst", b"mdhd", b"stts", b"ctts")
UNEVEN = np.cumsum([20 + (k % 7 == 3) * 20 + k % 3 for k in range(FRAMES)]).tolist()
FILMS: dict[str, dict[str, Any]] = {
    "even": {},
    "even, reordered": {"b_frames": 2, "sound": True},
    "240 frames a second": {"stamps": list(range(FRAMES)), "time_base": Fraction(1, 240)},
    "uneven": {"stamps": UNEVEN},
    "uneven, reordered": {"stamps": UNEVEN, "b_frames": 2},
}


def places(content: bytes, start: int, end: int) -> Iterator[tuple[bytes, range]]:
    """The bytes of each box about times, of the first track; of boxes that hold others only the head."""
    seen_track = False
    while start + 8 <= end:
        size, kind = struct.unpack_from(">I4s", content, start)
        second = kind == b"trak" and seen_track
        seen_track |= kind == b"trak"
        if kind in OF_TIMES and not second:
            yield kind, range(start, start + (8 if kind in HOLDERS else size))
        if kind in HOLDERS and not second:
            yield from places(content, start + 8, start + size)
        start += size


def times_by_place(path: Path) -> dict[int, float]:
    """When the frame whose packet begins there is shown [s]."""
    found: dict[int, float] = {}
    with av.open(str(path)) as container:
        try:
            for packet in container.demux(video=0):
                if packet.size and packet.pts is not None and packet.pos is not None and not packet.is_discard:
                    found[packet.pos] = float(packet.pts * packet.time_base)
        except av.FFmpegError:
            pass
    return found


def outcome(path: Path, true_s: dict[int, float]) -> tuple[str, float]:
    """What came of one file, and by how much the worst time is wrong [s]."""
    try:
        clip = open_clip(path)
    except UserError:
        return "refused", 0.0
    shown_s = times_by_place(path)
    late_s = np.array([shown_s[place] - true_s[place] for place in shown_s.keys() & true_s.keys()])
    worst_s = float(np.abs(late_s - np.median(late_s)).max()) if len(late_s) else 0.0
    said = times_are_doubted(clip)
    return f"{'wrong' if worst_s > WRONG_S else 'right'}, {'doubted' if said else 'not a word'}", worst_s


def main() -> None:
    """Print a table for each film."""
    av.logging.set_level(av.logging.PANIC)
    with tempfile.TemporaryDirectory() as name:
        for film, recipe in FILMS.items():
            whole = make_clip(Path(name) / "whole.mp4", FRAMES, **recipe)
            content, true_s, spoilt = whole.read_bytes(), times_by_place(whole), Path(name) / "spoilt.mp4"
            seen: Counter[tuple[str, str]] = Counter()
            silent_s: list[float] = []
            for kind, span in places(content, 0, len(content)):
                for at in span:
                    for bit in range(8):
                        spoilt.write_bytes(content[:at] + bytes([content[at] ^ 1 << bit]) + content[at + 1 :])
                        what, worst_s = outcome(spoilt, true_s)
                        seen[kind.decode(), what] += 1
                        silent_s += [worst_s] if what == "wrong, not a word" else []
            worst_ms = 1000 * max(silent_s, default=0.0)
            print(f"{film}: {sum(seen.values())} bits, wrong without a word by at most {worst_ms:.1f} ms")
            for (box, what), count in sorted(seen.items()):
                print(f"{count:8} {box} {what}")


if __name__ == "__main__":
    main()

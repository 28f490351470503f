"""The search for damage in a process of its own: it gives way to everything else, and cannot end the window.

Decoding libraries are at their worst on damaged film, and what they complain of is heard from all threads of a
process; so neither their crashes nor the window's own decoding meet the search. It prints how far it is, a number of
thousandths a line, and at last the frame ranges as a list.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.clip_warnings import FrameRange
from serve_marker.video.damage import scan_damage

BEAT_S = 0.2
GIVES_WAY = 15


def search_command(path: Path, table_path: Path | None) -> list[str]:
    """The program and its words that search the clip at `path`; its times come from `table_path` where kept."""
    return [sys.executable, "-m", __name__, str(path), *([str(table_path)] if table_path else [])]


def read_search_line(line: str) -> int | tuple[FrameRange, ...]:
    """What a line of the search says: thousandths done, or the frame ranges found.

    Examples
    --------
    >>> read_search_line("250"), read_search_line('[[3, 5, "frames are lost"]]')
    (250, (FrameRange(first=3, last=5, why='frames are lost'),))
    """
    said = json.loads(line)
    return said if isinstance(said, int) else tuple(FrameRange(*parts) for parts in said)


def search_named_clip() -> None:
    """Search the clip named by the command line."""
    if hasattr(os, "nice"):
        os.nice(GIVES_WAY)
    path, *table_path = map(Path, sys.argv[1:])
    part, printed_s = 0, 0.0

    def reach(done: int, _of: int) -> None:
        nonlocal part
        part = done

    def beat() -> bool:
        nonlocal printed_s
        if time.monotonic() > printed_s + BEAT_S:
            printed_s = time.monotonic()
            print_line(part)
        return False

    try:
        clip = open_clip(path, cancelled=beat, table_path=next(iter(table_path), None))
        found = scan_damage(clip, reach, beat)
    except UserError as error:
        sys.exit(str(error))
    print_line([(one.first, one.last, one.why) for one in found])


def print_line(what: int | list[tuple[int, int, str]]) -> None:
    """One line for the process that asked; where that one has gone, writing ends this one too."""
    sys.stdout.write(f"{json.dumps(what)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    search_named_clip()

"""The search for damage in a process of its own: it gives way to everything else, and cannot end the window.

Decoding libraries are at their worst on damaged film, and what they complain of is heard from all threads of a
process; so neither their crashes nor the window's own decoding meet the search. It tells how far it is, a number of
thousandths a line, and at last the stretches as a list.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.sentences import FrameRange

BEAT_S = 0.2
GIVES_WAY = 15


def search_command(path: Path, table_path: Path | None) -> list[str]:
    """The program and its words that search the clip at `path`; its times come from `table_path` where kept."""
    return [sys.executable, "-m", __name__, str(path), *([str(table_path)] if table_path else [])]


def told_by_search(line: str) -> int | tuple[FrameRange, ...]:
    """What a line of the search says: thousandths done, or the stretches found.

    Examples
    --------
    >>> told_by_search("250"), told_by_search('[[3, 5, "frames are lost"]]')
    (250, (FrameRange(first=3, last=5, why='frames are lost'),))
    """
    told = json.loads(line)
    return told if isinstance(told, int) else tuple(FrameRange(*stretch) for stretch in told)


def search_named_clip() -> None:
    """Search the clip named by the command line."""
    if hasattr(os, "nice"):
        os.nice(GIVES_WAY)
    path, *table_path = map(Path, sys.argv[1:])
    part, told_s = 0, 0.0

    def reach(done: int, _of: int) -> None:
        nonlocal part
        part = done

    def beat() -> bool:
        nonlocal told_s
        if time.monotonic() > told_s + BEAT_S:
            told_s = time.monotonic()
            tell(part)
        return False

    try:
        clip = open_clip(path, cancelled=beat, table_path=next(iter(table_path), None))
        found = scan_damage(clip, reach, beat)
    except UserError as error:
        sys.exit(str(error))
    tell([(stretch.first, stretch.last, stretch.why) for stretch in found])


def tell(what: int | list[tuple[int, int, str]]) -> None:
    """One line for the process that asked; where that one has gone, writing ends this one too."""
    sys.stdout.write(f"{json.dumps(what)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    search_named_clip()

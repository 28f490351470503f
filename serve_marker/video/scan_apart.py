"""The search for damage in a process of its own: it gives way to everything else, and cannot end the window.

Decoding libraries are at their worst on damaged film, and what they complain of is heard from all threads of a
process; so neither their crashes nor the window's own decoding meet the search.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.progress import PARTS, Cancelled, Progress, Stopped
from serve_marker.video.sentences import Stretch

BEAT_S = 0.2
GIVES_WAY = 15


def scan_apart(path: Path, table_path: Path | None, progress: Progress, cancelled: Cancelled) -> tuple[Stretch, ...]:
    """The damaged stretches of the clip at `path`, as `scan_damage`; its times come from `table_path` where kept.

    Raises
    ------
    UserError
        If the clip cannot be read to its end of the search.
    Stopped
        If `cancelled` says so.
    """
    command = [sys.executable, "-m", __spec__.name, str(path), *([str(table_path)] if table_path else [])]
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True) as search:
        try:
            for line in search.stdout or ():
                if cancelled():
                    raise Stopped
                told = json.loads(line)
                if isinstance(told, list):
                    return tuple(Stretch(*stretch) for stretch in told)
                progress(told, PARTS)
        finally:
            search.kill()
    raise UserError(f"{path.name} could not be searched for damage.")


def main() -> None:
    """Search the clip named, telling progress (a number a line) and then the stretches (a list)."""
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
    """One line for the process that asked."""
    sys.stdout.write(f"{json.dumps(what)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()

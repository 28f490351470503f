"""Which sockets the program opens while it works, by strace: window, demo, merge, export, sheets, stills, packs.

Told are the families of all sockets of each job and of the processes it begins; AF_INET, AF_INET6 or any other of a
network ends with an error. That the tracer sees such a socket is shown first.

Run: python3 -m tests.benchmarks.no_network [the window's stories to play, those of merging and moving if none is said]
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

STORIES = ("tests/desktop/test_merge_story.py", "tests/desktop/test_moving_story.py")
ON_THIS_COMPUTER = {"AF_UNIX"}
_FAMILY = re.compile(r"\bsocket(?:pair)?\((AF_\w+|0x[0-9a-f]+|\d+)")


def families(command: list[str], cwd: Path) -> Counter[str]:
    """Return the families of the sockets that a command and its children asked for."""
    with tempfile.TemporaryDirectory() as name:
        traces = Path(name) / "trace"
        traced = ["strace", "-f", "-ff", "-qq", "-e", "trace=socket,socketpair", "-o", str(traces), *command]
        done = subprocess.run(traced, cwd=cwd, capture_output=True, text=True, check=False)
        if done.returncode:
            raise SystemExit(f"{' '.join(command)} ended with {done.returncode}: {(done.stdout + done.stderr)[-800:]}")
        texts = [file.read_text(encoding="utf-8", errors="replace") for file in Path(name).iterdir()]
    return Counter(family for text in texts for family in _FAMILY.findall(text))


def main(stories: list[str]) -> None:
    root = Path(__file__).resolve().parents[2]
    opened = "import socket; socket.socket(socket.AF_INET); socket.socket(socket.AF_INET6)"
    seen = families([sys.executable, "-c", opened], root)
    assert set(seen) >= {"AF_INET", "AF_INET6"}, f"the tracer sees no sockets: {seen}"
    folder = Path(tempfile.mkdtemp())
    command = str(Path(sys.executable).with_name("serve-marker"))
    book, copy = str(folder / "demo" / "tidewater.logbook"), str(folder / "house" / "tidewater.logbook")
    jobs = {
        "demo, with the window drawn": [command, "demo", "-o", str(folder / "demo")],
        "load": [command, "logbook", "load", book],
        "pack": [command, "logbook", "pack", book, "-o", str(folder / "move.zip")],
        "unpack": [command, "logbook", "unpack", str(folder / "move.zip"), "-o", str(folder / "house")],
        "merge": [command, "logbook", "merge", book, copy, "-o", str(folder / "both.logbook")],
        **{f"export {kind}": [command, "export", book, "-o", str(folder / f"all{kind}")] for kind in (".csv", ".xlsx")},
        **{Path(story).stem: [sys.executable, "-m", "pytest", "-n0", "-q", story] for story in stories},
    }
    networked = []
    for name, job in jobs.items():
        found = families(job, root)
        print(f"{name:<32}{dict(found) or 'no socket'}", flush=True)
        networked += [name] if set(found) - ON_THIS_COMPUTER else []
    shutil.rmtree(folder)
    if networked:
        raise SystemExit(f"Sockets of a network: {', '.join(networked)}")


if __name__ == "__main__":
    main(sys.argv[1:] or list(STORIES))

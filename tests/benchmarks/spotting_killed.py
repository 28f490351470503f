"""A long film, the command killed and begun again: are the same serves found, and how long does a long film take?

Run from the project's folder with `python -m tests.benchmarks.spotting_killed [--clip CLIP.mp4] [--times N]
[--kills N]`. The film is a clip joined to itself without encoding; the command runs once undisturbed, then is killed
(SIGKILL) at random moments and begun again until it is through. Serves are the same where all their figures are.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from subprocess import DEVNULL
from typing import Any

import av
import numpy as np

from serve_marker.camera.view.viewfile import save_view
from serve_marker.cli_proposals import part_file
from serve_marker.video.clip import open_clip
from tests.benchmarks.spotting import bare_decoding, timed
from tests.spotting.films import GALLERY, SAMPLES, gallery_view

PAUSE_S = 0.5


def joined(source: Path, times: int, path: Path) -> Path:
    """A clip so many times in a row, not encoded anew."""
    with av.open(str(path), "w") as target:
        begin = 0
        stream = None
        for _ in range(times):
            with av.open(str(source)) as film:
                shown = film.streams.video[0]
                stream = stream or target.add_stream_from_template(shown)
                last = begin
                for packet in film.demux(shown):
                    if packet.pts is not None and packet.dts is not None:
                        packet.pts, packet.dts = packet.pts + begin, packet.dts + begin
                        last = max(last, packet.pts + (packet.duration or 1))
                        packet.stream = stream
                        target.mux(packet)
                begin = last + round(PAUSE_S / shown.time_base) if shown.time_base else last
    return path


def command(clip: Path, view: Path, out: Path) -> Sequence[str]:
    return (sys.executable, "-m", "serve_marker", "spot", str(clip), "--view", str(view), "-o", str(out))


def run_killed(told: Sequence[str], out: Path, moments_s: Sequence[float]) -> tuple[int, int]:
    """Run a command, killed after each moment; returns how often it was killed, and what was kept then went on."""
    killed = went_on = 0
    for moment_s in moments_s:
        with subprocess.Popen(told, stdout=DEVNULL, stderr=DEVNULL) as running:
            try:
                running.wait(moment_s)
            except subprocess.TimeoutExpired:
                running.kill()
                killed, went_on = killed + 1, went_on + part_file(out).exists()
    subprocess.run(told, stdout=DEVNULL, stderr=DEVNULL, check=True)
    return killed, went_on


def serves_of(path: Path) -> list[Any]:
    found: list[Any] = json.loads(path.read_text(encoding="utf-8"))["serves"]
    return found


def main() -> None:
    """Print what was found both ways, and the times."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--clip", type=Path, default=SAMPLES / f"{GALLERY}.mp4")
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--kills", type=int, default=6)
    asked = parser.parse_args()
    rng = np.random.default_rng(3)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        film, view, whole, broken = (folder / one for one in ("long.mp4", "view.json", "whole.json", "broken.json"))
        joined(asked.clip, asked.times, film)
        save_view(gallery_view(), view)
        clip = open_clip(film)
        started = time.perf_counter()
        subprocess.run(command(film, view, whole), stdout=DEVNULL, stderr=DEVNULL, check=True)
        took_s = time.perf_counter() - started
        _, _, bare_s = timed(lambda: bare_decoding(clip))
        print(f"{clip.duration_s:.0f} s of film, {len(serves_of(whole))} serves: {took_s:.0f} s on the wall", end=", ")
        print(f"{took_s / bare_s:.1f} times bare decoding ({bare_s:.0f} s)", flush=True)
        moments_s = rng.uniform(0.1, 0.9, asked.kills) * took_s
        killed, went_on = run_killed(command(film, view, broken), broken, moments_s)
        same = serves_of(whole) == serves_of(broken)
        print(f"killed {killed} times, {went_on} with something kept: the same serves: {same}")


if __name__ == "__main__":
    main()

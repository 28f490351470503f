"""What an excerpt of fifty serves of a film of 1080p60 takes, beside plain re-encoding of the same frames.

Run with `python tests/benchmarks/excerpts.py`. It makes its film once, the sample clip winter-stand enlarged and
repeated, and keeps it in the folder for temporary files. CPU seconds count all threads of this process; on two cores at
rest the wall clock is what matters.
"""

from __future__ import annotations

import csv
import json
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import read_marks, view_to_text
from serve_marker.desktop.app import offscreen_app
from serve_marker.desktop.share.excerpts import chosen_serves, write_excerpts
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.report.excerpt_plan import moments_of
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

SAMPLE = Path(__file__).resolve().parents[2] / "sample_clips" / "winter-stand"
FOLDER = Path(tempfile.gettempdir()) / "serve-marker-benchmarks"
LARGER, TIMES, SERVES = 1.5, 5, 50
SIZE_PX = (1920, 1080)


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    film = FOLDER / "fifty-serves.mp4"
    if not film.exists():
        make_film(film)
    offscreen_app()
    with tempfile.TemporaryDirectory() as folder, Logbook.create(Path(folder) / "fifty.logbook") as book:
        book.clip_folders.add(FOLDER)
        fill(book, film, Path(folder))
        serves = chosen_serves(book)[: int(sys.argv[1]) if len(sys.argv) > 1 else SERVES]
        clip = open_clip(film)
        spans_s = [moments.span_s for serve in serves if (moments := moments_of(serve)) is not None]
        frames = [n for from_s, to_s in spans_s for n in range(clip.frame_at(from_s), clip.frame_at(to_s) + 1)]
        source_s = sum(to_s - from_s for from_s, to_s in spans_s)
        print(f"{len(serves)} serves, {source_s:.0f} s of film, {len(frames)} frames of {clip.width} x {clip.height}")
        drawn, copied, plain = (Path(folder) / f"{name}.mp4" for name in ("drawn", "copied", "plain"))
        timed("with overlay", drawn, source_s, lambda: write_excerpts(book, drawn, serves))
        timed("plain re-encoding", plain, source_s, lambda: encode(film, frames, plain))
        timed("copied", copied, source_s, lambda: write_excerpts(book, copied, serves, overlay=False))


def timed(what: str, path: Path, source_s: float, work: Callable[[], object]) -> None:
    started_s, cpu_s = time.monotonic(), cpu()
    work()
    wall_s, used_s = time.monotonic() - started_s, cpu() - cpu_s
    with av.open(str(path)) as made:
        shown_s = float(made.duration or 0) / 1e6
    print(
        f"{what}: {wall_s:.0f} s wall ({wall_s / source_s:.2f} of the film's), {used_s:.0f} s CPU "
        f"({used_s / source_s:.2f} of the film's, two cores have 2); {shown_s:.0f} s shown, "
        f"{path.stat().st_size / 1e6:.1f} MB"
    )


def cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def encode(film: Path, frames: list[int], path: Path) -> None:
    """Decode and encode the same frames with the same settings, nothing drawn."""
    with FrameReader(open_clip(film)) as reader, av.open(str(path), "w") as target:
        stream = target.add_stream("libx264", rate=60)
        stream.width, stream.height, stream.pix_fmt = *SIZE_PX, "yuv420p"
        stream.options = {"preset": "veryfast", "crf": "21"}
        for place, number in enumerate(frames):
            frame = reader._decoded(number)
            frame.pts, frame.time_base, frame.pict_type = place, Fraction(1, 60), 0
            target.mux(stream.encode(frame))
        target.mux(stream.encode())


def make_film(path: Path) -> None:
    """The sample enlarged and repeated; each frame keeps its own time."""
    clip = open_clip(SAMPLE.with_suffix(".mp4"))
    base = Fraction(1, 90_000)
    with av.open(str(path), "w") as target:
        stream = target.add_stream("libx264", rate=60)
        stream.width, stream.height, stream.pix_fmt = *SIZE_PX, "yuv420p"
        stream.options = {"preset": "veryfast", "crf": "20"}
        stream.codec_context.time_base = base
        stream.codec_context.gop_size = 60
        for time_over in range(TIMES):
            with FrameReader(clip) as reader:
                for number, time_s in enumerate(clip.times_s):
                    frame = reader._decoded(number).reformat(*SIZE_PX, "yuv420p")
                    frame.pts, frame.time_base = round((time_over * clip.duration_s + time_s) / base), base
                    frame.pict_type = 0
                    target.mux(stream.encode(frame))
        target.mux(stream.encode())


def fill(book: Logbook, film: Path, folder: Path) -> None:
    """Read the sample's marks in, as many times as its film is there, with pixels and frames of the larger one."""
    given = json.loads(SAMPLE.with_suffix(".marks.json").read_text(encoding="utf-8"))
    given["image_size"] = list(SIZE_PX)
    for marks in given["marks"].values():
        marks[:] = [LARGER * value for value in marks]
    (folder / "marks.json").write_text(json.dumps({**given, "traces": {}}), encoding="utf-8")
    sheet = read_marks(folder / "marks.json")
    view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m).view
    frames = open_clip(SAMPLE.with_suffix(".mp4")).frame_count
    with SAMPLE.with_suffix(".marks.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    with (folder / "marks.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        for time_over in range(TIMES):
            writer.writerows(moved(row, time_over * frames) for row in rows)
    import_marks(book, folder / "marks.csv", open_clip(film), view, view_to_text(view), from_film=False)


def moved(row: dict[str, str], frames: int) -> dict[str, str]:
    changed = {name: str(int(cell) + frames) for name, cell in row.items() if name.endswith("_frame") and cell}
    return row | changed | {name: str(LARGER * float(cell)) for name, cell in row.items() if "_px" in name and cell}


if __name__ == "__main__":
    main()

"""Is a view's place recognised when people, light and the camera's turn have changed, and never another place for it?

Run from the project's folder with `python -m tests.benchmarks.places [--clips FOLDER] [--frames N]`. Views of six films
are held against frames of all of them at gamma 0.7, 1 and 1.4, with the picture kept with the view and without it, and
against rendered pictures of one hall whose people are others and whose camera was put back a little off. A view is
wrong where it puts the court more than 2 px (in the middle) from the truth.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sample_clips.lens import Camera, looking
from sample_clips.render import Stage
from sample_clips.scenario import AUTUMN, WINTER
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.picture.feature_matching import Grey, background_of, grey_of
from serve_marker.camera.picture.moved_since_view import Recognition, recognise
from serve_marker.camera.picture.realign import ALIGN_SIDE_PX
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import read_marks
from serve_marker.court.dimensions import landmarks
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from tests.benchmarks.moved import SAMPLES, view_of
from tests.benchmarks.views import CLIPS, true_clips

GAMMAS = (0.7, 1.0, 1.4)
WRONG_PX = 2.0
PUT_BACK = (
    looking((0.8, -16.0, 4.5), -2.6, 17.0, 900.0),
    looking((0.82, -16.02, 4.5), -2.4, 17.2, 900.0),
    looking((0.75, -16.05, 4.52), -1.3, 16.6, 900.0),
    looking((0.9, -15.9, 4.45), -5.2, 18.3, 900.0),
)
"""The gallery's camera as it was, and put back 0.3, 1.4 and 2.9 degrees and up to 15 cm off."""


@dataclass(frozen=True, eq=False)
class Place:
    """A film from one place: its view, the picture kept with it, and later frames."""

    name: str
    view: View
    kept: Grey
    frames: list[Grey]


def lit(picture: Grey, gamma: float) -> Grey:
    """The picture under other light."""
    return np.asarray(np.round(255 * (picture / 255.0) ** gamma), dtype=np.uint8)


def place(name: str, path: Path, view: View, frames: int, until_s: float) -> Place:
    """A film's first second as the picture kept, and later frames of it while its camera stands still."""
    with FrameReader(open_clip(path)) as reader:

        def grey(time_s: float) -> Grey:
            return grey_of(reader.frame(reader.clip.frame_at(time_s)), ALIGN_SIDE_PX)

        last_s = min(until_s, float(reader.clip.times_s[-1]))
        kept = background_of([grey(time_s) for time_s in np.linspace(0, 1, 5)])
        return Place(name, view, kept, [grey(time_s) for time_s in np.linspace(3.0, last_s - 0.5, frames)])


def places(folder: Path, frames: int) -> Iterator[Place]:
    """The shared clips and the sample clips."""
    for clip in true_clips(folder):
        view = clip.fitted(clip.marks, clip.traces).view
        moved = clip.truth["segments"][1:]
        until_s = clip.truth["frame_times"][moved[0]["frames"][0]] if moved else np.inf
        yield place(clip.name, folder / clip.truth["file"], view, frames, until_s)
    for name in ("autumn-gallery", "winter-stand"):
        sheet = read_marks(SAMPLES / f"{name}.marks.json")
        view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view
        yield place(name, SAMPLES / f"{name}.mp4", view, frames, np.inf)


def verdict(found: Recognition, true_px: NDArray[np.float64] | None, view: View, still: bool) -> str:
    """One word for a recognition; ``true_px`` are the court's pixels, None for another place."""
    told = "with a warning" if found.warnings else "without a warning"
    if found.view is None:
        return "refused, rightly" if true_px is None else "refused, needlessly"
    if true_px is None:
        return f"taken for it {told}"
    floor = np.array([point[:2] for point in landmarks(view.court).values()])
    off_px = np.hypot(*(found.view.project(floor) - true_px).T)
    if np.nanmedian(off_px) > WRONG_PX:
        return f"wrong {told}"
    return "right, needless warning" if still and found.warnings else "right"


def true_pixels(view: View) -> NDArray[np.float64]:
    """The landmarks' pixels (N, 2) in a view that is true."""
    return view.project(np.array([point[:2] for point in landmarks(view.court).values()]))


def held_against_all(all_places: list[Place], with_picture: bool) -> dict[str, Counter[str]]:
    """Verdicts on all pairs of view and frame: of the same place, and of others."""
    counted: dict[str, Counter[str]] = {"same place": Counter(), "another place": Counter()}
    for stored in all_places:
        reference = stored.kept if with_picture else None
        for filmed in all_places:
            same = filmed is stored
            if filmed.view.image_size != stored.view.image_size:
                continue
            for frame in filmed.frames if same else filmed.frames[:1]:
                for gamma in GAMMAS:
                    found = recognise(stored.view, lit(frame, gamma), reference)
                    truth = true_pixels(stored.view) if same else None
                    word = verdict(found, truth, stored.view, still=True)
                    counted["same place" if same else "another place"][word] += 1
    return counted


def put_back() -> Counter[str]:
    """Verdicts on one hall weeks later: other people, other light through the windows, the camera a little off."""
    view = view_of(AUTUMN.camera)
    stage = Stage(AUTUMN)
    kept = background_of([grey_of(stage.frame(time_s), ALIGN_SIDE_PX) for time_s in np.linspace(0, 1, 3)])
    counted: Counter[str] = Counter()
    for camera in PUT_BACK:
        later = Stage(replace(WINTER, camera=camera))
        for time_s in (4.0, 13.0):
            picture = grey_of(later.frame(time_s), ALIGN_SIDE_PX)
            for gamma in GAMMAS:
                found = recognise(view, lit(picture, gamma), kept)
                counted[verdict(found, seen_by(camera, view), view, camera is PUT_BACK[0])] += 1
    return counted


def seen_by(camera: Camera, view: View) -> NDArray[np.float64]:
    """The landmarks' pixels (N, 2) before a camera."""
    return camera.project(np.array(list(landmarks(view.court).values())))


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser()
    options.add_argument("--clips", type=Path, default=CLIPS)
    options.add_argument("--frames", type=int, default=4)
    asked = options.parse_args()
    all_places = list(places(asked.clips, asked.frames))
    print(f"views of {', '.join(one.name for one in all_places)}")
    show("put back, people elsewhere", put_back())
    for with_picture in (True, False):
        how = "with the picture kept" if with_picture else "by the lines alone"
        for what, counted in held_against_all(all_places, with_picture).items():
            show(f"{what}, {how}", counted)


def show(what: str, counted: Counter[str]) -> None:
    """One line of the table."""
    total = sum(counted.values())
    print(f"{what:42}{total:5d}: " + ", ".join(f"{count} {word}" for word, count in counted.most_common()), flush=True)


if __name__ == "__main__":
    main()

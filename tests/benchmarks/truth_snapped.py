"""Views of landmarks that moved to the crossings of their lines: is what they state true, and how much narrower is it?

Simulated: clicks of the hand move to within what `tests/benchmarks/snap.py` leaves on the rendered clips, drawn from
its quantiles, wrong crossings among them; a click out of reach, or one in twenty within, stays. On the clips: the
snapping of the program itself on three of their pictures.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.picture.snap import snap_all
from serve_marker.camera.view.landmark_ways import SNAP_PX
from serve_marker.camera.view.view import Marks
from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from tests.benchmarks.truth_views import (
    COUNTS,
    HANDS_PX,
    INDOOR,
    NET_M,
    Camera,
    Cell,
    Mistake,
    clicked,
    honest,
    named_slip,
    of_clips,
    simulated,
)
from tests.benchmarks.views import CLIPS, TrueClip

FOUND_SHARE = 0.95
OFF_PX = (0.0, 0.20, 0.33, 0.67, 0.89, 1.27, 1.5, 5.0)
OFF_SHARES = (0.0, 0.5, 0.75, 0.9, 0.95, 0.98, 0.99, 1.0)
"""How far crossings lie from the landmark, and for which share of them at most."""
OTHER_LINES_SHARE = 0.1
"""Of clicks that have no landmark within reach, so many find the crossing of other lines."""
PICTURES = 3
SLIP_COUNTS = (5, 6)

Snap = Callable[[Camera, Marks, Marks, np.random.Generator], Marks]
"""Where clicks (second) of landmarks truly there (first) move to; those that stay are left out."""


@dataclass(frozen=True)
class Marking:
    """How the landmarks of a cell are marked: by the hand alone, or moved by ``snap``."""

    cameras: list[Camera]
    snap: Snap | None


def simulated_snap(_: Camera, true: Marks, clicks: Marks, rng: np.random.Generator) -> Marks:
    """Move clicks as the program does on the rendered clips."""
    moved = {}
    for name, click in clicks.items():
        off_px, turn = np.interp(rng.random(), OFF_SHARES, OFF_PX), rng.uniform(0, 2 * np.pi)
        place = np.array(true[name]) + off_px * np.array([np.cos(turn), np.sin(turn)])
        near, chance = float(np.hypot(*(place - click))) <= SNAP_PX, rng.random()
        if near and chance < FOUND_SHARE:
            moved[name] = (float(place[0]), float(place[1]))
        elif not near and chance < OTHER_LINES_SHARE:
            way, turn = SNAP_PX * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
            moved[name] = (float(click[0] + way * np.cos(turn)), float(click[1] + way * np.sin(turn)))
    return moved


def snap_on_clip(camera: Camera, _: Marks, clicks: Marks, rng: np.random.Generator) -> Marks:
    """Move clicks by one of the clip's pictures, as the window does."""
    pictures = pictures_of(camera.name)
    rough = fit_view(clicks, INDOOR, camera.size, NET_M).view
    found = snap_all(pictures[int(rng.integers(len(pictures)))], clicks, rough)
    return {name: one.after_px for name, one in found.items() if one is not None}


@cache
def pictures_of(name: str) -> list[NDArray[np.uint8]]:
    """Pictures of a clip while its camera stands where its truth begins."""
    (path,) = (path for path in CLIPS.glob(f"{name}.*") if path.suffix != ".json")
    with FrameReader(open_clip(path)) as reader:
        return [reader.frame(int(frame)) for frame in np.linspace(0, 60, PICTURES)]


def cell(how: Marking, mistake: Mistake, count: int, hand_px: float, draws: int, seed: int = 6) -> Cell:
    """Views of one hand and number of marks, each moved where ``how`` says."""
    rng, found = np.random.default_rng(seed), Cell.empty()
    for camera in how.cameras:
        for _ in range(draws):
            shown = camera.with_a_lens(rng)
            case, honest_case = mistake(camera, shown, count, False, rng), honest(camera, shown, count, False, rng)
            if case is None or honest_case is None:
                continue
            marked_so, is_told = case
            clicks = clicked(marked_so, hand_px, rng).marks
            try:
                moved = how.snap(camera, honest_case[0].marks, clicks, rng) if how.snap else {}
                fit = fit_view({**clicks, **moved}, INDOOR, camera.size, NET_M, clicked=clicks if how.snap else None)
            except UserError:
                found.refused += 1
                continue
            found.add(fit, camera, shown, hand_px, is_told(fit), rng)
    return found


def cells(clips: list[TrueClip]) -> Iterator[tuple[str, Marking]]:
    """What is shown: marks alone and snapped, simulated and on the clips."""
    on_clips = of_clips(clips)
    yield "simulated alone", Marking(simulated(), None)
    yield "simulated snapped", Marking(simulated(), simulated_snap)
    yield "clips simulated snap", Marking(on_clips, simulated_snap)
    yield "clips snapped", Marking(on_clips, snap_on_clip)


def show(clips: list[TrueClip], draws: int, only: str = "") -> None:
    """Print the table, ``only`` the rows whose name begins so."""
    for name, how in cells(clips):
        if not name.startswith(only):
            continue
        for count, hand_px in product(COUNTS, HANDS_PX):
            print(f"{name:22} {count} {hand_px:3.1f} px  {cell(how, honest, count, hand_px, draws).line()}", flush=True)
        for count in SLIP_COUNTS:
            print(f"{name:22} {count} slip    {cell(how, named_slip, count, 1.0, draws).line()}", flush=True)

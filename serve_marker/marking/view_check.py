"""Does a view hold for a clip, all through it? Bumps and sway found, the lines re-aligned where that can be done."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.feature_matching import (
    Features,
    Grey,
    background_of,
    corners_of,
    features_of,
    motion_between,
    slight_motion,
    trusted,
)
from serve_marker.camera.picture.moved_in_clip import Sighting, Stay, apart_px, place_of, steadiness_of, still_limit_px
from serve_marker.camera.picture.moved_since_view import Recognition, recognise
from serve_marker.camera.picture.realign import align, court_pixels, moved_view
from serve_marker.camera.view.homography import map_points
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.errors import UserError
from serve_marker.marking.view_reference import MOST_BACKGROUND_FRAMES, grey_at, refuse_other_shape, with_reference
from serve_marker.video.frame_times import clock
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Progress

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip


BEGINNING_S = 1.0
BEGINNING_FRAMES = 5
CLEAR_SHARE = 0.8
LOOK_EVERY_S = 2.0
MOST_LOOKS = 90
TIME_FOUND_S = 0.1
FAR_SHARE = 0.4
"""A court moved by more than this share of the picture is told too poorly to carry its lines over."""
MOST_RECOGNISED = 4
"""In so many segments from the beginning the view's place is looked for."""


@dataclass(frozen=True, eq=False)
class ClipSegment:
    """A part of a clip [s] in which the camera stood still, and the view that holds there.

    ``turned_deg`` and ``shifted_px`` are measured from the view as stored; ``background`` is what the camera saw
    there, people taken out; ``view`` is None where the lines could not be re-aligned.
    """

    from_s: float
    to_s: float
    turned_deg: float
    shifted_px: float
    view: View | None
    background: Grey


@dataclass(frozen=True, eq=False)
class ClipCheck:
    """Whether a clip was filmed from a view's place, its segments, and what to tell the coach."""

    same_place: bool
    segments: tuple[ClipSegment, ...]
    warnings: tuple[str, ...]


def check_clip(
    view: View, clip: Clip, reference: Grey | None = None, progress: Progress = lambda done, total: None
) -> ClipCheck:
    """Hold a view against a clip.

    Parameters
    ----------
    reference : the picture kept with the view, (h, w); without one the court's painted lines must lie on lines.
    progress : is told how many frames have been looked at, and of how many.
    """
    refuse_other_shape(view, clip)
    with FrameReader(clip) as reader:
        looking = _Looking(reader, view)
        at_once = looking.recognised(reference)
        if at_once.view is None:
            return _elsewhere(clip, at_once, looking.start.clear)
        looks = looking.looks(_times_s(clip), progress)
        limit_px = still_limit_px(view.image_size)
        steadiness = steadiness_of(looks, limit_px)
        if steadiness.never_still:
            return _refused(clip, looking.start.clear, looks)
        backgrounds = [looking.background(looks, stay) for stay in steadiness.stays] or [looking.start.clear]
        tried: list[Recognition] = []
        for background in backgrounds[:MOST_RECOGNISED]:
            tried.append(recognise(view, background, reference))
            if tried[-1].view is not None:
                break
        held, base = tried[-1], len(tried) - 1
        if held.view is None:
            return _elsewhere(clip, held, backgrounds[0])
        before, after = looking.elsewhere(looks, limit_px), looking.elsewhere(looks[::-1], limit_px)
        from_s, to_s = before.border_s if before else 0.0, after.border_s if after else clip.duration_s
        borders = [from_s, *looking.borders(looks, steadiness.stays), to_s]
    segments, warnings = _segments(held, base, backgrounds, borders)
    if before is not None:
        segments.insert(0, _lost(0.0, from_s, before.background))
        warnings.insert(0, _lost_words(from_s, "beginning"))
    if after is not None:
        segments.append(_lost(to_s, clip.duration_s, after.background))
        warnings.append(_lost_words(to_s, "rest"))
    return ClipCheck(True, tuple(segments), (*held.warnings, *warnings))


def shift_at_once_px(view: View, clip: Clip, reference: Grey | None = None) -> float:
    """Return how far the court lies from where a view has it [px], by a few pictures of a clip; inf at another place.

    Told in a fraction of the time that `check_clip` takes, to choose between views of one gym.
    """
    refuse_other_shape(view, clip)
    with FrameReader(clip) as reader:
        found = _Looking(reader, view).recognised(reference)
    return found.shifted_px if found.view is not None else float("inf")


def answer_of(check: ClipCheck, view_path: Path, out: Path | None = None) -> dict[str, Any]:
    """The check as plain values; with a folder, the views of moved segments are written there and named."""
    rows = []
    for number, segment in enumerate(check.segments, start=1):
        named = None
        if segment.view is not None and segment.shifted_px == 0.0:
            named = str(view_path)
        elif segment.view is not None and out is not None:
            path = out / f"{view_path.stem}-{number}.json"
            _write(with_reference(view_to_text(segment.view), segment.background), path)
            named = str(path)
        rows.append(
            {
                "from_s": segment.from_s,
                "to_s": segment.to_s,
                "turned_deg": segment.turned_deg if np.isfinite(segment.turned_deg) else None,
                "shifted_px": segment.shifted_px if np.isfinite(segment.shifted_px) else None,
                "view": named,
            }
        )
    return {"same_place": check.same_place, "stretches": rows, "warnings": list(check.warnings)}


def _write(text: str, path: Path) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise UserError(f"{path.name} cannot be written ({error.strerror}); choose another folder.") from error
    finally:
        part.unlink(missing_ok=True)


@dataclass(frozen=True, eq=False)
class _Elsewhere:
    """What a camera saw that stood still where nothing of the view's place is seen, and until or from when [s]."""

    border_s: float
    background: Grey


@dataclass(frozen=True, eq=False)
class _Second:
    """Frames of one second, the first clear one among them, and its features and corners."""

    greys: list[Grey]
    clear: Grey
    features: Features

    @cached_property
    def corners(self) -> NDArray[np.float32]:
        return corners_of(self.clear)


class _Looking:
    """Sampled frames of one clip: their backgrounds, and how far they lie from its beginning."""

    def __init__(self, reader: FrameReader, view: View) -> None:
        self.reader = reader
        self.clip = reader.clip
        self.view = view
        self.greys: dict[float, Grey] = {}
        self._points_px = court_pixels(view)
        self.start = self._second_from(0.0)

    def _second_from(self, from_s: float) -> _Second:
        """A ball may pass the lens, or the film fade in: the clear frame shows nearly as many features as any."""
        to_s = min(from_s + BEGINNING_S, float(self.clip.times_s[-1]))
        greys = [self.grey_at(time_s) for time_s in np.linspace(from_s, to_s, BEGINNING_FRAMES)]
        features = [features_of(grey, self.view.image_size) for grey in greys]
        counts = [len(found.points_px) for found in features]
        best = next(k for k, count in enumerate(counts) if count >= CLEAR_SHARE * max(counts))
        return _Second(greys, greys[best], features[best])

    def recognised(self, reference: Grey | None) -> Recognition:
        """The view held against the beginning, or else the middle or the end: the camera may have been moved there.

        Of each second one sharp frame is tried, and what stays without its people.
        """
        beginning = self.start
        for from_s in (0.0, self.clip.duration_s / 2, max(self.clip.duration_s - BEGINNING_S, 0.0)):
            second = self._second_from(from_s) if from_s else beginning
            for picture in (second.clear, background_of(second.greys)):
                found = recognise(self.view, picture, reference)
                if found.view is not None:
                    self.start = second
                    return found
        return found

    def grey_at(self, time_s: float) -> Grey:
        return grey_at(self.reader, time_s)

    def looks(self, times_s: Sequence[float], progress: Progress) -> list[Sighting]:
        found = []
        for number, time_s in enumerate(times_s, start=1):
            grey = self.grey_at(time_s)
            look = self.look(time_s, grey)
            if look.way_px is not None:
                self.greys[time_s] = grey
            found.append(look)
            progress(number, len(times_s))
        return found

    def look(self, time_s: float, grey: Grey) -> Sighting:
        start, size = self.start, self.view.image_size
        motion = slight_motion(start.clear, start.corners, grey, size)
        if motion is None or not trusted(motion):
            motion = motion_between(start.features, features_of(grey, size))
        if motion is None or not trusted(motion):
            return Sighting(time_s, None)
        way_px = map_points(motion.matrix, self._points_px) - self._points_px
        far_px = FAR_SHARE * max(self.view.image_size)
        return Sighting(time_s, way_px if np.median(np.hypot(*way_px.T)) < far_px else None)

    def background(self, looks: Sequence[Sighting], stay: Stay) -> Grey:
        chosen = np.linspace(0, len(stay.looks) - 1, min(len(stay.looks), MOST_BACKGROUND_FRAMES)).round().astype(int)
        return background_of([self.greys[looks[stay.looks[i]].time_s] for i in chosen])

    def elsewhere(self, looks: Sequence[Sighting], limit_px: float) -> _Elsewhere | None:
        """Whether the first of some looks, in either order of time, show a camera standing still somewhere else.

        Looks in which nothing is known again may also be people before the lens, who do not stand still.
        """
        hidden = list(takewhile(lambda look: look.way_px is None, looks))
        if not 1 < len(hidden) < len(looks):
            return None
        first, last = (features_of(self.grey_at(look.time_s), self.view.image_size) for look in (hidden[0], hidden[-1]))
        motion = motion_between(first, last)
        if motion is None or not trusted(motion):
            return None
        if apart_px(map_points(motion.matrix, self._points_px), self._points_px) >= limit_px:
            return None
        lost_s, seen_s = hidden[-1].time_s, looks[len(hidden)].time_s
        while abs(seen_s - lost_s) > TIME_FOUND_S:
            half_way_s = (lost_s + seen_s) / 2
            if self.look(half_way_s, self.grey_at(half_way_s)).way_px is None:
                lost_s = half_way_s
            else:
                seen_s = half_way_s
        return _Elsewhere(max(lost_s, seen_s), self.grey_at(hidden[0].time_s))

    def borders(self, looks: Sequence[Sighting], stays: Sequence[Stay]) -> list[float]:
        """When [s] the camera moved from each stay to the next."""
        return [self.moved_at(looks, before, after) for before, after in pairwise(stays)]

    def moved_at(self, looks: Sequence[Sighting], before: Stay, after: Stay) -> float:
        """When [s] the picture came nearer to the later place than to the earlier one, by halving."""
        early, late = looks[before.looks[-1]].time_s, looks[after.looks[0]].time_s
        old, new = place_of(looks, before.looks), place_of(looks, after.looks)
        while late - early > TIME_FOUND_S and self.clip.frame_at(late) - self.clip.frame_at(early) > 1:
            half_way = self._seen_between(early, late)
            if half_way is None:
                break
            if apart_px(half_way.way_px, old) < apart_px(half_way.way_px, new):
                early = half_way.time_s
            else:
                late = half_way.time_s
        return late

    def _seen_between(self, early: float, late: float) -> Sighting | None:
        for share in (0.5, 0.35, 0.65):
            time_s = early + share * (late - early)
            look = self.look(time_s, self.grey_at(time_s))
            if look.way_px is not None:
                return look
        return None


def _times_s(clip: Clip) -> list[float]:
    """When to look: about every two seconds, on key frames where they are near, fewer in long clips."""
    step_s = max(LOOK_EVERY_S, clip.duration_s / MOST_LOOKS)
    keys_s = clip.times_s[list(clip.keyframes)] if clip.keyframes else np.zeros(0)
    last_s = float(clip.times_s[-1])
    asked = np.append(np.arange(0.0, last_s, step_s), last_s)
    chosen = set()
    for time_s in asked:
        nearest = keys_s[np.abs(keys_s - time_s).argmin()] if len(keys_s) else np.inf
        chosen.add(float(nearest if abs(nearest - time_s) <= step_s / 2 else time_s))
    return sorted(chosen)


def _segments(
    held: Recognition, base: int, backgrounds: Sequence[Grey], borders: Sequence[float]
) -> tuple[list[ClipSegment], list[str]]:
    """Every stay with its view, re-aligned from the one in which the view was recognised."""
    assert held.view is not None
    segments, warnings = [], []
    for number, background in enumerate(backgrounds):
        from_s, to_s = borders[number], borders[number + 1]
        if number == base:
            segments.append(ClipSegment(from_s, to_s, held.turned_deg, held.shifted_px, held.view, background))
            continue
        moved_s = from_s if number > base else to_s
        alignment = align(backgrounds[base], background, held.view)
        if alignment is None or not np.isfinite(alignment.correlation):
            segments.append(_lost(from_s, to_s, background))
            warnings.append(_lost_words(moved_s, "rest" if number > base else "beginning"))
            continue
        moved = moved_view(held.view, alignment)
        segments.append(ClipSegment(from_s, to_s, alignment.turned_deg, alignment.shifted_px, moved, background))
        warnings.append(
            f"The camera moved at {clock(moved_s)}: turned {alignment.turned_deg:.1f} degrees, the court shifted "
            f"{alignment.shifted_px:.0f} px. Check the re-aligned lines."
        )
    return segments, warnings


def _lost(from_s: float, to_s: float, background: Grey) -> ClipSegment:
    return ClipSegment(from_s, to_s, float("nan"), float("nan"), None, background)


def _lost_words(moved_s: float, part: str) -> str:
    return (
        f"The camera moved at {clock(moved_s)}, and the lines could not be re-aligned. "
        f"Make a new view for the {part} of the clip."
    )


def _elsewhere(clip: Clip, first: Recognition, background: Grey) -> ClipCheck:
    return ClipCheck(False, (_lost(0.0, clip.duration_s, background),), first.warnings)


def _refused(clip: Clip, beginning: Grey, looks: Sequence[Sighting]) -> ClipCheck:
    ways = [np.median(np.hypot(*look.way_px.T)) for look in looks if look.way_px is not None]
    sentence = (
        f"The camera sways throughout {clip.path.name}: the court wanders by {max(ways):.0f} px. No view holds. "
        "Film from a tripod, or lay the camera down."
    )
    return ClipCheck(True, (_lost(0.0, clip.duration_s, beginning),), (sentence,))

"""What would make the error on the floor smaller: one more mark, a traced line, a higher tripod.

Each promise is kept to by refitting: the view is fitted again with the mark, the traced line or the higher camera put
where this view sees them, at the click deviation that these marks and the new ones together are likely to show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.impossible_marks import FEWEST_LANDMARKS
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.model import CameraModel, from_homography
from serve_marker.camera.view.view import Marks, Trace, View
from serve_marker.court.dimensions import Floats, landmarks
from serve_marker.errors import UserError

EDGE_PX = 2.0
TRACED_POINTS = 6
LEAST_TRACE_M = 3.0
"""A shorter piece of a line in the picture is not worth tracing."""
HIGHER_M = 1.0
WORTH_M = 0.01
WORTH_SHARE = 0.9
"""Advice is given where it brings the error below this share of what it is, and by a centimetre at least."""
MOST_ADVICE = 3


@dataclass(frozen=True)
class Advice:
    """One thing that makes the error at one end smaller.

    ``kind`` is "mark" (``name`` a landmark), "trace" (``name`` a line) or "raise" (``name`` empty).
    """

    kind: str
    name: str
    end: str
    now_m: float
    then_m: float


def advice(view: View, most: int = MOST_ADVICE) -> list[Advice]:
    """Return up to ``most`` things that would help at the worse end line, the most helpful first."""
    now = view.expected_error_m()
    found = [
        Advice(kind, name, end, now[f"end_{end}"], then[f"end_{end}"])
        for kind, name, changed in _changes(view)
        if (then := changed.expected_error_m())
        for end in ("a", "b")
    ]
    worse = max(("a", "b"), key=lambda end: np.nan_to_num(now[f"end_{end}"], nan=np.inf))
    helpful = [
        one for one in found if one.end == worse and one.then_m < min(one.now_m * WORTH_SHARE, one.now_m - WORTH_M)
    ]
    return sorted(helpful, key=lambda one: one.then_m)[:most]


def with_mark(view: View, name: str, hand: Hand | None = None) -> View | None:
    """The view refitted with one more landmark where it sees it; None where the picture does not show it."""
    (pixel,) = view.project(np.array([landmarks(view.court)[name]])[:, :2])
    return (
        _refitted(view, hand, {**view.marks, name: (float(pixel[0]), float(pixel[1]))}, view.traces)
        if (_inside(view, pixel[None])[0])
        else None
    )


def with_trace(view: View, line: str, hand: Hand | None = None) -> View | None:
    """The view refitted with points traced along what the picture shows of a line; None where that is too little."""
    start, stop = line_ends(view.court)[line]
    share = np.linspace(0.0, 1.0, 181)[:, None]
    along = (1 - share) * start + share * stop
    pixels = view.project(along)
    shown = np.flatnonzero(_inside(view, pixels))
    if len(shown) / len(along) * float(np.hypot(*(stop - start))) < LEAST_TRACE_M:
        return None
    chosen = shown[np.linspace(0, len(shown) - 1, TRACED_POINTS + 2).astype(int)[1:-1]]
    trace = tuple((float(x), float(y)) for x, y in pixels[chosen])
    return _refitted(view, hand, view.marks, {**view.traces, line: trace})


def with_higher_camera(view: View, higher_m: float = HIGHER_M, hand: Hand | None = None) -> View | None:
    """The view of the same marks and lines from a camera so much higher that looks at the same spot of the floor."""
    camera = from_homography(view.homography, view.focal_px, view.lens) if np.isfinite(view.focal_px) else None
    if camera is None:
        return None
    forward = camera.rotation[2]
    if forward[2] >= -0.01:
        return None
    spot = camera.place_m - forward * camera.place_m[2] / forward[2]
    spot[:2] = np.clip(
        spot[:2],
        [-view.court.half_width_m, -view.court.half_length_m],
        [view.court.half_width_m, view.court.half_length_m],
    )
    raised = _looking_at(camera, camera.place_m + np.array([0.0, 0.0, higher_m]), spot)
    places = landmarks(view.court)
    names = [name for name in view.marks if name in places]
    pixels = raised.shown(np.array([places[name] for name in names]))
    marks = {
        name: (float(x), float(y)) for name, (x, y), ok in zip(names, pixels, _inside(view, pixels), strict=True) if ok
    }
    if len(marks) < FEWEST_LANDMARKS:
        return None
    seen = _refitted(view, hand, marks, {})
    if seen is None:
        return None
    for line, trace in view.traces.items():
        seen = (with_trace(seen, line, hand) if trace and seen else None) or seen
    return seen


def _changes(view: View) -> list[tuple[str, str, View]]:
    """Every change worth trying and the view after it."""
    hand = hand_of(view)
    candidates: list[tuple[str, str, View | None]] = [
        ("mark", name, with_mark(view, name, hand)) for name in landmarks(view.court) if name not in view.marks
    ]
    candidates += [
        ("trace", line, with_trace(view, line, hand)) for line in line_ends(view.court) if line not in view.traces
    ]
    candidates.append(("raise", "", with_higher_camera(view, hand=hand)))
    return [(kind, name, changed) for kind, name, changed in candidates if changed is not None]


def _refitted(view: View, hand: Hand | None, marks: Marks, traces: Mapping[str, Trace]) -> View | None:
    """The view fitted again, with marks known as well as they and this view's are likely to show."""
    hand = hand or hand_of(view)
    more = sum(2 for name in marks if name not in view.marks)
    more += sum(len(trace) for line, trace in traces.items() if line not in view.traces)
    hand_px = hand.click_sd_px * hand.with_more(more).over_click
    try:
        clicked = _clicked(view, marks, hand)
        return fit_view(marks, view.court, view.image_size, view.net_height_m, traces, hand_px, clicked).view
    except UserError:
        return None


def _clicked(view: View, marks: Marks, hand: Hand) -> Marks:
    """Where marks are likely to be clicked before they move: as this view's were, new ones the hand's deviation off."""
    ways = {name: np.subtract(pixel, view.marks[name]) for name, pixel in view.clicked.items()}
    if hand.ways.moved_px:
        off_px = np.full(2, hand.usual * hand.click_sd_px)
        ways = {name: off_px for name in marks if name not in view.marks} | ways
    clicks = {name: np.add(marks[name], way) for name, way in ways.items() if name in marks}
    return {name: (float(x), float(y)) for name, (x, y) in clicks.items()}


def hand_of(view: View) -> Hand:
    """What the view's marks show of the hand that made them."""
    return fit_view(
        view.marks,
        view.court,
        view.image_size,
        view.net_height_m,
        view.traces,
        view.own_click_sd_px,
        view.clicked,
    ).hand


def _inside(view: View, pixels: Floats) -> Floats:
    return np.asarray(((pixels > EDGE_PX) & (pixels < np.array(view.image_size) - 1 - EDGE_PX)).all(axis=1))


def _looking_at(camera: CameraModel, place_m: Floats, spot_m: Floats) -> CameraModel:
    """The camera moved to ``place_m`` and turned upright to ``spot_m``."""
    forward = (spot_m - place_m) / np.linalg.norm(spot_m - place_m)
    right = np.cross(forward, (0.0, 0.0, 1.0))
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    return CameraModel(camera.focal_px, rotation, place_m, camera.lens)

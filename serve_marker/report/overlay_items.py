"""What is drawn over a picture, as plain data: one display list for the screen and for stills.

Every item is frozen and holds pixels of the upright, full-resolution picture, so that a still shows what the coach
saw. How an item looks (width, colour, letters) is the painter's business; ``role`` says what the item is.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.court.aims import Aim, aim_words
from serve_marker.court.dimensions import Floats, from_half, net_landmarks, painted_lines
from serve_marker.court.formations import Formation
from serve_marker.court.seams import seam_polygons
from serve_marker.logbook.records import FloorPoint, Half, Serve
from serve_marker.marking.judging import Judgement
from serve_marker.marking.landing import served_to
from serve_marker.study.serve_shape import shape_of

Pixel = tuple[float, float]

SHAPE_WORDS = {
    "disc": "on target",
    "half-disc": "on target or just beside",
    "square": "too close to a line",
    "ring": "in, missed the aim",
    "cross": "out",
    "bar": "net, fault or block",
    "diamond": "received",
    "caret": "not placed yet",
}
SHAPES = tuple(SHAPE_WORDS)
PASSER_RADIUS_M = 0.3
PROPOSAL_RING_M = 0.6
ERROR_WORDS = "dashed ring: the place, 95 % sure"
FLIGHT_WORDS = "arc: its flight, 95 % sure to lie in the band"
ESTIMATED_WORDS = "dashed arc: its flight, roughly"
MISS_WORDS = "arrow: from the aim to the landing"
ROLE_WORDS = {
    "error": ERROR_WORDS,
    "flight": FLIGHT_WORDS,
    "flight-estimated": ESTIMATED_WORDS,
    "miss": MISS_WORDS,
}
FEW_LANDINGS = 12
UNIT_CIRCLE = np.column_stack([np.cos(np.arange(24) * math.pi / 12), np.sin(np.arange(24) * math.pi / 12)])
ROLES = (
    *("court-line", "net", "aim", "seam", "landing", "error", "film"),
    *("flight", "flight-estimated", "flight-band", "over-net", "miss", "label", "legend"),
)


@dataclass(frozen=True)
class Polyline:
    """A line through points [px]; ``closed`` joins the last to the first."""

    points_px: tuple[Pixel, ...]
    role: str
    closed: bool = False


@dataclass(frozen=True)
class Region:
    """A filled, see-through area bounded by points [px]."""

    points_px: tuple[Pixel, ...]
    role: str


@dataclass(frozen=True)
class Spot:
    """A mark of one of the SHAPES, drawn at one size whatever the zoom."""

    shape: str
    centre_px: Pixel
    role: str = "landing"


@dataclass(frozen=True)
class Label:
    """Words beside a point [px]; the painter keeps them inside the picture."""

    text: str
    at_px: Pixel
    role: str = "label"


@dataclass(frozen=True)
class Legend:
    """What each shape in the picture means: pairs (shape, words), drawn in the lower left corner.

    A pair without a shape is a heading; the roles "error-1" to "error-5" stand for the colours of an error map.
    """

    entries: tuple[tuple[str, str], ...]
    role: str = "legend"


Item = Polyline | Region | Spot | Label | Legend
DisplayList = tuple[Item, ...]


def shape_for(serve: Serve, judgement: Judgement) -> str:
    """Return the shape of a serve and what was judged of it."""
    found = judgement
    return shape_of(serve.outcome, found.verdict, found.aim_hit, found.aim_surely, found.aim_may)


def legend_for(shapes: Sequence[str]) -> Legend:
    """Return the legend of the shapes that occur, always in the same order.

    Examples
    --------
    >>> legend_for(["cross", "disc", "cross"]).entries
    (('disc', 'on target'), ('cross', 'out'))
    """
    return Legend(tuple((shape, words) for shape, words in SHAPE_WORDS.items() if shape in shapes))


def legend_of(items: Sequence[Item]) -> Legend:
    """Return the legend of all spots among items, and of the lines that need one.

    Examples
    --------
    >>> legend_of([Spot("ring", (9.0, 9.0)), Polyline(((8.0, 9.0), (10.0, 9.0)), "error")]).entries
    (('ring', 'in, missed the aim'), ('', 'dashed ring: the place, 95 % sure'))
    """
    roles = {item.role for item in items}
    words = [said for role, said in ROLE_WORDS.items() if role in roles]
    shapes = [item.shape for item in items if isinstance(item, Spot)]
    return Legend((*legend_for(shapes).entries, *(("", said) for said in words)))


@lru_cache(maxsize=4)
def court_overlay(view: View) -> DisplayList:
    """Return the painted lines as the view sees them, and the net's top where the camera's place is known."""
    items: list[Item] = []
    for strip_m in painted_lines(view.court).values():
        outline_px = floor_outline(view, strip_m)
        if outline_px:
            items += [Region(outline_px, "court-line"), Polyline(outline_px, "court-line", closed=True)]
    if view.camera_position_m is not None:
        ends_m = net_landmarks(view.court, view.net_height_m)
        top_m = np.linspace(ends_m["net-top/left"], ends_m["net-top/right"], 24)
        top_px = _pixels(view.project(top_m))
        if len(top_px) == len(top_m):
            items.append(Polyline(top_px, "net"))
    return tuple(items)


def aim_overlay(view: View, aim: Aim | None, half: str | None) -> DisplayList:
    """Return the aimed area as a tint with its border; ``half`` is the end served to, "a" or "b"."""
    if aim is None or half not in ("a", "b"):
        return ()
    corners_half_m = np.asarray(aim.polygon.exterior.coords, dtype=float)[:-1]
    outline_px = floor_outline(view, from_half(corners_half_m, "a" if half == "a" else "b", view.court))
    return (Region(outline_px, "aim"), Polyline(outline_px, "aim", closed=True)) if outline_px else ()


def formation_overlay(view: View, formation: Formation | None, half: str | None) -> DisplayList:
    """Return where the passers stood, with their labels, and the seams between them."""
    if formation is None or half not in ("a", "b"):
        return ()
    end: Half = "a" if half == "a" else "b"
    corners_m = (np.asarray(seam.exterior.coords)[:-1] for seam in seam_polygons(formation, view.court).values())
    seams_px = (floor_outline(view, from_half(corners, end, view.court)) for corners in corners_m)
    seams = (Polyline(seam_px, "seam", closed=True) for seam_px in seams_px if seam_px)
    return (*seams, *passers_overlay(view, formation, half))


def passers_overlay(view: View, formation: Formation | None, half: str | None) -> DisplayList:
    """Return where the passers stood, each a ring on the floor with her label."""
    if formation is None or half not in ("a", "b"):
        return ()
    end: Half = "a" if half == "a" else "b"
    items: list[Item] = []
    for passer in formation.passers:
        foot_half_m = np.array([(passer.x_m, passer.y_m)]) + PASSER_RADIUS_M * UNIT_CIRCLE
        ring_px = floor_outline(view, from_half(foot_half_m, end, view.court))
        at_px = _pixels(view.project(from_half([(passer.x_m, passer.y_m)], end, view.court)))
        if ring_px and at_px:
            items += [Polyline(ring_px, "label", closed=True), Label(passer.label, at_px[0])]
    return tuple(items)


def outline_overlay(corners_px: Sequence[Pixel]) -> DisplayList:
    """Return the corners of a target as far as they are clicked, numbered and joined."""
    line: DisplayList = (Polyline(tuple(corners_px), "aim", closed=len(corners_px) > 2),) if len(corners_px) > 1 else ()
    return (*line, *(Label(str(number), corner) for number, corner in enumerate(corners_px, start=1)))


def landing_overlay(view: View, serve: Serve, judgement: Judgement, caption: str = "") -> DisplayList:
    """Return the landing's mark, its 95 % error ellipse at true size on the floor, and a caption."""
    if serve.landing_point is None:
        return ()
    spot_px = _pixels(view.project(np.array([[serve.landing_point.x_m, serve.landing_point.y_m]])))
    if not spot_px:
        return ()
    items: list[Item] = []
    ellipse_px = floor_outline(view, error_ellipse_m(serve.landing_point))
    if ellipse_px:
        items.append(Polyline(ellipse_px, "error", closed=True))
    items.extend(_ways_on_film(view, serve, serve.landing_point))
    items.extend(_toss_and_launch_on_film(serve))
    items.append(Spot(shape_for(serve, judgement), spot_px[0]))
    if caption:
        items.append(Label(caption, spot_px[0]))
    return tuple(items)


def proposal_overlay(view: View, flight_px: Sequence[Pixel], serve: Serve, judgement: Judgement) -> DisplayList:
    """Return a serve found on film that nobody has entered: its flight, its landing ringed, and the landing's error."""
    items: list[Item] = [Polyline(tuple(flight_px), "flight")] if len(flight_px) > 1 else []
    if serve.landing_point is not None:
        at_m = np.array([(serve.landing_point.x_m, serve.landing_point.y_m)])
        ring_px = floor_outline(view, at_m + PROPOSAL_RING_M * UNIT_CIRCLE)
        items += [Polyline(ring_px, "flight", closed=True)] if ring_px else []
    return (*items, *landing_overlay(view, serve, judgement))


def _ways_on_film(view: View, serve: Serve, landing: FloorPoint) -> DisplayList:
    """The ball's way down and its rebound as the film shows them, meeting where it touched."""
    seen_px = np.array([mark.pixel for mark in serve.film_marks if mark.pixel])
    meet_px = view.project(np.array([[landing.x_m, landing.y_m, view.court.ball.radius_m]]))
    if len(seen_px) < 2 or not np.isfinite(meet_px).all():
        return ()
    away_px = np.hypot(*(seen_px - meet_px).T)
    first = int(np.argmin(away_px[:-1] + away_px[1:])) + 1
    ways = (np.vstack([seen_px[:first], meet_px]), np.vstack([meet_px, seen_px[first:]]))
    return tuple(Polyline(_pixels(way), "film") for way in ways)


def _toss_and_launch_on_film(serve: Serve) -> DisplayList:
    """The ball as the film shows it before and after the hit."""
    if serve.contact is None or serve.hit_after_s is None:
        return ()
    hit_s = serve.contact.time_s + serve.hit_after_s
    seen = [(mark.time_s < hit_s, mark.pixel) for mark in serve.contact_film_marks if mark.pixel]
    ways = ([pixel for before, pixel in seen if before is is_toss] for is_toss in (True, False))
    return tuple(Polyline(_pixels(np.array(way)), "film") for way in ways if len(way) > 1)


def serve_overlay(
    view: View,
    serve: Serve,
    judgement: Judgement,
    aim: Aim | None,
    above: DisplayList = (),
    formation: Formation | None = None,
) -> DisplayList:
    """Return what a still of one serve shows: court lines, aim, passers, landing with its error, and what lies above.

    How the film saw the ball, and the seams, are for the marks alone.
    """
    half = judgement.half or served_to(serve)
    landed = [*above, *(item for item in landing_overlay(view, serve, judgement) if item.role != "film")]
    return (
        *court_overlay(view),
        *aim_overlay(view, aim, half),
        *passers_overlay(view, formation, half),
        *landed,
        legend_of(landed),
    )


def practice_overlay(
    view: View, serves: Sequence[Serve], judgements: Sequence[Judgement], aims: Sequence[Aim | None]
) -> DisplayList:
    """Return the landings of many serves on the gym's own picture, on the aims they count for; the legend counts them.

    Only where they are few does each have its error.
    """
    judged = list(zip(serves, judgements, aims, strict=True))
    landed = [item for serve, found, _ in judged for item in landing_overlay(view, serve, found)]
    spots = [item for item in landed if isinstance(item, Spot)]
    errors = [item for item in landed if item.role == "error"] if len(spots) <= FEW_LANDINGS else []
    aimed = {(aim.text, found.half or served_to(serve)): aim for serve, found, aim in judged if aim is not None}
    tints = [item for (_, half), aim in aimed.items() for item in _named_aim(view, aim, half, spots)]
    counts = Counter(spot.shape for spot in spots)
    shapes = tuple((shape, f"{words}: {counts[shape]}") for shape, words in SHAPE_WORDS.items() if counts[shape])
    told = (("", ERROR_WORDS),) if errors else ()
    return (*court_overlay(view), *tints, *errors, *spots, Legend((*shapes, *told)))


def _named_aim(view: View, aim: Aim, half: str | None, spots: Sequence[Spot]) -> DisplayList:
    """An aim as a tint, with its name at the place of its border that is farthest below or beside the marks."""
    tint = aim_overlay(view, aim, half)
    if not tint or not isinstance(tint[0], Region):
        return tint
    border_px = np.array(tint[0].points_px)
    marks_px = np.array([spot.centre_px for spot in spots]).reshape(-1, 2)
    away_px = np.hypot(*(border_px[:, None] - marks_px[None]).transpose(2, 0, 1)).min(axis=1, initial=np.inf)
    return (*tint, Label(aim_words(aim.text), tint[0].points_px[int(np.argmax(away_px))]))


def error_ellipse_m(point: FloorPoint, corners: int = 48) -> Floats:
    """Return the 95 % ellipse of a floor point as a polygon (corners, 2), court frame [m].

    Examples
    --------
    >>> ring = error_ellipse_m(FloorPoint(1.0, 2.0, 0.01, 0.0, 0.0025))
    >>> ring.shape, round(float(ring[:, 0].max() - 1.0), 3)
    ((48, 2), 0.245)
    """
    covariance_m2 = np.array([[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]])
    return ellipse_polygon(np.array([point.x_m, point.y_m]), covariance_m2, ELLIPSE_95, corners)


def ellipse_polygon(centre: Floats, covariance: Floats, factor: float, corners: int = 48) -> Floats:
    """Return points (corners, 2) at ``factor`` standard deviations of ``covariance`` (2, 2) about ``centre`` (2,)."""
    values, vectors = np.linalg.eigh(covariance)
    turn = np.linspace(0.0, 2 * math.pi, corners, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(centre + factor * (circle * np.sqrt(np.clip(values, 0.0, None))) @ vectors.T)


def floor_outline(view: View, corners_m: Floats, step_m: float = 0.5) -> tuple[Pixel, ...]:
    """Project a closed outline on the floor (N, 2), court frame [m], cut where it passes behind the camera.

    A floor point lies before the camera where the homography's third coordinate has the sign it has at the marks
    (Hartley and Zisserman, Multiple View Geometry, 2nd ed., 21.1: cheirality); the cut is made a little before zero,
    where pixels run away to infinity.
    """
    seen_m = _mean_of_seen_floor_m(view)
    third_row = view.homography[2]
    at_seen = float(third_row @ np.array([seen_m[0], seen_m[1], 1.0]))
    ahead = (corners_m @ third_row[:2] + third_row[2]) / at_seen - 0.02
    kept: list[Floats] = []
    for start in range(len(corners_m)):
        stop = (start + 1) % len(corners_m)
        part_m = _ahead_part(corners_m[start], corners_m[stop], float(ahead[start]), float(ahead[stop]))
        if part_m is not None:
            pieces = max(1, math.ceil(float(np.hypot(*(part_m[1] - part_m[0]))) / step_m))
            kept.append(np.linspace(part_m[0], part_m[1], pieces + 1))
    if not kept:
        return ()
    outline_px = _pixels(view.project(np.concatenate(kept)))
    return outline_px if len(outline_px) > 2 else ()


def _ahead_part(start_m: Floats, stop_m: Floats, start: float, stop: float) -> Floats | None:
    if start <= 0 and stop <= 0:
        return None
    crossing_m = start_m + (stop_m - start_m) * (start / (start - stop) if start != stop else 0.0)
    return np.array([crossing_m if start <= 0 else start_m, crossing_m if stop <= 0 else stop_m])


def _mean_of_seen_floor_m(view: View) -> Floats:
    on_floor = [pixel for name, pixel in view.marks.items() if not name.startswith(("net", "antenna"))]
    width_px, height_px = view.image_size
    seen_px = np.mean(on_floor, axis=0) if on_floor else np.array([width_px / 2, height_px - 1.0])
    x, y, w = np.linalg.solve(view.homography, np.array([seen_px[0], seen_px[1], 1.0]))
    return np.array([x / w, y / w])


def _pixels(points_px: Floats) -> tuple[Pixel, ...]:
    finite = np.asarray(points_px)[np.isfinite(points_px).all(axis=1)]
    return tuple((float(x), float(y)) for x, y in finite)

"""A click near a landmark moves to where the court's lines truly cross: outer edges, rear edges, the centre's axis."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.crossing import EDGE_SD_PX, Crossing, Strip, fit_crossing
from serve_marker.camera.homography import Floats
from serve_marker.camera.line_fit import LineFit, Project, fit_lines
from serve_marker.camera.strips import PROFILE_STEP_PX, REACH_PX, strip_response
from serve_marker.camera.view import View
from serve_marker.court.dimensions import Court, landmarks

SNAP_PX = 8.0
ARM_PX = 90.0
SEARCH_ARM_PX = 70.0
SHORTEST_ARM_PX = 10.0
SEARCH_SLOPES = np.linspace(-0.12, 0.12, 25)
MOST_PEAKS = 4
MOST_TRIED = 5
RESPONSE_CAP = 30.0
LEAST_CONTRAST = 2.0
LEAST_SHOWN = 0.45
MOST_SD_PX = 1.2
LEAST_AGREEING = 0.6
UNKNOWN_PX = 2.5
LOCAL_OFFSET_PX = 0.7
LOCAL_SLOPE = 0.012
SAME_PLACE_PX = 1.5
RIVAL_SHARE = 0.85


@dataclass(frozen=True)
class Snapped:
    """A click before and after it moved to a crossing [px], and from 0 to 1 how clear the crossing is."""

    before_px: tuple[float, float]
    after_px: tuple[float, float]
    confidence: float


def snap(
    picture: NDArray[np.uint8], click_px: tuple[float, float], landmark: str, view: View | None = None
) -> Snapped | None:
    """Move a landmark's click to the crossing of its lines' true edges within 8 px, or None where none is clear.

    Parameters
    ----------
    picture : (H, W, 3), upright and in full resolution.
    view : an approximate view, from four rough marks or more: it tells the lines' directions and widths.
    """
    click = np.array(click_px, dtype=float)
    if view is None:
        return None
    lines = fit_lines(picture, view)
    if lines is not None and lines.agreeing >= LEAST_AGREEING:
        return _by_all_lines(picture, click, landmark, view, lines)
    expected = expected_strips(view.project, view.court, landmark)
    if expected is None:
        return None
    side, across = (clipped(strip, click, picture.shape) for strip in expected)
    found = best_crossing(picture, click, side, across, landmark.startswith("end"))
    if found is None:
        return None
    crossing, confidence = found
    return _snapped(click, crossing.pixel, confidence)


def _by_all_lines(
    picture: NDArray[np.uint8], click: Floats, landmark: str, view: View, lines: LineFit
) -> Snapped | None:
    """Snap where all the court's lines put the crossing, moved to the two lines themselves where they are clear."""
    place = np.array([landmarks(view.court)[landmark][:2]])
    meant, sd_px = lines.project(place)[0], float(lines.sd_px(place)[0])
    if not np.hypot(*(meant - click)) <= SNAP_PX or not sd_px < UNKNOWN_PX:
        return None
    expected = expected_strips(lines.project, view.court, landmark)
    if expected is not None:
        slant = abs(float(np.linalg.det(np.array([strip.direction for strip in expected]))))
        sd_px = float(np.hypot(sd_px, EDGE_SD_PX / max(slant, 1e-3)))
        side, across = (clipped(strip, meant, picture.shape) for strip in expected)
        crossing = fit_crossing(
            picture, meant, side, across, landmark.startswith("end"), (0, 0, 0, 0), LOCAL_OFFSET_PX, LOCAL_SLOPE
        )
        if crossing is not None and np.hypot(*(crossing.pixel - click)) <= SNAP_PX:
            rating = _rating(crossing, click)
            if rating > 0 and np.hypot(*(crossing.pixel - meant)) < SAME_PLACE_PX + 2 * sd_px:
                return _snapped(click, crossing.pixel, rating)
    if sd_px > MOST_SD_PX:
        return None
    return _snapped(click, meant, 0.5 * lines.agreeing / (1 + (sd_px / MOST_SD_PX) ** 2))


def _snapped(click: Floats, place: Floats, confidence: float) -> Snapped:
    (x0, y0), (x1, y1) = click.tolist(), place.tolist()
    return Snapped((x0, y0), (x1, y1), confidence)


def best_crossing(
    picture: NDArray[np.uint8], click: Floats, side: Strip, across: Strip, corner: bool
) -> tuple[Crossing, float] | None:
    """The clearest crossing of two strips within reach of a click, and its confidence; None where two rival."""
    if side.to_px - side.from_px < SHORTEST_ARM_PX or across.to_px < SHORTEST_ARM_PX:
        return None
    starts = []
    for offset_1, slope_1, score_1 in _peaks(picture, click, side):
        for offset_2, slope_2, score_2 in _peaks(picture, click, across):
            place = _straight_meeting((offset_1, slope_1), (offset_2, slope_2), side, across)
            away = float(np.hypot(*place))
            if away <= SNAP_PX + 1:
                starts.append(
                    (min(score_1, score_2) * (1 - 0.3 * (away / SNAP_PX) ** 2), (offset_1, slope_1, offset_2, slope_2))
                )
    starts.sort(reverse=True)
    rated: list[tuple[float, Crossing]] = []
    for _, start in starts[:MOST_TRIED]:
        crossing = fit_crossing(picture, click, side, across, corner, start)
        if crossing is None or np.hypot(*(crossing.pixel - click)) > SNAP_PX:
            continue
        rated.append((_rating(crossing, click), crossing))
    rated.sort(key=lambda pair: -pair[0])
    if not rated or rated[0][0] <= 0:
        return None
    best, crossing = rated[0]
    rivals = [rating for rating, other in rated[1:] if np.hypot(*(other.pixel - crossing.pixel)) > SAME_PLACE_PX]
    if rivals and rivals[0] > RIVAL_SHARE * best:
        return None
    return crossing, best


def _rating(crossing: Crossing, click: Floats) -> float:
    """From 0 (no crossing) to 1: both strips clear over their length, sure to a fraction of a pixel, near the click."""
    contrast, shown = min(crossing.contrast), min(crossing.shown)
    if contrast < LEAST_CONTRAST or shown < LEAST_SHOWN or crossing.sd_px > MOST_SD_PX:
        return 0.0
    clear = contrast / (contrast + 2 * LEAST_CONTRAST)
    near = 1 - 0.3 * (np.hypot(*(crossing.pixel - click)) / SNAP_PX) ** 2
    return float(clear * shown * near / (1 + (crossing.sd_px / MOST_SD_PX) ** 2))


def expected_strips(project: Project, court: Court, landmark: str) -> tuple[Strip, Strip] | None:
    """The sideline and the strip across at a landmark as a view sees them; None for landmarks off the floor."""
    places = landmarks(court)
    if landmark not in places:
        return None
    line, side = landmark.split("/")
    x_m, y_m = places[landmark][:2]
    inward = 1.0 if side == "left" else -1.0
    end_m = court.half_length_m
    width_m = court.line_width_m
    if line.startswith("end"):
        toward = -np.sign(y_m)
        along, into = np.array([0.0, toward]), np.array([0.0, toward])
        room = (0.0, 2 * end_m)
    else:
        along, into = np.array([0.0, 1.0]), np.array([0.0, -np.sign(y_m) if y_m else 1.0])
        room = (-(end_m + y_m), end_m - y_m)
    corner = np.array([x_m, y_m])
    sideline = _seen(project, corner, along, np.array([inward, 0.0]) * width_m, room, centred=False)
    across = _seen(
        project, corner, np.array([inward, 0.0]), into * width_m, (0.0, court.width_m), centred=line == "centre"
    )
    return None if sideline is None or across is None else (sideline, across)


def _seen(
    project: Project, corner_m: Floats, along: Floats, into_m: Floats, room_m: tuple[float, float], centred: bool
) -> Strip | None:
    """A strip whose true line leaves ``corner_m`` along a direction, as the view sees it around there."""
    ways_m = np.linspace(*room_m, 721)
    back = into_m / 2 if centred else np.zeros(2)
    line = project(corner_m + ways_m[:, None] * along)
    near, far = (project(corner_m - back + ways_m[:, None] * along + edge) for edge in (0 * into_m, into_m))
    zero = project(corner_m[None])[0]
    gone_px = np.hypot(*(line - zero).T)
    with np.errstate(invalid="ignore"):
        local = (gone_px <= 1.5 * ARM_PX) & np.isfinite(near).all(axis=1) & np.isfinite(far).all(axis=1)
    if local.sum() < 4:
        return None
    line, near, far, ways_m = line[local], near[local], far[local], ways_m[local]
    ahead = line[ways_m >= 0]
    direction = (ahead[-1] - zero) if len(ahead) > 1 else zero - line[0]
    direction = direction / np.hypot(*direction)
    normal = np.array([-direction[1], direction[0]])
    if (far - near).mean(axis=0) @ normal < 0:
        normal = -normal
    way = (line - zero) @ direction
    gap = (far - near) @ normal
    if way[-1] - way[0] < 1.0:
        return None
    slope, width = np.polyfit(way, gap, 1)
    bend, tilt, _ = np.polyfit(way, (line - zero) @ normal, 2) if len(way) > 6 and np.ptp(way) > 30 else (0.0, 0.0, 0.0)
    turned = direction + tilt * normal
    direction = turned / np.hypot(*turned)
    normal = normal - (normal @ direction) * direction
    return Strip(
        direction,
        normal / np.hypot(*normal),
        float(max(width, 0.1)),
        float(slope),
        float(2 * bend),
        float(max(way[0], -ARM_PX)) if room_m[0] < 0 else -6.0,
        float(min(way[-1], ARM_PX)),
        centred,
    )


def clipped(strip: Strip, click: Floats, shape: tuple[int, ...]) -> Strip:
    """The strip as far as the picture (H, W) shows it around a click."""
    ways = np.arange(-ARM_PX, ARM_PX + 1)
    places = click + ways[:, None] * strip.direction
    shown = ((places >= 0) & (places <= np.array(shape[1::-1]) - 1)).all(axis=1)
    seen = ways[shown] if shown.any() else np.zeros(1)
    return replace(strip, from_px=max(strip.from_px, float(seen.min())), to_px=min(strip.to_px, float(seen.max())))


def _peaks(picture: NDArray[np.uint8], click: Floats, strip: Strip) -> list[tuple[float, float, float]]:
    """Offsets and slopes of the true line at which the picture shows a strip of this width, best first."""
    low = max(strip.from_px, -SEARCH_ARM_PX) if strip.from_px < -6 else 2.0
    ways = np.arange(low, min(strip.to_px, SEARCH_ARM_PX))
    if len(ways) < SHORTEST_ARM_PX:
        return []
    width = strip.width_at(ways)
    to_middle = 0 * width if strip.centred else width / 2
    bent = strip.bend_per_px * ways**2 / 2 + to_middle
    middle = click + ways[:, None] * strip.direction + bent[:, None] * strip.normal
    response = np.stack([strip_response(picture[..., k], middle, width) for k in range(3)], axis=2)
    tangent = np.gradient(middle, axis=0)
    sense = np.sign(np.median(np.column_stack([-tangent[:, 1], tangent[:, 0]]) @ strip.normal))
    strength = np.linalg.norm(response, axis=2, keepdims=True)
    response = response / np.maximum(1.0, strength / RESPONSE_CAP)
    if sense < 0:
        response = response[:, ::-1]
    offsets = np.arange(response.shape[1]) * PROFILE_STEP_PX - REACH_PX
    scores = np.empty((len(SEARCH_SLOPES), len(offsets)))
    rows = np.arange(len(ways))
    for i, slope in enumerate(SEARCH_SLOPES):
        index = (np.arange(len(offsets)) + (slope * ways / PROFILE_STEP_PX)[:, None]).round().astype(int)
        inside = (index >= 0) & (index < len(offsets))
        taken = response[rows[:, None], np.clip(index, 0, len(offsets) - 1)] * inside[..., None]
        scores[i] = np.linalg.norm(taken.mean(axis=0), axis=1)
    found: list[tuple[float, float, float]] = []
    for _ in range(MOST_PEAKS):
        i, j = divmod(int(scores.argmax()), scores.shape[1])
        if scores[i, j] <= 0.5 or (found and scores[i, j] < 0.2 * found[0][2]):
            break
        found.append((float(offsets[j]), float(SEARCH_SLOPES[i]), float(scores[i, j])))
        scores[:, np.abs(offsets - offsets[j]) < 1.6] = 0
    return found


def _straight_meeting(first: tuple[float, float], second: tuple[float, float], side: Strip, across: Strip) -> Floats:
    slopes = np.array(
        [strip.normal - slope * strip.direction for strip, (_, slope) in ((side, first), (across, second))]
    )
    if abs(np.linalg.det(slopes)) < 0.02:
        return np.full(2, np.inf)
    return np.asarray(np.linalg.solve(slopes, [first[0], second[0]]))

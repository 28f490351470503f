"""A click near a landmark moves to where the court's lines truly cross: outer edges, rear edges, the centre's axis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.picture.corner_without_view import crossing_in_the_open
from serve_marker.camera.picture.crossing import EDGE_SD_PX, Strip, fit_crossing
from serve_marker.camera.picture.crossing_search import ARM_PX, SAME_PLACE_PX, best_crossing, clipped, rating
from serve_marker.camera.picture.line_fit import LineFit, Project, fit_lines
from serve_marker.camera.view.landmark_ways import SNAP_PX
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Court, Floats, landmarks

LEAST_AGREEING = 0.2
UNKNOWN_PX = 2.5
ALL_LINES_SD_PX = 1.1
"""Where all the lines leave a crossing more doubtful than this, a careful click says more."""
LOCAL_OFFSET_PX = 0.3
LOCAL_SLOPE = 0.005
LOCAL_SURE_PX = 0.5
"""Two lines that meet at a slant say less about their crossing than all the court's lines together."""


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
    view : an approximate view, from four rough marks or more: it tells the lines' directions and widths. Without one
        the strips around the click must show them, and a camera that looks along the court is taken for granted.
    """
    return snap_all(picture, {landmark: click_px}, view)[landmark]


def snap_all(
    picture: NDArray[np.uint8], clicks_px: Mapping[str, tuple[float, float]], view: View | None = None
) -> dict[str, Snapped | None]:
    """Snap the clicks of several landmarks in one picture, as `snap` does each; the lines are measured only once."""
    lines = None if view is None else fit_lines(picture, view)
    if lines is not None and lines.agreeing < LEAST_AGREEING:
        lines = None
    return {
        name: _snap(picture, np.array(click_px, dtype=float), name, view, lines) for name, click_px in clicks_px.items()
    }


def _snap(
    picture: NDArray[np.uint8], click: Floats, landmark: str, view: View | None, lines: LineFit | None
) -> Snapped | None:
    if view is None:
        found = crossing_in_the_open(picture, click, landmark, SNAP_PX)
    elif landmark not in landmarks(view.court):
        return None
    elif lines is not None:
        return _by_all_lines(picture, click, landmark, view, lines)
    else:
        expected = expected_strips(view.project, view.court, landmark)
        if expected is None:
            return None
        side, across = (clipped(strip, click, picture.shape) for strip in expected)
        found = best_crossing(picture, click, side, across, landmark.startswith("end"), SNAP_PX)
    return None if found is None else _snapped(click, found[0].pixel, found[1])


def _by_all_lines(
    picture: NDArray[np.uint8], click: Floats, landmark: str, view: View, lines: LineFit
) -> Snapped | None:
    """Snap where all the court's lines put the crossing, moved to the two lines themselves where they are clear.

    None where the two lines clearly cross elsewhere or one clearly has no paint there: the fit took another sport's.
    """
    place = np.array([landmarks(view.court)[landmark][:2]])
    meant, sd_px = lines.project(place)[0], float(lines.sd_px(place)[0])
    if not np.hypot(*(meant - click)) <= SNAP_PX or not sd_px < UNKNOWN_PX:
        return None
    expected = expected_strips(lines.project, view.court, landmark)
    if expected is not None:
        slant = abs(float(np.linalg.det(np.array([strip.direction for strip in expected]))))
        doubt_px = float(np.hypot(sd_px, EDGE_SD_PX / max(slant, 1e-3)))
        side, across = (clipped(strip, meant, picture.shape) for strip in expected)
        crossing = fit_crossing(
            picture, meant, side, across, landmark.startswith("end"), (0, 0, 0, 0), LOCAL_OFFSET_PX, LOCAL_SLOPE
        )
        if crossing is not None and crossing.sd_px < LOCAL_SURE_PX:
            clear = rating(crossing, click, SNAP_PX)
            near = np.hypot(*(crossing.pixel - meant)) < SAME_PLACE_PX + 2 * doubt_px
            if clear > 0 and near and np.hypot(*(crossing.pixel - click)) <= SNAP_PX:
                return _snapped(click, crossing.pixel, clear)
            if not near or min(crossing.shown) == 0.0:
                return None
    if sd_px > ALL_LINES_SD_PX:
        return None
    return _snapped(click, meant, 0.5 * lines.agreeing / (1 + (sd_px / ALL_LINES_SD_PX) ** 2))


def _snapped(click: Floats, place: Floats, confidence: float) -> Snapped:
    (x0, y0), (x1, y1) = click.tolist(), place.tolist()
    return Snapped((x0, y0), (x1, y1), confidence)


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

"""How fast the serves were and how they flew, as columns of the serve table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view import View
from serve_marker.flight.clearance import REACH_SD_M, flights
from serve_marker.flight.drag import BALL_RADIUS_M
from serve_marker.flight.pace import pace
from serve_marker.flight.timing import flight_time
from serve_marker.logbook.records import JUMP_SERVE_TYPES, ClipEntry, FloorPoint, Mark, Player, Serve
from serve_marker.marking import (
    CONTACT_HEIGHT_SD_M,
    GUESSED_FLOOR_SD_M,
    in_true_time,
    is_carried_on,
    receptions,
    usual_contact_height_m,
)

Columns = dict[str, Any]
Floats = NDArray[np.float64]

PACE_COLUMNS = ("pace_mps", "pace_low_mps", "pace_high_mps", "flight_s")
FLIGHT_COLUMNS = (
    *("net_clearance_m", "net_clearance_low_m", "net_clearance_high_m", "launch_mps", "launch_low_mps"),
    *("launch_high_mps", "launch_deg", "apex_m"),
)
USUAL_GAP_S = 1 / 30


def time_scales(clips: Sequence[ClipEntry], serves: Sequence[Serve]) -> dict[str, float]:
    """Return by clip id what a clip's time has to be multiplied by: 1, less for a clip in slow motion.

    A clip filmed at f frames a second whose frames lie g seconds apart shows 1 / (f g) of the true speed. The gap is
    the median of those around its marks.

    Examples
    --------
    >>> clip = ClipEntry(id="c", practice_id="p", path="f", size_bytes=1, fingerprint="f", filmed_at_fps=240.0)
    >>> time_scales([clip], [Serve(id="s", clip_id="c", landing=Mark(8.0, None, 1/30, 1/30))])["c"]
    0.125
    """
    slow = {clip.id: clip.filmed_at_fps for clip in clips if clip.filmed_at_fps}
    scales = {clip.id: 1.0 for clip in clips}
    gaps: dict[str, list[float]] = {clip_id: [] for clip_id in slow}
    for serve in serves if slow else ():
        if serve.clip_id in slow:
            for mark in (serve.contact, serve.landing):
                gaps[serve.clip_id] += [gap for gap in (mark.gap_before_s, mark.gap_after_s) if gap > 0] if mark else []
    for clip_id, fps in slow.items():
        if gaps[clip_id]:
            scales[clip_id] = 1.0 / (fps * float(np.median(gaps[clip_id])))
    return scales


@dataclass(frozen=True, eq=False)
class Timed:
    """N serves in true time with both ends of each flight, as a pace needs them.

    Parameters
    ----------
    contact_m, end_m : floor points (N, 2) [m] below the ball at contact, and where it was last seen: its landing, or
        the place where a received ball was played.
    contact_cov_m2, end_cov_m2 : (N, 2, 2), of view and click alone. The shutter is left out: a ball seen late is seen
        further on, by its speed times the delay, and what distance and time are off by cancels in their quotient.
    """

    serves: Sequence[Serve]
    contact_m: Floats
    contact_cov_m2: Floats
    end_m: Floats
    end_cov_m2: Floats

    @property
    def between_s(self) -> Floats:
        """Landing frame minus contact frame (N,) [s]."""
        return np.array([_time_s(serve.landing) - _time_s(serve.contact) for serve in self.serves], dtype=float)

    @property
    def gaps_s(self) -> tuple[Floats, Floats]:
        """Times to the frames before and after, (N, 2) of contact and of landing."""
        return _gaps_s([serve.contact for serve in self.serves]), _gaps_s([serve.landing for serve in self.serves])

    def __getitem__(self, rows: Sequence[int]) -> Timed:
        parts = (self.contact_m, self.contact_cov_m2, self.end_m, self.end_cov_m2)
        return Timed([self.serves[row] for row in rows], *(part[list(rows)] for part in parts))


def timed(serves: Sequence[Serve], views: Sequence[View | None], scales: Mapping[str, float]) -> Timed:
    """Return placed serves in true time; ``scales`` is as `time_scales` gives it, by clip id."""
    contact_m, contact_cov_m2 = arrays_of([serve.contact_point for serve in serves])
    end_m, end_cov_m2 = arrays_of([serve.landing_point for serve in serves])
    by_view: dict[int, list[int]] = {}
    for row, view in enumerate(views):
        if view is not None:
            by_view.setdefault(id(view), []).append(row)
    for rows in by_view.values():
        view = views[rows[0]]
        if view is None:
            continue
        guess_m2 = np.eye(2) * GUESSED_FLOOR_SD_M**2
        _still(contact_cov_m2, view, {row: serves[row].contact for row in rows}, guess_m2)
        _still(end_cov_m2, view, {row: serves[row].landing for row in rows}, np.zeros((2, 2)))
        carried = [row for row in rows if is_carried_on(serves[row])]
        if carried:
            end_m[carried], end_cov_m2[carried] = arrays_of(receptions([serves[row] for row in carried], view))
    in_time = [in_true_time(serve, scales.get(serve.clip_id, 1.0)) for serve in serves]
    return Timed(in_time, contact_m, contact_cov_m2, end_m, end_cov_m2)


def _still(cov_m2: Floats, view: View, marks: Mapping[int, Mark | None], more_m2: Floats) -> None:
    """Set the covariances of marks on the floor to those of view and click, where they are smaller."""
    rows = [row for row, mark in marks.items() if mark and mark.pixel and not mark.on_ball]
    if not rows:
        return
    _, found = view.locate(np.array([mark.pixel for row in rows if (mark := marks[row])], dtype=float))
    found = found + more_m2
    smaller = np.trace(found, axis1=1, axis2=2) < np.trace(cov_m2[rows], axis1=1, axis2=2)
    cov_m2[np.array(rows)[smaller]] = found[smaller]


def pace_columns(of: Timed, frames_off: float = 0.0) -> Columns:
    """Return PACE_COLUMNS, arrays (N,); NaN without both places and times."""
    contact_gaps_s, end_gaps_s = of.gaps_s
    ends = (of.contact_m, of.contact_cov_m2, of.end_m, of.end_cov_m2, contact_gaps_s, end_gaps_s)
    paces = pace(*ends, of.between_s, frames_off)
    flight_s, _ = flight_time(of.between_s, contact_gaps_s, end_gaps_s, frames_off)
    return dict(zip(PACE_COLUMNS, (*paces, np.where(flight_s > 0, flight_s, np.nan)), strict=True))


def flight_columns(
    of: Timed, players: Mapping[str, Player], net_heights_m: Sequence[float], frames_off: float = 0.0
) -> Columns:
    """Return FLIGHT_COLUMNS, arrays (N,).

    NaN where the flight's end is not known in height: balls that struck a target, or were received without one.
    """
    columns: Columns = {name: np.full(len(of.serves), np.nan) for name in FLIGHT_COLUMNS}
    known = np.isfinite(of.contact_m.sum(axis=1) + of.end_m.sum(axis=1) + of.between_s)
    rows = [row for row, serve in enumerate(of.serves) if known[row] and _height_known(serve)]
    if not rows:
        return columns
    some = of[rows]
    heights = [contact_height_m(serve, players.get(serve.player_id or "")) for serve in some.serves]
    told = flights(
        some.contact_m,
        some.contact_cov_m2,
        some.end_m,
        some.end_cov_m2,
        *flight_time(some.between_s, *some.gaps_s, frames_off),
        [height for height, _ in heights],
        [sd for _, sd in heights],
        [net_heights_m[row] for row in rows],
        [serve.serve_type for serve in some.serves],
        [BALL_RADIUS_M if serve.outcome == "floor" else serve.landing_height_m or 0.0 for serve in some.serves],
    )
    clearance, speed = told.net_clearance_m, told.speed_mps
    parts = (clearance.value, clearance.low, clearance.high, speed.value, speed.low, speed.high)
    for name, part in zip(FLIGHT_COLUMNS, (*parts, told.angle_deg.value, told.apex_m.value), strict=True):
        columns[name][rows] = part
    return columns


def _height_known(serve: Serve) -> bool:
    return serve.outcome == "floor" or is_carried_on(serve)


def contact_height_m(serve: Serve, player: Player | None) -> tuple[float, float]:
    """Height of the ball's centre at the hit and its deviation [m]: the server's reach, else what is usual.

    Examples
    --------
    >>> noor = Player(id="n", name="Noor", standing_reach_m=2.2, jump_reach_m=2.7)
    >>> contact_height_m(Serve(id="s", clip_id="c", serve_type="jump float"), noor)[0]
    2.7
    """
    jumps = serve.serve_type in JUMP_SERVE_TYPES
    reach_m = (player.jump_reach_m if jumps else player.standing_reach_m) if player else None
    if reach_m is None:
        return usual_contact_height_m(serve.serve_type), CONTACT_HEIGHT_SD_M
    return reach_m, REACH_SD_M


def arrays_of(points: Sequence[FloorPoint | None]) -> tuple[Floats, Floats]:
    """Return positions (N, 2) [m] and covariances (N, 2, 2) [m2], NaN where there is no point."""
    gone = (np.nan,) * 5
    flat = np.array(
        [(p.x_m, p.y_m, p.cov_xx_m2, p.cov_xy_m2, p.cov_yy_m2) if p else gone for p in points], dtype=float
    ).reshape(-1, 5)
    return flat[:, :2], flat[:, [2, 3, 3, 4]].reshape(-1, 2, 2)


def _time_s(mark: Mark | None) -> float:
    return np.nan if mark is None else mark.time_s


def _gaps_s(marks: Sequence[Mark | None]) -> Floats:
    """Gaps (N, 2) before and after [s]; an unknown one is taken from the other side, or as a 30th of a second."""
    gaps = np.array(
        [(mark.gap_before_s, mark.gap_after_s) if mark else (np.nan, np.nan) for mark in marks], dtype=float
    )
    gaps = gaps.reshape(-1, 2)
    gaps = np.where(gaps == 0, gaps[:, ::-1], gaps)
    return np.where(gaps == 0, USUAL_GAP_S, gaps)

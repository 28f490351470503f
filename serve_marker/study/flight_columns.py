"""How fast the serves were and how they flew, as columns of the serve table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.court.passer_movement import Movement
from serve_marker.flight.contact_height import CONTACT_HEIGHT_SD_M, usual_contact_height_m
from serve_marker.flight.launch_and_clearance import REACH_SD_M, flights
from serve_marker.flight.pace import flight_time, pace
from serve_marker.flight.trajectory import BALL_RADIUS_M, against_indoor, before_the_end
from serve_marker.logbook.records import JUMP_SERVE_TYPES, ClipEntry, Player
from serve_marker.logbook.serve_arrays import Columns, points_in
from serve_marker.marking.landing import GUESSED_FLOOR_SD_M, RECEIVED_HEIGHT_SD_M, USUAL_GAP_S, received_at
from serve_marker.study.groups import Rows, looked_up
from serve_marker.study.pace_limits import impossible_mask

PACE_COLUMNS = ("pace_mps", "pace_low_mps", "pace_high_mps", "flight_s")
PLAYABLE_COLUMNS = ("high_before_m", "low_before_m", "high_at_s", "low_at_s", "course_x", "course_y")
FLIGHT_COLUMNS = (
    *("net_clearance_m", "net_clearance_low_m", "net_clearance_high_m", "launch_mps", "launch_low_mps"),
    *("launch_high_mps", "launch_deg", "launch_low_deg", "launch_high_deg", "apex_m", "apex_low_m", "apex_high_m"),
    *PLAYABLE_COLUMNS,
)
ENDS, SIDES = ("contact", "landing"), ("before", "after")


def time_scales(clips: Sequence[ClipEntry], columns: Columns) -> dict[str, float]:
    """Return by clip id what the times of clips in slow motion have to be multiplied by.

    A clip filmed at f frames a second whose frames lie g seconds apart shows 1 / (f g) of the true speed. The gap is
    the median of those around its marks.

    Examples
    --------
    >>> clip = ClipEntry(id="c", practice_id="p", path="f", size_bytes=1, fingerprint="f", filmed_at_fps=240.0)
    >>> from serve_marker.logbook.serve_arrays import columns_of
    >>> from serve_marker.logbook.records import Mark, Serve
    >>> time_scales([clip], columns_of([Serve(id="s", clip_id="c", landing=Mark(8.0, None, 1/30, 1/30))]))["c"]
    0.125
    """
    scales = {}
    for clip in clips:
        if clip.filmed_at_fps:
            there = columns["clip_id"] == clip.id
            gaps_s = np.concatenate([columns[f"{end}_gap_{side}_s"][there] for end in ENDS for side in SIDES])
            seen_s = gaps_s[gaps_s > 0]
            scales[clip.id] = 1.0 / (clip.filmed_at_fps * float(np.median(seen_s))) if len(seen_s) else 1.0
    return scales


@dataclass(frozen=True, eq=False)
class Timed:
    """N serves in true time with both ends of each flight, as a pace needs them.

    Parameters
    ----------
    contact_m, end_m : floor points (N, 2) [m] below the ball at contact, and where it was last seen: its landing, or
        the place where a received ball was played.
    contact_cov_m2, end_cov_m2 : (N, 2, 2), of view and click alone. A reception's height is apart, below. The shutter
        is left out: a ball seen late is seen further on, by its speed times the delay, and what distance and time are
        off by cancels in their quotient. Where marks around an end tell its moment it is the placed point's own.
    between_s : landing frame minus contact frame (N,), or touch and hit themselves where marks around told when.
    contact_gaps_s, end_gaps_s : times to the frames before and after, (N, 2); where touch or hit are told, as wide as
        their deviations say.
    end_height_m, end_height_sd_m : of the ball's centre there (N,), NaN where that is not known.
    end_by_height : (N, 2), how far the end moves for each metre that it was higher.
    told : whether the moment of each end, contact and landing, cannot be a frame off (N, 2): film or marks around it
        tell it, or a ball was clicked where it was in that frame.
    air_share : what `serve_marker.flight.trajectory.against_indoor` says of the ball (N,).
    radius_m : the ball's (N,).
    """

    serve_types: NDArray[Any]
    player_ids: NDArray[Any]
    contact_m: Floats
    contact_cov_m2: Floats
    end_m: Floats
    end_cov_m2: Floats
    between_s: Floats
    contact_gaps_s: Floats
    end_gaps_s: Floats
    end_height_m: Floats
    end_height_sd_m: Floats
    end_by_height: Floats
    told: NDArray[np.bool_]
    air_share: Floats
    radius_m: Floats

    def __getitem__(self, rows: Any) -> Timed:
        return Timed(*(getattr(self, part.name)[rows] for part in fields(self)))

    def frames_off(self, of_marks: float) -> Floats:
        """How many frames contact and landing (2, N) may lie off where marks may lie ``of_marks``: told ones none."""
        return np.where(self.told.T, 0.0, of_marks)


def timed(columns: Columns, seen: Sequence[tuple[View, Rows]], scales: Mapping[str, float]) -> Timed:
    """Return placed serves in true time.

    ``seen`` are the views with the rows of the serves seen through each, ``scales`` are as `time_scales` gives them.
    """
    contact_m, contact_cov_m2 = points_in(columns, "contact")
    end_m, end_cov_m2 = points_in(columns, "landing")
    carried, told, hit = carried_on(columns), *(np.isfinite(columns[name]) for name in ("touch_sd_s", "hit_sd_s"))
    air_share, radius_m = np.ones(len(carried)), np.full(len(carried), BALL_RADIUS_M)
    by_height = np.zeros_like(end_m)
    for view, rows in seen:
        guess_m2 = np.diag(GUESSED_FLOOR_SD_M) ** 2
        air_share[rows], radius_m[rows] = against_indoor(view.court.ball), view.court.ball.radius_m
        _still(contact_cov_m2, view, rows[~hit[rows]], columns, "contact", guess_m2)
        _still(end_cov_m2, view, rows[~told[rows]], columns, "landing", np.zeros((2, 2)))
        played = rows[carried[rows]]
        if len(played):
            heights_m = columns["landing_height_m"][played]
            found = received_at(view, _pixels(columns, "landing", played), heights_m)
            end_m[played], end_cov_m2[played], by_height[played] = found
    scale = looked_up(columns["clip_id"], lambda clip_id: scales.get(clip_id, 1.0), float)
    on_floor = np.where(columns["outcome"] == "floor", radius_m, np.nan)
    touched_s, hit_s = (np.nan_to_num(columns[name]) for name in ("touch_after_s", "hit_after_s"))
    touch_gaps_s, hit_gaps_s = ((12**0.5 * scale * columns[name])[:, None] for name in ("touch_sd_s", "hit_sd_s"))
    return Timed(
        *(columns["serve_type"], columns["player_id"], contact_m, contact_cov_m2, end_m, end_cov_m2),
        between_s=(columns["landing_time_s"] + touched_s - columns["contact_time_s"] - hit_s) * scale,
        contact_gaps_s=np.where(hit[:, None], hit_gaps_s, _gaps_s(columns, "contact", scale)),
        end_gaps_s=np.where(told[:, None], touch_gaps_s, _gaps_s(columns, "landing", scale)),
        end_height_m=np.where(carried, columns["landing_height_m"], on_floor),
        end_height_sd_m=np.where(carried, RECEIVED_HEIGHT_SD_M, 0.0),
        end_by_height=by_height,
        told=np.column_stack([hit, told | carried]),
        air_share=air_share,
        radius_m=radius_m,
    )


def carried_on(columns: Columns) -> NDArray[np.bool_]:
    """Which landings (N,) are estimates, as `serve_marker.marking.landing.is_carried_on` tells it of a record."""
    seen = np.isfinite(columns["landing_x_px"]) & np.isfinite(columns["landing_height_m"])
    return np.asarray(seen & (columns["outcome"] == "received"), dtype=bool)


def _still(cov_m2: Floats, view: View, rows: Rows, columns: Columns, end: str, more_m2: Floats) -> None:
    """Set the covariances of marks on the floor to those of view and click, where they are smaller."""
    on_floor = np.isfinite(columns[f"{end}_x_px"][rows]) & (columns[f"{end}_on_ball"][rows] == 0)
    rows = rows[on_floor]
    if not len(rows):
        return
    _, found = view.locate(_pixels(columns, end, rows))
    found = found + more_m2
    smaller = np.trace(found, axis1=1, axis2=2) < np.trace(cov_m2[rows], axis1=1, axis2=2)
    cov_m2[rows[smaller]] = found[smaller]


def _pixels(columns: Columns, end: str, rows: Rows) -> Floats:
    return np.column_stack([columns[f"{end}_x_px"][rows], columns[f"{end}_y_px"][rows]])


def pace_columns(of: Timed, frames_off: float = 0.0) -> dict[str, Floats]:
    """Return PACE_COLUMNS, arrays (N,); NaN without both places and times."""
    moved_m = of.end_by_height * of.end_height_sd_m[:, None]
    end_cov_m2 = of.end_cov_m2 + moved_m[:, :, None] * moved_m[:, None, :]
    ends = (of.contact_m, of.contact_cov_m2, of.end_m, end_cov_m2, of.contact_gaps_s, of.end_gaps_s)
    paces = pace(*ends, of.between_s, of.frames_off(frames_off))
    flight_s, _ = flight_time(of.between_s, of.contact_gaps_s, of.end_gaps_s)
    return dict(zip(PACE_COLUMNS, (*paces, np.where(flight_s > 0, flight_s, np.nan)), strict=True))


def flight_columns(
    of: Timed,
    players: Mapping[str, Player],
    net_heights_m: ArrayLike,
    frames_off: float = 0.0,
    played_m: tuple[float, float] = (Movement.lowest_m, Movement.highest_m),
) -> dict[str, Floats]:
    """Return FLIGHT_COLUMNS, arrays (N,); ``net_heights_m`` (N,), ``played_m`` the lowest and highest play of a ball.

    ``high_before_m`` and ``high_at_s`` are how far before its landing, and how long after contact, the ball is at the
    highest play, ``low_...`` those of the lowest; ``course_x`` and ``course_y`` its way in the court frame. NaN
    where the flight's end is not known in height (balls that struck a target, or were received without one), and where
    the pace is none a serve can have.
    """
    columns = unknown_flights(len(of.between_s))
    known = np.isfinite(of.contact_m.sum(axis=1) + of.end_m.sum(axis=1) + of.between_s + of.end_height_m)
    with np.errstate(all="ignore"):
        known &= ~impossible_mask(np.hypot(*(of.end_m - of.contact_m).T) / of.between_s)
    rows = np.flatnonzero(known)
    if not len(rows):
        return columns
    some = of[rows]
    heights_m, height_sds_m = contact_heights_m(some.player_ids, some.serve_types, players)
    off = some.frames_off(frames_off)
    flight_s, flight_sd_s = flight_time(some.between_s, some.contact_gaps_s, some.end_gaps_s, off)
    told = flights(
        *(some.contact_m, some.contact_cov_m2, some.end_m, some.end_cov_m2),
        *(flight_s, flight_sd_s),
        *(heights_m, height_sds_m, np.asarray(net_heights_m, dtype=float)[rows]),
        some.serve_types.tolist(),
        *(some.end_height_m, some.end_height_sd_m, some.end_by_height),
        some.air_share,
    )
    low, high, landed = (
        before_the_end(told.end, told.drag_per_m, told.lift_per_m, height_m) for height_m in (*played_m, some.radius_m)
    )
    intervals = (told.net_clearance_m, told.speed_mps, told.angle_deg, told.apex_m)
    way_m = some.end_m - some.contact_m
    parts = (
        *(part for told_of in intervals for part in (told_of.value, told_of.low, told_of.high)),
        *(high[0] - landed[0], low[0] - landed[0], flight_s - high[1], flight_s - low[1]),
        *(way_m / np.hypot(*way_m.T)[:, None]).T,
    )
    for name, part in zip(FLIGHT_COLUMNS, parts, strict=True):
        columns[name][rows] = part
    through = through_net_mask(columns)
    for name in PLAYABLE_COLUMNS:
        columns[name][through] = np.nan
    return columns


def unknown_flights(count: int) -> dict[str, Floats]:
    """Return FLIGHT_COLUMNS (N,) of flights that were not solved: NaN."""
    return {name: np.full(count, np.nan) for name in FLIGHT_COLUMNS}


def contact_heights_m(
    player_ids: NDArray[Any], serve_types: NDArray[Any], players: Mapping[str, Player]
) -> tuple[Floats, Floats]:
    """Heights (N,) of the ball's centre at the hit and their deviations [m]: the server's reach, else what is usual.

    Examples
    --------
    >>> noor = {"n": Player(id="n", name="Noor", standing_reach_m=2.2, jump_reach_m=2.7)}
    >>> who, kinds = np.array(["n", "n", ""], dtype=object), np.array(["jump float", "float", "float"], dtype=object)
    >>> contact_heights_m(who, kinds, noor)[0].tolist()
    [2.7, 2.2, 2.4]
    """

    def reach_m(name: str) -> Floats:
        reaches = looked_up(player_ids, lambda key: getattr(players[key], name) if key in players else None)
        return reaches.astype(float)

    jumps = np.isin(serve_types.astype(str), JUMP_SERVE_TYPES)
    reaches_m = np.where(jumps, reach_m("jump_reach_m"), reach_m("standing_reach_m"))
    usual_m = looked_up(serve_types, usual_contact_height_m, float)
    unknown = np.isnan(reaches_m)
    return np.where(unknown, usual_m, reaches_m), np.where(unknown, CONTACT_HEIGHT_SD_M, REACH_SD_M)


def _gaps_s(columns: Columns, end: str, scale: Floats) -> Floats:
    """True gaps (N, 2) before and after [s]; an unknown one is taken from the other side, or as a 30th of a second."""
    gaps = np.column_stack([columns[f"{end}_gap_{side}_s"] for side in SIDES])
    gaps = np.where(gaps == 0, gaps[:, ::-1], gaps)
    return np.where(gaps == 0, USUAL_GAP_S, gaps * scale[:, None])


def through_net_mask(columns: Mapping[str, Any]) -> NDArray[np.bool_]:
    """Whether each serve (N,) came over, but by its marks would have gone through the net; unknown flights did not.

    Even the upper end of its clearance leaves no room for the ball, whose middle passes a radius above the tape. That
    is what a contact marked too late does: the flight becomes too short for its way, and so too flat.
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(np.asarray(columns["net_clearance_high_m"], dtype=float) < BALL_RADIUS_M, dtype=bool)

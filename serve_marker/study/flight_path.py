"""The way one serve took through the air, and which ways its marks leave possible."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.flight.forces import likely_drag, likely_lift
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.pace import flight_time
from serve_marker.flight.trajectory import PER_METRE, track
from serve_marker.logbook.records import ClipEntry, Player, Serve
from serve_marker.logbook.serve_arrays import columns_of, points_in
from serve_marker.study.flight_columns import Timed, contact_heights_m, time_scales, timed

DRAWS, STEPS, SEED = 60, 40, 11


@dataclass(frozen=True, eq=False)
class FlightPath:
    """Where the ball's centre was from the hand to where its flight ended, in the court frame [m].

    ``likely_m`` (S, 3) at moments evenly apart in time; ``possible_m`` (D, S, 3) as far as the marks leave it open;
    ``told`` whether film or marks around tell both ends.
    """

    likely_m: Floats
    possible_m: Floats
    told: bool

    def above_floor_at_net_m(self) -> float:
        """Height of the ball's centre over the net's axis; NaN where it does not cross it."""
        along_m, height_m = self.likely_m[:, 1], self.likely_m[:, 2]
        if along_m[0] * along_m[-1] >= 0:
            return float("nan")
        order = np.argsort(along_m)
        return float(np.interp(0.0, along_m[order], height_m[order]))


def flight_path(
    serve: Serve, view: View, clip: ClipEntry, players: Mapping[str, Player], frames_off: float
) -> FlightPath | None:
    """Return the way of a serve as `flight_columns` solves it; None where contact, landing or a moment is not known.

    ``frames_off`` is how many frames a mark may lie beside the nearest one.
    What is possible is drawn from the same deviations, as independent normal ones: both ends, the time between, the
    height of the hit and of the end, drag and lift. A landing may be as far off as its own ellipse says.
    """
    columns = columns_of([serve])
    of = timed(columns, [(view, np.array([0]))], time_scales([clip], columns))
    known = of.contact_m.sum() + of.end_m.sum() + of.between_s.sum() + of.end_height_m.sum()
    if not np.isfinite(known) or of.between_s[0] <= 0:
        return None
    if serve.outcome == "floor":
        of = replace(of, end_cov_m2=points_in(columns, "landing")[1])
    contact_m, end_m, flight_s, heights_m, end_heights_m, drag, lift = _drawn(of, players, frames_off)
    way_m = end_m - contact_m
    length_m = np.hypot(*way_m.T)
    start = solve_launch(length_m, flight_s, heights_m, drag, lift, end_heights_m, STEPS)
    motion = track(start, flight_s, drag * PER_METRE, lift * PER_METRE, STEPS).motion
    floor_m = contact_m + (motion.along_m / length_m)[..., None] * way_m
    ways_m = np.moveaxis(np.concatenate([floor_m, motion.height_m[..., None]], axis=2), 1, 0)
    if not np.isfinite(ways_m[0]).all():
        return None
    whole = np.isfinite(ways_m).all(axis=(1, 2))
    return FlightPath(ways_m[0], ways_m[whole], bool(of.told.all()))


def _drawn(of: Timed, players: Mapping[str, Player], frames_off: float) -> tuple[Floats, ...]:
    """Contact and end (D, 2), time, heights of both, drag and lift (D,) of a serve: the likeliest, then drawn ones."""
    chance = np.random.default_rng(SEED)
    off = chance.normal(size=(5, DRAWS))
    off[:, 0] = 0.0
    height_m, height_sd_m = contact_heights_m(of.player_ids, of.serve_types, players)
    flight_s, flight_sd_s = flight_time(of.between_s, of.contact_gaps_s, of.end_gaps_s, of.frames_off(frames_off))
    pace_mps = np.hypot(*(of.end_m - of.contact_m).T) / flight_s
    (drag, drag_sd), (lift, lift_sd) = likely_drag(pace_mps), likely_lift(of.serve_types.tolist())
    ends = []
    for centre_m, covariance_m2 in ((of.contact_m[0], of.contact_cov_m2[0]), (of.end_m[0], of.end_cov_m2[0])):
        drawn_m = chance.multivariate_normal(centre_m, covariance_m2, DRAWS, check_valid="ignore")
        drawn_m[0] = centre_m
        ends.append(drawn_m)
    ends[1] = ends[1] + off[0][:, None] * of.end_height_sd_m[0] * of.end_by_height[0]
    return (
        *ends,
        flight_s + off[1] * flight_sd_s,
        height_m + off[2] * height_sd_m,
        of.end_height_m + off[0] * of.end_height_sd_m,
        of.air_share * (drag + off[3] * drag_sd),
        of.air_share * (lift + off[4] * lift_sd),
    )

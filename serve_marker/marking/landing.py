"""From clicks to floor points with honest errors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from serve_marker.camera.view.elevated import locate_aloft
from serve_marker.camera.view.view import View, longer_half_axis_m
from serve_marker.court.dimensions import Court, Floats
from serve_marker.flight.carried_on import carry_on
from serve_marker.flight.contact_height import CONTACT_HEIGHT_M, CONTACT_HEIGHT_SD_M, usual_contact_height_m
from serve_marker.flight.forces import GRAVITY_MPS2
from serve_marker.flight.pace import FLIGHT_S
from serve_marker.flight.shutter import Arrival, shutter_displacement
from serve_marker.logbook.records import FloorPoint, Half, Mark, Serve
from serve_marker.marking.contact_from_marks import PlacedHit, hit_around
from serve_marker.marking.landing_from_marks import PlacedTouch, touch_around

RECEIVED_HEIGHT_SD_M = 0.2
"""How far from the height entered, or left, a ball was received: 0.8 m stands for 0.4 to 1.2 m (own estimate)."""
USUAL_PACE_MPS = 13.0
USUAL_DOWN_MPS = 7.5
USUAL_SD_MPS = (3.5, 3.0, 1.5)
"""How far usual arrivals stray along, sideways and up where no contact was marked (own estimate)."""
MEASURED_SD_SHARE = (0.15, 0.06)
"""The same along and sideways, over the pace, where contact and landing were marked."""
MEASURED_DOWN_SD_MPS = 1.0
GUESSED_FLOOR_SD_M = (0.1, 0.3)
"""The floor point under a ball at arm's reach is judged by eye, across the court and along it (own estimate)."""
USUAL_GAP_S = 1 / 30
FALLBACK_CAMERA_HEIGHT_M = 2.0


def place(serve: Serve, view: View) -> Serve:
    """Return the serve with its floor points rebuilt from its marks through ``view``.

    A landing clicked on the ball as seen is moved by what the shutter displaces it by in the mean; its covariance holds
    the view, the click and the rest of the shutter. Marks of the ball on neighbouring frames
    give the touch itself where that leaves the smaller error.
    """
    return place_all([serve], view)[0]


def place_all(serves: Sequence[Serve], view: View, time_scale: float = 1.0) -> list[Serve]:
    """As `place`, for many serves of one view at once; ``time_scale`` is as in `in_true_time`."""
    timed = [in_true_time(serve, time_scale) for serve in serves]
    contacts = _located_contacts(timed, view)
    landings, touches = _located_landings(timed, view, contacts)
    hits = _hits(timed, view, contacts, landings)
    if hits:
        contacts = _located_contacts(timed, view, hits)
    return [
        replace(
            serve,
            contact_point=contacts[i],
            landing_point=landings[i],
            touch_after_s=touches[i].after_s / time_scale if i in touches else None,
            touch_sd_s=touches[i].sd_s / time_scale if i in touches else None,
            hit_after_s=hits[i].after_s / time_scale if i in hits else None,
            hit_sd_s=hits[i].sd_s / time_scale if i in hits else None,
        )
        for i, serve in enumerate(serves)
    ]


def in_true_time(serve: Serve, time_scale: float) -> Serve:
    """Return the serve with its marks' times as they were filmed: a slow-motion clip's times ``time_scale``.

    Examples
    --------
    >>> in_true_time(Serve(id="s", clip_id="c", landing=Mark(8.0, None, 0.04, 0.04)), 0.25).landing.time_s
    2.0
    """
    if time_scale == 1.0:
        return serve

    def timed(mark: Mark) -> Mark:
        gaps_s = {gap: getattr(mark, gap) * time_scale for gap in ("gap_before_s", "gap_after_s")}
        return replace(mark, time_s=mark.time_s * time_scale, **gaps_s)

    return replace(
        serve,
        contact=timed(serve.contact) if serve.contact else None,
        landing=timed(serve.landing) if serve.landing else None,
        ball_marks=tuple(timed(mark) for mark in serve.ball_marks),
        film_marks=tuple(timed(mark) for mark in serve.film_marks),
        contact_film_marks=tuple(timed(mark) for mark in serve.contact_film_marks),
    )


def received_at(view: View, pixels: Floats, heights_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Floor points (N, 2) [m] below balls seen at pixels (N, 2) when received at heights (N,), and their covariances.

    These leave the height out; the third array (N, 2) is how far the points move for each metre that it is more.
    """
    xy_m, cov_m2 = locate_aloft(view, pixels, heights_m, 0.0)
    x_m, y_m, camera_m = view.camera_position_m or (np.nan, np.nan, np.nan)
    return xy_m, cov_m2, (np.array([x_m, y_m]) - xy_m) / (camera_m - np.asarray(heights_m, dtype=float))[:, None]


def is_carried_on(serve: Serve) -> bool:
    """Whether the landing is an estimate: a ball received at an entered height, its flight carried on to the floor."""
    seen = serve.landing is not None and serve.landing.pixel is not None
    return serve.outcome == "received" and serve.landing_height_m is not None and seen


def _located_contacts(
    serves: Sequence[Serve], view: View, hits: Mapping[int, PlacedHit] | None = None
) -> list[FloorPoint | None]:
    """Floor points of N contacts, whose frame lies up to half a gap after the hit, or as long as ``hits`` tell.

    A floor point clicked after the hit may be the one below the ball, which has flown on. A ball clicked is taken to
    where it was when it was hit.
    """
    hits = hits or {}
    points: list[FloorPoint | None] = [None] * len(serves)
    rows = [i for i, serve in enumerate(serves) if serve.contact and serve.contact.pixel]
    marks = [mark for i in rows if (mark := serves[i].contact)]
    if not rows:
        return points
    xy_m, cov_m2 = view.locate(np.array([mark.pixel for mark in marks], dtype=float))
    late_s = _gaps_s(marks)[:, 0] / 2
    chance = late_s / (late_s + _gaps_s(marks)[:, 1] / 2)
    for k, i in enumerate(rows):
        if i in hits:
            late_s[k], chance[k] = 0.0 if marks[k].on_ball else max(-hits[i].after_s, 0.0), 1.0
    run_on_m2 = chance * (USUAL_PACE_MPS * late_s) ** 2 / 3
    cov_m2 = cov_m2 + np.diag(GUESSED_FLOOR_SD_M) ** 2
    on_ball = [k for k, mark in enumerate(marks) if mark.on_ball]
    if on_ball:
        heights_m = [usual_contact_height_m(serves[rows[k]].serve_type) for k in on_ball]
        pixels = np.array([hits[rows[k]].pixel if rows[k] in hits else marks[k].pixel for k in on_ball], dtype=float)
        xy_m[on_ball], cov_m2[on_ball] = locate_aloft(view, pixels, heights_m, CONTACT_HEIGHT_SD_M)
    cov_m2[:, 1, 1] += run_on_m2
    for i, point in zip(rows, _floor_points(xy_m, cov_m2), strict=True):
        points[i] = point
    return points


def _hits(
    serves: Sequence[Serve],
    view: View,
    contacts: Sequence[FloorPoint | None],
    landings: Sequence[FloorPoint | None],
) -> dict[int, PlacedHit]:
    """By number the hits that the film tells of N serves."""
    hits = {}
    for i, (serve, contact, landing) in enumerate(zip(serves, contacts, landings, strict=True)):
        if serve.contact_film_marks and contact and landing:
            ends_m = np.array([(contact.x_m, contact.y_m), (landing.x_m, landing.y_m)])
            hit = hit_around(serve, view, ends_m, usual_contact_height_m(serve.serve_type))
            if hit is not None:
                hits[i] = hit
    return hits


def _located_landings(
    serves: Sequence[Serve], view: View, contacts: Sequence[FloorPoint | None]
) -> tuple[list[FloorPoint | None], dict[int, PlacedTouch]]:
    """Floor points of N landings, and by number the touches that marks around them tell."""
    points: list[FloorPoint | None] = [None] * len(serves)
    touches: dict[int, PlacedTouch] = {}
    rows = [i for i, serve in enumerate(serves) if serve.landing and serve.landing.pixel]
    marks = [mark for i in rows if (mark := serves[i].landing)]
    if not rows:
        return points, touches
    chosen = [serves[i] for i in rows]
    pixels = np.array([mark.pixel for mark in marks], dtype=float)
    xy_m, cov_m2 = view.locate(pixels)
    on_ball = [k for k, mark in enumerate(marks) if mark.on_ball and not is_carried_on(chosen[k])]
    if on_ball:
        xy_m[on_ball], cov_m2[on_ball] = locate_aloft(view, pixels[on_ball], view.court.ball.radius_m, 0.0)
    carried = [k for k in range(len(rows)) if is_carried_on(chosen[k])]
    if carried:
        received = [chosen[k] for k in carried]
        xy_m[carried], cov_m2[carried] = _carried_on(received, [contacts[rows[k]] for k in carried], view)
    arrival = _arrival(chosen, marks, xy_m, [contacts[i] for i in rows], view.court)
    gaps_s = _gaps_s(marks)
    known = np.isfinite(xy_m.sum(axis=1))
    hidden_m, hidden_m2 = shutter_displacement(xy_m, _camera_m(view), arrival, gaps_s, view.click_frames_off)
    hidden_m[carried], hidden_m2[carried] = 0.0, 0.0  # a received ball was clicked where it was in that frame
    xy_m = xy_m - hidden_m
    plain_cov_m2 = cov_m2 + hidden_m2
    for k in range(len(rows)):
        balls = chosen[k].film_marks or chosen[k].ball_marks
        if known[k] and balls and chosen[k].outcome == "floor" and view.camera_position_m:
            one = Arrival(arrival.velocity_mps[k : k + 1], arrival.sd_mps[k : k + 1])
            touch = touch_around(chosen[k], marks[k], view, xy_m[k], gaps_s[k], one)
            if touch and longer_half_axis_m(touch.cov_m2[None])[0] < longer_half_axis_m(plain_cov_m2[k : k + 1])[0]:
                xy_m[k], plain_cov_m2[k], touches[rows[k]] = touch.point_m, touch.cov_m2, touch
    for i, point in zip(rows, _floor_points(xy_m, plain_cov_m2), strict=True):
        points[i] = point
    return points, touches


def _carried_on(serves: Sequence[Serve], contacts: Sequence[FloorPoint | None], view: View) -> tuple[Floats, Floats]:
    """Where N received balls would have come down, and their covariances; NaN without contact or pose."""
    marks = [(serve.landing, serve.contact) for serve in serves]
    pixels = np.array([(np.nan, np.nan) if not end or not end.pixel else end.pixel for end, _ in marks], dtype=float)
    heights_m = np.array([serve.landing_height_m for serve in serves], dtype=float)
    flight_s = np.array([end.time_s - hit.time_s if end and hit else np.nan for end, hit in marks])
    frame_s = np.array([_gaps_s([hit]).mean() if hit else np.nan for _, hit in marks])
    flight_sd_s = frame_s * (2 / 12) ** 0.5
    unseen = FloorPoint(*[np.nan] * 5)
    feet = [(p.x_m, p.y_m, p.cov_xx_m2, p.cov_xy_m2, p.cov_yy_m2) for p in (contact or unseen for contact in contacts)]
    start = np.array(feet)
    played_m, played_cov_m2, by_height = received_at(view, pixels, heights_m)
    return carry_on(
        *(start[:, :2], start[:, [2, 3, 3, 4]].reshape(-1, 2, 2), played_m, played_cov_m2),
        *(flight_s, flight_sd_s, [usual_contact_height_m(s.serve_type) for s in serves], CONTACT_HEIGHT_SD_M),
        *(heights_m, RECEIVED_HEIGHT_SD_M, by_height),
        serve_types=[serve.serve_type for serve in serves],
        ball=view.court.ball,
    )


def _camera_m(view: View) -> tuple[float, float, float]:
    """The camera's place, or a low tripod behind end a where the picture does not tell."""
    return view.camera_position_m or (0.0, -view.court.half_length_m - 5.0, FALLBACK_CAMERA_HEIGHT_M)


def _gaps_s(marks: Sequence[Mark]) -> Floats:
    """Gaps (N, 2) before and after [s]; an unknown one is taken from the other side, or as a 30th of a second."""
    gaps = np.array([(mark.gap_before_s, mark.gap_after_s) for mark in marks], dtype=float)
    gaps = np.where(gaps > 0, gaps, gaps[:, ::-1])
    return np.where(gaps > 0, gaps, USUAL_GAP_S)


def _arrival(
    serves: Sequence[Serve],
    marks: Sequence[Mark],
    landing_m: Floats,
    contacts: Sequence[FloorPoint | None],
    court: Court,
) -> Arrival:
    """How each ball comes down: from its own contact and time of flight where marked, else as serves usually do."""
    count = len(serves)
    towards = np.array(
        [-1.0 if _end_of(s, c, y) == "a" else 1.0 for s, c, y in zip(serves, contacts, landing_m[:, 1], strict=True)]
    )
    flight_s = np.array(
        [mark.time_s - s.contact.time_s if s.contact else np.nan for s, mark in zip(serves, marks, strict=True)]
    )
    flight_s[~((flight_s > FLIGHT_S[0]) & (flight_s < FLIGHT_S[1]))] = np.nan
    start_m = np.column_stack([np.zeros(count), -towards * court.half_length_m])
    seen = np.array([contact is not None for contact in contacts])
    if seen.any():
        start_m[seen] = [(c.x_m, c.y_m) for c in contacts if c]
    way_m = landing_m - start_m
    level = way_m * (USUAL_PACE_MPS / np.maximum(np.hypot(*way_m.T), 1.0))[:, None]
    velocity = np.column_stack([level, np.full(count, -USUAL_DOWN_MPS)])
    sd = np.tile(USUAL_SD_MPS, (count, 1))
    timed = np.isfinite(flight_s) & np.isfinite(way_m.sum(axis=1))
    velocity[timed, :2] = way_m[timed] / flight_s[timed, None]
    velocity[timed, 2] = -(CONTACT_HEIGHT_M / flight_s[timed] + GRAVITY_MPS2 * flight_s[timed] / 2)
    sd[timed, 2] = MEASURED_DOWN_SD_MPS
    measured = timed & seen
    speed = np.hypot(velocity[measured, 0], velocity[measured, 1])
    sd[measured, :2] = speed[:, None] * np.array(MEASURED_SD_SHARE)
    return Arrival(velocity, sd)


def arrival_at(serve: Serve, view: View, time_scale: float = 1.0) -> tuple[Floats, Arrival] | None:
    """Return the clicked floor point (2,) [m] of a landing and how the ball came down there; None off the floor."""
    timed = in_true_time(serve, time_scale)
    contacts = _located_contacts([timed], view)
    if timed.landing is None or timed.landing.pixel is None:
        return None
    xy_m = view.locate(np.array([timed.landing.pixel], dtype=float))[0]
    return (
        (xy_m[0], _arrival([timed], [timed.landing], xy_m, contacts, view.court)) if np.isfinite(xy_m).all() else None
    )


def _floor_points(xy_m: Floats, cov_m2: Floats) -> list[FloorPoint | None]:
    known = np.isfinite(xy_m.sum(axis=1)) & np.isfinite(cov_m2.sum(axis=(1, 2)))
    rows = np.column_stack([xy_m, cov_m2[:, 0, 0], cov_m2[:, 0, 1], cov_m2[:, 1, 1]]).tolist()
    return [FloorPoint(*row) if told else None for row, told in zip(rows, known.tolist(), strict=True)]


def served_to(serve: Serve) -> Half | None:
    """The receiving end: as the serving order told, else opposite the contact, else where the ball landed."""
    landed_y_m = serve.landing_point.y_m if serve.landing_point else float("nan")
    return _end_of(serve, serve.contact_point, landed_y_m)


def _end_of(serve: Serve, contact: FloorPoint | None, landed_y_m: float) -> Half | None:
    if serve.served_to:
        return serve.served_to
    if contact:
        return "a" if contact.y_m > 0 else "b"
    if landed_y_m != landed_y_m:
        return None
    return "b" if landed_y_m > 0 else "a"

"""The marks of serves: which can be dragged on the picture, a serve with one elsewhere, when and where they lie."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, FloorPoint, Half, Mark, Serve
from serve_marker.report.overlay_items import Pixel

BALL_MARK_REACH_S = 0.5
MARK_WORDS = {"landing": "Landing moved", "contact": "Contact moved", "ball": "Ball mark moved"}
"""What undo calls it, by the first word of a mark's name."""
ONE_SERVE_S = 4.0
"""A hit and an ending farther apart are of two serves."""
SAME_HIT_S, SAME_OPEN_HIT_S = 0.3, 1.0
"""Hits from one end nearer in time than this are of one serve: one that has ended, one still under way."""
SLOWEST_MOTION = 8.0
"""Times slower than life: filmed at 240 frames a second, shown at 30."""


def marks_to_drag(serves: Iterable[Serve], chosen_ids: tuple[str, ...], time_s: float) -> dict[str, Pixel]:
    """Return the marks made on the frame of that time, and landing and contact of a serve chosen alone, by name."""
    return {
        name: mark.pixel
        for serve in serves
        for name, mark in _marks_of(serve).items()
        if mark.pixel is not None
        and (mark.time_s == time_s or (chosen_ids == (serve.id,) and not name.startswith("ball")))
    }


def marked_moments_s(serves: Iterable[Serve]) -> tuple[list[float], list[float]]:
    """Return when contacts and when landings on the floor were marked [s]."""
    known = list(serves)
    contacts_s = [serve.contact.time_s for serve in known if serve.contact is not None]
    landed = (serve.landing for serve in known if serve.outcome == "floor")
    return contacts_s, [landing.time_s for landing in landed if landing is not None]


def can_be_hit_at(serve: Serve, time_s: float, time_scale: float) -> bool:
    """Whether a serve's flight, or its hit marked before, lies so near a time [s] that it can have been hit then."""
    if serve.landing is not None:
        return 0 < (serve.landing.time_s - time_s) * time_scale <= ONE_SERVE_S
    hit_s = serve.contact.time_s if serve.contact is not None else time_s
    return abs(hit_s - time_s) * time_scale <= ONE_SERVE_S


def hit_near(serves: Iterable[Serve], half: Half, time_s: float, time_scale: float) -> Serve | None:
    """Return the serve to a half whose hit was marked so near a time [s] that a hit then is the same one."""

    def away_s(serve: Serve) -> float:
        return abs(serve.contact.time_s - time_s) * time_scale if serve.contact is not None else float("inf")

    near = [
        serve
        for serve in serves
        if serve.served_to == half
        and away_s(serve) <= (SAME_OPEN_HIT_S if serve.landing is None else SAME_HIT_S)
        and can_be_hit_at(serve, time_s, time_scale)
    ]
    return min(near, key=away_s, default=None)


def refuse_ball_elsewhere(ball: Mark, landing: Mark) -> None:
    """Refuse a mark of the ball that does not stand on a frame beside its landing's."""
    if ball.time_s == landing.time_s:
        raise UserError("This is the landing's own frame. Mark the ball one frame before or after.")
    if abs(ball.time_s - landing.time_s) > BALL_MARK_REACH_S:
        raise UserError("This frame is too far from the landing. Mark within half a second of it.")


def refuse_ball_for_floor(serve: Serve) -> None:
    """Refuse the ball in the air as the place of a hit that has one on the floor, which is known better."""
    if serve.contact is not None and serve.contact.pixel is not None and not serve.contact.on_ball:
        raise UserError("The floor under this hit stays marked: it tells more than the ball does.")


def with_contact_at(serve: Serve, hit: Mark) -> Serve:
    """Return the serve hit at another moment; a place on the floor clicked before stays its place."""
    kept = serve.contact.pixel if serve.contact is not None and not serve.contact.on_ball else None
    return replace(serve, contact=replace(hit, pixel=hit.pixel or kept), contact_film_marks=())


def too_far_apart_s(hit: Mark, landed: Serve | None, clip: ClipEntry | None) -> float | None:
    """Return how long before a landing without a contact a hit was [s]; None where no slow motion is that slow."""
    if clip is None or clip.filmed_at_fps or landed is None or landed.landing is None or landed.contact is not None:
        return None
    gone_s = landed.landing.time_s - hit.time_s
    return gone_s if 0 < gone_s <= ONE_SERVE_S * SLOWEST_MOTION else None


def hit_too_long_before(serves: Sequence[Serve], landed: Serve, clip: ClipEntry | None) -> float | None:
    """Return how long before a landing without a contact [s] a hit still waits, for which it came too late.

    None where no hit waits, and where the clip's rate has been said.
    """
    place = serves.index(landed)
    before = serves[place - 1] if place else landed
    if before.landing is not None or before.contact is None:
        return None
    return too_far_apart_s(before.contact, landed, clip)


def place_to_offer(serves: Iterable[Serve], serve: Serve, view: View, time_s: float) -> Pixel | None:
    """Return where the server's last place in this view is seen, for a contact of that time without a place."""
    if serve.contact is None or serve.contact.pixel is not None or serve.contact.time_s != time_s:
        return None
    last = _last_place(serves, serve)
    if last is None:
        return None
    x_px, y_px = view.project(np.array([(last.x_m, last.y_m)]))[0]
    return (float(x_px), float(y_px)) if np.isfinite([x_px, y_px]).all() else None


def _last_place(serves: Iterable[Serve], serve: Serve) -> FloorPoint | None:
    """Return where the server of a serve last hit before it, in this view from this end; None where not known."""

    def about(other: Serve) -> tuple[str | None, str | None, Half | None]:
        return other.player_id, other.view_id, other.served_to

    hit_before = {
        other.contact.time_s: other.contact_point
        for other in serves
        if other.contact is not None
        and other.contact_point is not None
        and serve.contact is not None
        and other.contact.time_s < serve.contact.time_s
        and about(other) == about(serve)
    }
    return hit_before[max(hit_before)] if hit_before and serve.player_id is not None else None


def serve_of(name: str) -> str:
    """Return the id of the serve that a mark belongs to."""
    return name.split()[1]


def with_mark_at(serve: Serve, name: str, pixel: Pixel) -> Serve:
    """Return the serve with that mark at another pixel of its own frame; what the film said of it is looked for anew.

    Examples
    --------
    >>> serve = Serve(id="s", clip_id="c", landing=Mark(2.0, (9.0, 9.0)))
    >>> with_mark_at(serve, "landing s", (8.0, 7.0)).landing
    Mark(time_s=2.0, pixel=(8.0, 7.0), gap_before_s=0.0, gap_after_s=0.0, on_ball=False)
    """
    moved = replace(_marks_of(serve)[name], pixel=pixel)
    if name.startswith("landing"):
        return replace(serve, landing=moved, film_marks=(), contact_film_marks=())
    if name.startswith("contact"):
        return replace(serve, contact=moved, contact_film_marks=())
    return replace(serve, ball_marks=tuple(moved if mark.time_s == moved.time_s else mark for mark in serve.ball_marks))


def _marks_of(serve: Serve) -> dict[str, Mark]:
    ends = {"landing": serve.landing, "contact": serve.contact}
    balls = {f"ball {serve.id} {place}": mark for place, mark in enumerate(serve.ball_marks)}
    return {f"{part} {serve.id}": mark for part, mark in ends.items() if mark is not None} | balls

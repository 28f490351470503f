"""The marks of serves: which can be dragged on the picture, a serve with one elsewhere, when and where they lie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.logbook.records import ClipEntry, FloorPoint, Half, Mark, Serve
from serve_marker.report.overlay_items import Pixel

MARK_WORDS = {"landing": "Landing moved", "contact": "Contact moved", "ball": "Ball mark moved"}
"""What undo calls it, by the first word of a mark's name."""
ONE_SERVE_S = 4.0
"""A hit and an ending farther apart are of two serves."""
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

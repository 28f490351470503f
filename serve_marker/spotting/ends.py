"""Both ends of a found serve, looked at again on the film as if a coach had clicked them.

What marking knows of a landing and of a hit (`serve_marker.marking`) tells them to a part of a frame, and its own
errors; the flight, held at these ends, then tells the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError
from serve_marker.flight.touch import seen_from
from serve_marker.logbook.records import FloorPoint, Half, Mark, Serve
from serve_marker.marking.ball_search import Balls
from serve_marker.marking.contact_from_marks import HIT_FIT_SD, HIT_SD_FRAMES
from serve_marker.marking.contact_on_film import contact_balls
from serve_marker.marking.landing import place
from serve_marker.marking.landing_on_film import landing_balls
from serve_marker.spotting.candidates import ball_radii_px
from serve_marker.spotting.frames_around import FramesAround
from serve_marker.spotting.serve_fit import SeenEnds, ServeFit, serve_through
from serve_marker.spotting.serves import FoundServe

LANDING_WITHIN_S, CONTACT_WITHIN_S = 0.06, 0.1
"""A fit of candidates tells when a serve came down and was hit to this at least (own study on rendered film)."""
TRIED_S = (0.0, -1 / 30, 1 / 30, -1 / 15)
"""So long after a flight's end is its touch looked for, until one is found."""
FIT_SD, END_SD_S = 2.0, 1 / 60
COMMON_SD_PX, COMMON_SD_RADII = 0.4, 0.05
"""Times the fit's own deviation that is stated for an end told by the flight alone, and how far the end of a flight
in the air lies from the middle of two looks; the error all centres near an end share, as shade and shadow draw them
down, and over the radius (own study on rendered film)."""
UNTOLD_M2 = np.eye(2)
"""What the view adds where its error cannot be told, near the horizon [m2] (own choice)."""
UNSEEN_CONTACT_SD_S, MOST_SEEN_SHARE = 0.03, 0.9
"""Deviation of a contact told by the flight alone (own study: 30 ms in the middle, at worst 150)."""


@dataclass(frozen=True, eq=False)
class ServeEnds:
    """When a serve was hit and ended, where it ended (2,) [m], its covariance (2, 2) [m2] and the flight between.

    ``toss_seen`` and ``rebound_seen`` tell whether the film shows the ball come and leave there. ``marked`` is the
    serve as a coach would have clicked it, with the ball as the film shows it around the clicks.
    """

    contact_s: float
    end_s: float
    end_xy_m: Floats
    end_cov_m2: Floats
    toss_seen: bool
    rebound_seen: bool
    fit: ServeFit
    marked: Serve


def looked_at_again(found: FoundServe, times_s: Floats, view: View, reader: FramesAround) -> ServeEnds:
    """Return the ends of a found serve as the film shows them, or its flight; ``times_s`` are those of its looks."""
    fit = found.fit
    end_s, xy_m, cov_m2 = end_of_flight(fit, view)
    tried_s = (end_s, *(fit.end_s + late_s for late_s in TRIED_S))
    reader.keep((fit.contact_s, *tried_s))
    serve = _as_marked(fit, end_s, view, reader)
    landed = None if fit.outcome == "net" else _landing_near(fit, tried_s, view, reader)
    if landed is not None:
        fit, serve = replace(fit, outcome="floor"), landed
        end_s, xy_m, cov_m2 = _touch_of(landed)
    contact_s, contact_sd_s, contact_marks = _contact_seen(serve, fit, xy_m, view, reader) or (
        fit.contact_s,
        UNSEEN_CONTACT_SD_S,
        (),
    )
    toss_seen = contact_sd_s < UNSEEN_CONTACT_SD_S
    height_m = view.court.ball.radius_m if fit.outcome == "floor" else float(fit.moved(end_s, view)[0][2])
    height_sd_m = 0.01 if fit.outcome == "floor" else float(np.sqrt(fit.place_cov_m2(end_s, view)[2, 2]))
    ends = SeenEnds(
        contact_s,
        contact_sd_s,
        end_s,
        np.array([*xy_m, height_m]),
        np.array([*np.sqrt(np.diagonal(cov_m2)), max(height_sd_m, 0.01)]),
    )
    held = serve_through(found.flight, times_s, view, fit.outcome, fit, ends)
    marked = replace(serve, outcome=fit.outcome or "floor", contact_film_marks=contact_marks)
    return ServeEnds(contact_s, end_s, xy_m, cov_m2, toss_seen, landed is not None, held or fit, marked)


def _as_marked(fit: ServeFit, end_s: float, view: View, reader: FramesAround) -> Serve:
    """The serve as if a coach had clicked the floor below its hit, and the ball at its end."""
    to: Half = "b" if fit.moved(end_s, view)[1][1] > 0 else "a"
    foot_m = fit.moved(fit.contact_s, view)[0] * (1.0, 1.0, 0.0)
    contact = _marked(fit.contact_s, foot_m, view, reader)
    landing = replace(_marked(end_s, fit.moved(end_s, view)[0], view, reader), on_ball=True)
    foot = FloorPoint(float(foot_m[0]), float(foot_m[1]), 0.0, 0.0, 0.0)
    return Serve(id="", clip_id="", served_to=to, outcome="floor", contact=contact, landing=landing, contact_point=foot)


def _marked(time_s: float, place_m: Floats, view: View, reader: FramesAround) -> Mark:
    """The mark of a place (3,) [m] on the frame nearest a time."""
    frame = reader.clip.frame_at(time_s)
    x_px, y_px = view.project(place_m[None])[0].tolist()
    return Mark(reader.clip.time_s(frame), (x_px, y_px), *reader.clip.gaps_s(frame))


def _landing_near(fit: ServeFit, tried_s: Sequence[float], view: View, reader: FramesAround) -> Serve | None:
    """As `_landing_seen`, from some moments about the end: a frame off, the ball hides floor that is a metre off."""
    for moment_s in tried_s:
        landed = _landing_seen(_as_marked(fit, moment_s, view, reader), view, reader)
        if landed is not None:
            return landed
    return None


def _landing_seen(serve: Serve, view: View, reader: FramesAround) -> Serve | None:
    """The serve with its landing where the ball came down, placed; None where the film shows no rebound."""
    balls = None
    with suppress(UserError, np.linalg.LinAlgError):
        balls = landing_balls(serve, view, reader, within_s=LANDING_WITHIN_S)
    if balls is None or serve.landing is None:
        return None
    mark = _touched(balls, serve.landing, view.raised(view.court.ball.radius_m), reader)
    placed = place(replace(serve, landing=mark, film_marks=balls.marks(reader.clip)), view)
    return placed if placed.touch_after_s is not None and placed.landing_point is not None else None


def _touch_of(landed: Serve) -> tuple[float, Floats, Floats]:
    """When (s) and where (2,) [m] a serve came down by its marks, and the covariance (2, 2) [m2]."""
    point, mark = landed.landing_point, landed.landing
    assert point is not None
    assert mark is not None
    cov_m2 = np.array([[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]])
    return mark.time_s + (landed.touch_after_s or 0.0), np.array([point.x_m, point.y_m]), cov_m2


def _contact_seen(
    serve: Serve, fit: ServeFit, end_xy_m: Floats, view: View, reader: FramesAround
) -> tuple[float, float, tuple[Mark, ...]] | None:
    """When the serve was hit [s], the deviation, and the ball around it; None where the film shows no toss and hit."""
    landing_point = FloorPoint(float(end_xy_m[0]), float(end_xy_m[1]), 0.0, 0.0, 0.0)
    ball = replace(_marked(fit.contact_s, fit.moved(fit.contact_s, view)[0], view, reader), on_ball=True)
    balls = None
    with suppress(UserError, np.linalg.LinAlgError):
        marked = replace(serve, contact=ball, landing_point=landing_point)
        balls = contact_balls(marked, view, reader, within_s=CONTACT_WITHIN_S)
    if balls is None:
        return None
    sd_s = np.hypot(HIT_FIT_SD * balls.touch.moment_sd_s, HIT_SD_FRAMES / reader.clip.shown_fps)
    sd_s = float(min(sd_s, MOST_SEEN_SHARE * UNSEEN_CONTACT_SD_S))
    return ball.time_s + balls.touch.moment_s, sd_s, balls.marks(reader.clip)


def _touched(balls: Balls, mark: Mark, raised: View, reader: FramesAround) -> Mark:
    """The mark of the frame nearest a touch, on the ball as it is seen there."""
    frame = reader.clip.frame_at(mark.time_s + balls.touch.moment_s)
    time_s = reader.clip.time_s(frame)
    since_s = np.array([time_s - mark.time_s - balls.touch.moment_s])
    seen, _ = seen_from(balls.state[None], since_s, raised.projection, 0.0)
    x_px, y_px = raised.lens.bend(seen[0])[0].tolist()
    return Mark(time_s, (x_px, y_px), *reader.clip.gaps_s(frame), on_ball=True)


def end_of_flight(fit: ServeFit, view: View) -> tuple[float, Floats, Floats]:
    """When a fit's flight ended, its floor point (2,) [m] and covariance (2, 2) [m2], by the flight alone.

    The covariance holds the fit, what all centres have in common, and the view; a ball told too high on its way down
    lands further on, and one that ends in the air may have done so anywhere between two looks.
    """
    end_s = fit.ended_s(view)
    place_m, velocity = fit.moved(end_s, view)
    level = np.eye(2, 3)
    if fit.outcome == "floor":
        level[:, 2] = -velocity[:2] / min(velocity[2], -1.0)
    cov_m2 = FIT_SD**2 * level @ fit.place_cov_m2(end_s, view) @ level.T
    if fit.outcome != "floor":
        cov_m2 = cov_m2 + END_SD_S**2 * np.outer(velocity[:2], velocity[:2])
    radius_px = float(ball_radii_px(view, place_m[None])[0])
    pixel = view.project(place_m[None])
    sd_px = float(np.hypot(COMMON_SD_PX, COMMON_SD_RADII * radius_px))
    height_m = min(float(place_m[2]), 0.9 * view.camera_height_m)
    seen_cov = view.without_hand().raised(height_m).locate_with(pixel, np.eye(2)[None] * sd_px**2)[1][0]
    return end_s, place_m[:2], cov_m2 + (seen_cov if np.isfinite(seen_cov).all() else UNTOLD_M2)

"""Both ends of a found serve, looked at again on the film as if a coach had clicked them.

What marking knows of a landing and of a hit (`serve_marker.marking`) tells them to a part of a frame, and its own
errors; the flight, held at these ends, then tells the rest.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Floats
from serve_marker.errors import UserError
from serve_marker.flight.touch import seen_from
from serve_marker.logbook.records import FloorPoint, Half, Mark, Serve
from serve_marker.marking.ball_search import Balls
from serve_marker.marking.contact_on_film import contact_balls
from serve_marker.marking.landing import place
from serve_marker.marking.landing_on_film import landing_balls
from serve_marker.spotting.candidates import ball_radii_px
from serve_marker.spotting.serve_fit import SeenEnds, ServeFit, serve_through
from serve_marker.spotting.serves import FoundServe
from serve_marker.video.frames import FrameReader

WITHIN_S = 0.06
"""A fit of candidates tells when a serve was hit and came down to this at least (own study on rendered film)."""
FIT_SD = 1.5
COMMON_SD_PX, COMMON_SD_RADII = 0.4, 0.05
"""Times the fit's own deviation that is stated, and the error all centres near an end share: shade and shadow draw them
down (own study on rendered film)."""
UNSEEN_CONTACT_SD_S = 0.03
"""Deviation of a contact told by the flight alone (own study: 30 ms in the middle, at worst 150)."""


@dataclass(frozen=True, eq=False)
class ServeEnds:
    """When a serve was hit and ended, where it ended (2,) [m], its covariance (2, 2) [m2] and the flight between.

    ``toss_seen`` and ``rebound_seen`` tell whether the film shows the ball come and leave there.
    """

    contact_s: float
    end_s: float
    end_xy_m: Floats
    end_cov_m2: Floats
    toss_seen: bool
    rebound_seen: bool
    fit: ServeFit


def looked_at_again(found: FoundServe, times_s: Floats, view: View, reader: FrameReader) -> ServeEnds:
    """Return the ends of a found serve as the film shows them, or else as its flight tells; ``times_s`` are of its looks."""
    serve = _as_marked(found.fit, view, reader)
    landing = None if found.fit.outcome == "net" else _landing_seen(serve, view, reader)
    fit = found.fit
    if landing is not None:
        serve = landing
        fit = replace(fit, outcome="floor")
        assert serve.landing is not None and serve.landing_point is not None
        end_s = serve.landing.time_s + (serve.touch_after_s or 0.0)
        point = serve.landing_point
        xy_m = np.array([point.x_m, point.y_m])
        cov_m2 = np.array([[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]])
    else:
        end_s, xy_m, cov_m2 = end_of_flight(fit, view)
        serve = replace(serve, landing_point=FloorPoint(*xy_m.tolist(), cov_m2[0, 0], cov_m2[0, 1], cov_m2[1, 1]))
    contact_s, contact_sd_s = _contact_seen(serve, view, reader) or (fit.contact_s, UNSEEN_CONTACT_SD_S)
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
    return ServeEnds(contact_s, end_s, xy_m, cov_m2, toss_seen, landing is not None, held or fit)


def _as_marked(fit: ServeFit, view: View, reader: FrameReader) -> Serve:
    """The serve as if both its ends had been clicked on the ball."""
    to: Half = "b" if fit.moved(fit.end_s, view)[1][1] > 0 else "a"
    contact, landing = (_marked(fit, time_s, view, reader) for time_s in (fit.contact_s, fit.end_s))
    return place(Serve(id="", clip_id="", served_to=to, outcome="floor", contact=contact, landing=landing), view)


def _marked(fit: ServeFit, time_s: float, view: View, reader: FrameReader) -> Mark:
    clip = reader.clip
    frame = clip.frame_at(time_s)
    shown_s = clip.time_s(frame)
    x_px, y_px = view.project(fit.moved(shown_s, view)[0][None])[0].tolist()
    return Mark(shown_s, (x_px, y_px), *clip.gaps_s(frame), on_ball=True)


def _landing_seen(serve: Serve, view: View, reader: FrameReader) -> Serve | None:
    """The serve with its landing told by the ball's way down and its rebound, None where the film shows none."""
    balls = None
    with suppress(UserError, np.linalg.LinAlgError):
        balls = landing_balls(serve, view, reader, within_s=WITHIN_S)
    if balls is None or serve.landing is None:
        return None
    raised = view.raised(view.court.ball.radius_m)
    marked = replace(serve, landing=_touched(balls, serve.landing, raised, reader), film_marks=balls.marks(reader.clip))
    placed = place(marked, view)
    return placed if placed.touch_after_s is not None else None


def _contact_seen(serve: Serve, view: View, reader: FrameReader) -> tuple[float, float] | None:
    """When the serve was hit [s] and the deviation, None where the film does not show toss and hit."""
    balls = None
    with suppress(UserError, np.linalg.LinAlgError):
        balls = contact_balls(serve, view, reader, within_s=WITHIN_S)
    if balls is None or serve.contact is None:
        return None
    frame = reader.clip.frame_at(serve.contact.time_s + balls.touch.moment_s)
    moved = replace(serve.contact, time_s=reader.clip.time_s(frame))
    placed = place(replace(serve, contact=moved, contact_film_marks=balls.marks(reader.clip)), view)
    if placed.hit_after_s is None or placed.hit_sd_s is None:
        return None
    return moved.time_s + placed.hit_after_s, min(placed.hit_sd_s, UNSEEN_CONTACT_SD_S * 0.99)


def _touched(balls: Balls, mark: Mark, raised: View, reader: FrameReader) -> Mark:
    """The mark of the frame nearest a touch, on the ball as it is seen there."""
    frame = reader.clip.frame_at(mark.time_s + balls.touch.moment_s)
    time_s = reader.clip.time_s(frame)
    since_s = np.array([time_s - mark.time_s - balls.touch.moment_s])
    seen, _ = seen_from(balls.state[None], since_s, raised.projection, 0.0)
    x_px, y_px = raised.lens.bend(seen[0])[0].tolist()
    return Mark(time_s, (x_px, y_px), *reader.clip.gaps_s(frame), on_ball=True)


def end_of_flight(fit: ServeFit, view: View) -> tuple[float, Floats, Floats]:
    """When a fit's flight ended, its floor point (2,) [m] and covariance (2, 2) [m2], by the flight alone.

    The covariance holds the fit, what all centres have in common, and the view.
    """
    end_s = fit.end_s if fit.outcome != "floor" else _down_s(fit, view)
    place_m = fit.moved(end_s, view)[0]
    cov_m2 = FIT_SD**2 * fit.place_cov_m2(end_s, view)[:2, :2]
    radius_px = float(ball_radii_px(view, place_m[None])[0])
    pixel = view.project(place_m[None])
    sd_px = float(np.hypot(COMMON_SD_PX, COMMON_SD_RADII * radius_px))
    height_m = min(float(place_m[2]), 0.9 * view.camera_height_m)
    seen_cov = view.raised(height_m).locate_with(pixel, np.eye(2)[None] * sd_px**2)[1][0]
    return end_s, place_m[:2], cov_m2 + np.where(np.isfinite(seen_cov), seen_cov, 0.0)


def _down_s(fit: ServeFit, view: View) -> float:
    """When the ball of a fit comes down to the floor."""
    end_s = fit.end_s
    for _ in range(6):
        place_m, velocity = fit.moved(end_s, view)
        end_s -= (place_m[2] - view.court.ball.radius_m) / min(velocity[2], -1.0)
    return float(end_s)

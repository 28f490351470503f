"""What may be wrong with marks: which one spoils the view, which carries it alone, which other court fits better."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.fitting.bundle_adjustment import LEAST_LEVERAGE_LEFT, Adjusted, adjust
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.lens_choice import LensChoice, shown_by
from serve_marker.camera.fitting.net_check import net_marks
from serve_marker.camera.fitting.observations import OTHER_LINE_SHARE, of_marks, of_traces, together
from serve_marker.camera.view.homography import solve_homography
from serve_marker.camera.view.landmark_ways import WRONG_SHARE
from serve_marker.camera.view.model import from_homography
from serve_marker.camera.view.view import Trace
from serve_marker.court.dimensions import COURTS, Court, Floats, landmarks

CLEARLY_LIKELIER = 3.0
"""Log of how many times likelier marks must be on another court to be said so: 20 times."""
SUSPICIOUS_CLICKS, SUSPICIOUS_PX, SUSPICIOUS_P = 1.5, 1.5, 0.05
"""Marks are worth a word that miss by more than a hand of so many clicks and pixels leaves in so few cases: widening
alone takes care of coarser hands than the careful one, and a word that comes each time is read by nobody."""
SUSPICIOUS_RESIDUAL_PX = 4.0
"""A single mark that misses by more is worth another look; in a picture 1920 px wide."""
CARRIED_ERRORS = 3.0
CARRIED_M = 1.0
"""A mark carries the view alone where a slip of so many stated errors and metres at its place shows nowhere."""

WRONG_SQUARES = 25.0
"""A crossing five of its deviations off is that of other lines."""
WRONG_COST = -2 * math.log(WRONG_SHARE)
CLEARLY_LESS = 10.0
"""Which one is wrong is clear where leaving it out makes the rest e^5 = 150 times likelier than leaving out another."""


@dataclass(frozen=True)
class Spoiler:
    """The mark without which the others agree best.

    ``off_px`` is how far it lies from where the others put it; ``alone`` whether without it nothing is amiss.
    """

    index: int
    off_px: float
    alone: bool


def unsuspicious_hand_px(hand: Hand) -> float:
    """How far [px] a hand may click off, as a standard deviation, without a word about its marks."""
    return max(SUSPICIOUS_CLICKS * hand.click_sd_px, SUSPICIOUS_PX)


def wrong_crossing(choice: LensChoice, marks: int) -> int | None:
    """The one of the first ``marks`` at a crossing that alone does not fit; None where none does, or it is not clear.

    How far each misses the camera found without it is told in its own deviations (Cook and Weisberg, *Residuals and
    Influence in Regression*, 1982, 2.2; from memory).
    """
    residual = choice.found.residual_px[:marks] / choice.expected.sd_px[:marks, None]
    room = choice.found.checked[:marks] + np.eye(2) * LEAST_LEVERAGE_LEFT
    missed = (residual * np.linalg.solve(room, residual[:, :, None])[:, :, 0]).sum(axis=1)
    if not (missed[choice.expected.crossing[:marks]] > WRONG_SQUARES).any():
        return None
    left = _each_left_out(choice, marks)
    clear = len(left) > 1 and left[1][0] - left[0][0] > CLEARLY_LESS
    return left[0][1] if clear and choice.expected.crossing[left[0][1]] else None


def _each_left_out(choice: LensChoice, marks: int) -> list[tuple[float, int, Adjusted]]:
    """What the camera without one of the first ``marks`` costs, which one that is, and that camera; the best first.

    Costs are squares, -2 times the log of how likely all that is; a click slips sooner than a crossing is wrong.
    """
    left = []
    for i in range(marks):
        found = adjust(choice.camera, choice.expected.only(_but(i, choice)), choice.known)
        if found is not None:
            left.append((found.cost + WRONG_COST * bool(choice.expected.crossing[i]), i, found))
    return sorted(left, key=lambda one: one[0])


def spoiler_of(choice: LensChoice, marks: int, hand_px: float) -> Spoiler | None:
    """The one of the first ``marks`` observations to look at first; hands up to ``hand_px`` are not worth a word."""
    left = _each_left_out(choice, marks)
    if not left:
        return None
    _, i, found = left[0]
    shown = found.camera.shown(choice.seen.points_m[i : i + 1])[0]
    rest = misses(*shown_by(found, choice.expected.only(_but(i, choice)), choice.hand))
    return Spoiler(i, float(np.hypot(*(choice.seen.pixels_px[i] - shown))), rest.chance_of(hand_px) >= SUSPICIOUS_P)


def carrier_of(choice: LensChoice, marks: int, hand_px: float, error_m: Floats) -> tuple[int, float] | None:
    """The mark (and how far [m] its landmark would move) whose slip would go unnoticed though it exceeds all stated.

    One at the crossing of its lines is checked by these.

    Parameters
    ----------
    error_m : (marks,), the stated error at each mark's place.
    """
    from scipy.special import chdtri

    hand = misses(choice.hand, choice.crossings)
    most = float(chdtri(max(hand.freedom, 0.5), SUSPICIOUS_P)) * (hand_px / hand.click_sd_px) ** 2
    room_px2 = max(most - hand.freedom, 0.0) * hand.click_sd_px**2
    found: list[tuple[float, int, float]] = []
    _, _, by_points = choice.camera.derivatives(choice.seen.points_m[:marks])
    for i in np.flatnonzero(~choice.expected.crossing[:marks]):
        share, direction = np.linalg.eigh(choice.found.checked[i])
        slip_px = np.sqrt(room_px2 / max(share[0], 1e-6)) * (1 - share[0])
        moved_m = float(np.hypot(*np.linalg.solve(by_points[i, :, :2], slip_px * direction[:, 0])))
        if moved_m > max(CARRIED_M, CARRIED_ERRORS * error_m[i]):
            found.append((moved_m / error_m[i], int(i), moved_m))
    return max(found)[1:] if found else None


def inner_edges(court: Court) -> Court:
    """The court whose outer edges are this one's inner ones.

    Examples
    --------
    >>> inner = inner_edges(COURTS["indoor"])
    >>> inner.length_m, inner.width_m, inner.attack_line_m
    (17.9, 8.9, 3.0)
    """
    two_m = 2 * court.line_width_m
    return replace(court, length_m=court.length_m - two_m, width_m=court.width_m - two_m)


def likelier_courts(
    choice: LensChoice,
    court: Court,
    marks: Mapping[str, tuple[float, float]],
    traces: Mapping[str, Trace],
    net_height_m: float,
    image_size: tuple[int, int],
) -> list[Court]:
    """The preset courts, and ours by its inner edges, on which the marks are clearly likelier, whatever the hand.

    The likeliest comes first, with those that are not clearly less likely than it.

    Sizes are told apart only where marks of the net are among those that ``choice`` was made of.
    """
    names = [name for name in landmarks(court) if name in marks]
    pixels = choice.seen.pixels_px[: len(names)]
    count, sd_px = len(names), choice.hand.click_sd_px * choice.hand.over_click
    ours = shown_by(choice.found, choice.expected, choice.hand)
    likelier: list[tuple[float, Court]] = []
    for other in (inner_edges(court), *(one for one in COURTS.values() if one != court)):
        places = landmarks(other)
        if not all(name in places for name in names):
            continue
        floor = np.array([places[name] for name in names])
        H = solve_homography(floor[:, :2], pixels)
        start = from_homography(H, choice.camera.focal_px, replace(choice.camera.lens, k1=0.0, k2=0.0))
        if start is None:
            continue
        seen = together(
            of_marks(floor, pixels, choice.seen.sd_px[:count], choice.seen.crossing[:count]),
            of_traces(traces, other, H, sd_px, OTHER_LINE_SHARE * max(image_size)),
        )
        if len(choice.seen.pixels_px) > len(seen.pixels_px):
            above = net_marks(marks, other, net_height_m, start, sd_px)
            seen = together(seen, above) if above else seen
        found = adjust(start, seen, choice.known)
        if found is None or seen.values != choice.seen.values:
            continue
        theirs = shown_by(found, choice.expected, choice.hand)
        gain = sum(
            replace(mine, squares=its.squares).log_evidence() - mine.log_evidence()
            for mine, its in zip(ours, theirs, strict=True)
        )
        if gain > CLEARLY_LIKELIER:
            likelier.append((gain, other))
    likelier.sort(key=lambda one: -one[0])
    return [other for gain, other in likelier if likelier[0][0] - gain < CLEARLY_LIKELIER]


def misses(hand: Hand, crossings: Hand) -> Hand:
    """What clicks and crossings together miss the court by, as if all were clicks."""
    as_clicks = (crossings.click_sd_px / hand.click_sd_px) ** 2
    return replace(hand, squares=hand.squares + crossings.squares * as_clicks, freedom=hand.freedom + crossings.freedom)


def _but(i: int, choice: LensChoice) -> NDArray[np.bool_]:
    return np.asarray(np.arange(len(choice.seen.pixels_px)) != i)

"""What a coach should know about a fitted view, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.net_check import NetSeen, net_sentence
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.view.homography import map_points, solve_homography
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import COURTS, Court, Floats, landmarks

LARGE_ERROR_M = 0.5
SMALL_PART = 0.2
"""Share of the picture, in both directions, that marks should reach over at least."""
SAME_SPOT_SD = 4.0
TIE_M = 1.0
WORTH_TELLING_CLICKS, WORTH_TELLING_PX, WORTH_TELLING_P = 1.5, 1.5, 0.05
"""Marks are worth a word that miss by more than a hand of so many clicks and pixels leaves in so few cases: widening
alone takes care of coarser hands than the careful one, and a word that comes each time is read by nobody."""
BETTER_COURT_GAIN = 4.0
OFF_LINE_SD = 4.0
OFF_LINE_SHARE = 2.0
LINE_WORDS = {
    "end-a": "the end line of end a",
    "end-b": "the end line of end b",
    "attack-a": "the attack line of end a",
    "attack-b": "the attack line of end b",
    "centre": "the centre line",
    "left": "the left sideline",
    "right": "the right sideline",
}
EDGE_WORDS = {"attack-a": "rear edge", "attack-b": "rear edge", "centre": "middle"}


def warnings_of(view: View, residuals_px: Mapping[str, float], floor: Floats, pixels: Floats, hand: Hand) -> list[str]:
    """Return sentences about a view fitted to ``pixels`` (N, 2) of ``floor`` points (N, 2) [m].

    ``hand`` is what the marks show of it.
    """
    names = list(residuals_px)
    return [
        *_about_residuals(view, names, residuals_px, floor, pixels, hand),
        *_about_traces(view),
        *_about_places(view, names, pixels),
        *_about_end_names(view),
        *_about_error(view, len(names)),
    ]


def _about_residuals(
    view: View, names: list[str], residuals_px: Mapping[str, float], floor: Floats, pixels: Floats, hand: Hand
) -> list[str]:
    if len(names) == 4 and not view.traces:
        return ["With exactly four marks a slip of one of them goes unnoticed; mark a fifth landmark if you can."]
    if hand.chance_of(max(WORTH_TELLING_CLICKS * hand.click_sd_px, WORTH_TELLING_PX)) >= WORTH_TELLING_P:
        return []
    other = _better_court(view, names, pixels)
    if other:
        return [
            f"The marks miss this court's lines by {view.rms_px:.1f} px, but fit the court {other.title}; "
            "check which court this is."
        ]
    worst = _most_doubtful(names, residuals_px, floor, pixels)
    return [
        f"The marks miss the court's lines by {view.rms_px:.1f} px, more than careful clicks do: look at {worst} "
        f"first ({residuals_px[worst]:.1f} px off), then at the others; the wrong court size does this too."
    ]


def _better_court(view: View, names: list[str], pixels: Floats) -> Court | None:
    """Another court whose landmarks of the same names fit the straightened marks far better."""
    straight = view.lens.straighten(pixels)

    def misfit_px(court: Court) -> float:
        places = landmarks(court)
        if len(names) < 5 or not all(name in places for name in names):
            return np.inf
        floor = np.array([places[name][:2] for name in names])
        return float(np.sqrt(((straight - map_points(solve_homography(floor, straight), floor)) ** 2).mean()))

    ours_px = misfit_px(view.court)
    others = [(misfit_px(court), name) for name, court in COURTS.items()]
    best_px, name = min(others)
    return COURTS[name] if best_px * BETTER_COURT_GAIN < ours_px else None


def _about_traces(view: View) -> list[str]:
    """A traced line whose points lie well off where the others put it: the wrong edge or the wrong line."""
    ends = line_ends(view.court)
    sentences = []
    for line, trace in view.traces.items():
        if line not in ends or not trace:
            continue
        steps = np.linspace(0.0, 1.0, 201)[:, None]
        shown = view.project((1 - steps) * ends[line][0] + steps * ends[line][1])
        shown = shown[np.isfinite(shown).all(axis=1)]
        if len(shown) < 2:
            continue
        off_px = float(np.sqrt(np.mean([_distance_px(np.array(pixel), shown) ** 2 for pixel in trace])))
        if off_px > OFF_LINE_SD * view.click_sd_px and off_px > OFF_LINE_SHARE * max(view.rms_px, 1e-9):
            sentences.append(
                f"The points traced along {LINE_WORDS[line]} lie {off_px:.1f} px off it; trace its "
                f"{EDGE_WORDS.get(line, 'outer edge')} again."
            )
    return sentences


def _distance_px(pixel: Floats, polyline: Floats) -> float:
    start, way = polyline[:-1], np.diff(polyline, axis=0)
    share = np.clip(((pixel - start) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-12), 0.0, 1.0)
    return float(np.hypot(*(pixel - start - share[:, None] * way).T).min())


def about_net(net: NetSeen | None, court: Court, net_height_m: float) -> list[str]:
    """A sentence where the marked net is at odds with the height chosen."""
    return [net_sentence(net, court, net_height_m)] if net and net.at_odds else []


def _most_doubtful(names: list[str], residuals_px: Mapping[str, float], floor: Floats, pixels: Floats) -> str:
    """The mark without which the others agree best; of five marks any four agree, so there the largest residual."""
    if len(names) <= 5:
        return max(residuals_px, key=lambda name: residuals_px[name])

    def rest_misfit_px2(i: int) -> float:
        kept = np.arange(len(names)) != i
        H = solve_homography(floor[kept], pixels[kept])
        with np.errstate(all="ignore"):
            misfit_px2 = float(((pixels[kept] - map_points(H, floor[kept])) ** 2).sum())
        return misfit_px2 if np.isfinite(misfit_px2) else np.inf

    return names[min(range(len(names)), key=rest_misfit_px2)]


def _about_places(view: View, names: list[str], pixels: Floats) -> list[str]:
    sentences = [
        f"{names[i]} and {names[j]} are marked on almost the same spot; check both."
        for i, j in combinations(range(len(names)), 2)
        if np.hypot(*(pixels[i] - pixels[j])) < SAME_SPOT_SD * view.click_sd_px
    ]
    reach = np.ptp(pixels, axis=0) / np.array(view.image_size)
    if (reach < SMALL_PART).all():
        sentences.append(
            "All marks lie close together in the picture; landings far from them are uncertain, "
            "so mark landmarks further apart."
        )
    return sentences


def _about_end_names(view: View) -> list[str]:
    if view.camera_position_m is None or abs(view.camera_position_m[1]) > TIE_M:
        return []
    end_m = view.court.half_length_m
    at_a, at_b = view.project([(0.0, -end_m), (0.0, end_m)])[:, 0]
    if at_a > at_b:
        return [
            "The camera stands level with the net, where end a should be the end on the picture's left; "
            "here it is the one on the right."
        ]
    return []


def _about_error(view: View, marked: int) -> list[str]:
    error = view.expected_error_m()
    told = [(end, error[f"end_{end}"]) for end in ("a", "b") if error[f"end_{end}"] > LARGE_ERROR_M]
    unknown = [end for end in ("a", "b") if not np.isfinite(error[f"end_{end}"])]
    sentences = [f"At the end line of end {end} this view cannot tell where a ball landed." for end in unknown]
    if told:
        places = " and ".join(f"{metres:.1f} m at the end line of end {end}" for end, metres in told)
        advice = "film from higher up" if marked > 5 else "mark more landmarks, or film from higher up"
        sentences.append(f"A landing can be told to within {places} only; {advice}.")
    return sentences

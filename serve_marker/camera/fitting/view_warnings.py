"""What a coach should know about a fitted view, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from serve_marker.camera.fitting.doubtful_marks import (
    SUSPICIOUS_P,
    carrier_of,
    likelier_courts,
    misses,
    spoiler_of,
    unsuspicious_hand_px,
)
from serve_marker.camera.fitting.lens_choice import LensChoice
from serve_marker.camera.fitting.net_check import NetSeen, net_sentence
from serve_marker.camera.fitting.observations import line_ends
from serve_marker.camera.view.landmark_ways import is_crossing
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import Court, Floats, landmarks

LARGE_ERROR_M = 0.5
LARGE_ERROR_WORDS = "A landing is told only to"
SMALL_PART = 0.2
"""Share of the picture, in both directions, that marks should reach over at least."""
SAME_SPOT_SD = 4.0
TIE_M = 1.0
SIZE_TOLD_SHARE = 0.03
"""A net known to within this share tells courts of a tenth more or less apart at 3.5 deviations."""
FOUR_WORDS = (
    "With four marks a slip of one goes unnoticed, so errors are told large. Mark a fifth landmark or trace a line."
)
FOUR_MOVED_WORDS = "Four marks cannot show a slip. Mark a fifth landmark or trace a line."
FIVE_WORDS = "With five marks one slip can go unnoticed. Mark a sixth landmark or trace a line."
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


def warnings_of(view: View, residuals_px: Mapping[str, float], pixels: Floats, choice: LensChoice) -> list[str]:
    """Return sentences about a view fitted to ``pixels`` (N, 2) of landmarks, whose camera was chosen as told.

    The one to act on comes first.
    """
    names = list(residuals_px)
    hand_px = unsuspicious_hand_px(choice.hand)
    return [
        *_about_residuals(view, names, residuals_px, choice, hand_px),
        *_about_unmoved(view, choice),
        *_about_traces(view),
        *_about_places(view, names, pixels),
        *_about_end_names(view),
        *_about_carrier(view, names, choice, hand_px),
        *_about_error(view, len(names)),
        *([FIVE_WORDS] if len(names) == 5 and not view.traces else []),
    ]


def _about_residuals(
    view: View, names: list[str], residuals_px: Mapping[str, float], choice: LensChoice, hand_px: float
) -> list[str]:
    if len(names) == 4 and not view.traces:
        return [FOUR_MOVED_WORDS if choice.hand.ways.moved_px else FOUR_WORDS]
    others = likelier_courts(choice, view.court, view.marks, view.traces, view.net_height_m, view.image_size)
    if others:
        what = ["the lines' inner edges" if one.name == view.court.name else f"the court {one.title}" for one in others]
        return [
            f"The marks miss this court's outer edges by {view.rms_px:.1f} px. They fit {' or '.join(what)}. "
            "Check which you marked."
        ]
    if misses(choice.hand, choice.crossings).chance_of(hand_px) >= SUSPICIOUS_P:
        return []
    spoiler = spoiler_of(choice, len(names), hand_px)
    if spoiler and spoiler.alone:
        return [f"The mark {names[spoiler.index]} lies {spoiler.off_px:.0f} px off. Click it again."]
    worst = names[spoiler.index] if spoiler else max(names, key=lambda name: residuals_px[name])
    return [
        f"The marks miss the lines by {view.rms_px:.1f} px, more than careful clicks do. Look at {worst} first "
        f"({residuals_px[worst]:.1f} px off). Another court size does this too."
    ]


def _about_unmoved(view: View, choice: LensChoice) -> list[str]:
    """Landmarks looked for in the picture that found no crossing, where others did."""
    if not choice.hand.ways.moved_px:
        return []
    return [
        f"The mark {name} moved to no crossing. Look at it twice."
        for name in view.clicked
        if not is_crossing(name, view.marks, view.clicked)
    ]


def _about_carrier(view: View, names: list[str], choice: LensChoice, hand_px: float) -> list[str]:
    """The mark that nothing else controls."""
    if len(names) == 4 and not view.traces:
        return []
    places = landmarks(view.court)
    error_m = view.floor_error_m([places[name][:2] for name in names])
    carrier = carrier_of(choice, len(names), hand_px, error_m)
    if carrier is None:
        return []
    name, moved_m = names[carrier[0]], carrier[1]
    return [
        f"Nothing else checks {name}: {moved_m:.1f} m off would go unnoticed. "
        "Look at it twice, or trace a line through it."
    ]


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
                f"The points traced along {LINE_WORDS[line]} lie {off_px:.1f} px off. Trace its "
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


def granted_words(court: Court, net: NetSeen | None, size_told: bool = False) -> str:
    """Say what no mark of a view shows.

    A court of another size has the same proportions; only a net of known height, or the coach (``size_told``), tells
    it.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> granted_words(court_named("beach"), None)
    'Taken for granted: the court is Beach 16 × 8 m, marked on its outer edges. Measure it once.'
    """
    if size_told or (net and not net.at_odds and net.sd_m < SIZE_TOLD_SHARE * net.height_m):
        return "Taken for granted: marks lie on the lines' outer edges."
    return f"Taken for granted: the court is {court.title}, marked on its outer edges. Measure it once."


def _about_places(view: View, names: list[str], pixels: Floats) -> list[str]:
    sentences = [
        f"{names[i]} and {names[j]} are marked almost on one spot. Check both."
        for i, j in combinations(range(len(names)), 2)
        if np.hypot(*(pixels[i] - pixels[j])) < SAME_SPOT_SD * view.click_sd_px
    ]
    reach = np.ptp(pixels, axis=0) / np.array(view.image_size)
    if (reach < SMALL_PART).all():
        sentences.append(
            "All marks lie close together in the picture, so far landings are uncertain. Mark landmarks further apart."
        )
    return sentences


def _about_end_names(view: View) -> list[str]:
    if view.camera_position_m is None or abs(view.camera_position_m[1]) > TIE_M:
        return []
    end_m = view.court.half_length_m
    at_a, at_b = view.project([(0.0, -end_m), (0.0, end_m)])[:, 0]
    if at_a > at_b:
        return [
            "The camera stands level with the net. Then end a should be on the picture's left. Here it is on the right."
        ]
    return []


def _about_error(view: View, marked: int) -> list[str]:
    error = view.expected_error_m()
    told = [(end, error[f"end_{end}"]) for end in ("a", "b") if error[f"end_{end}"] > LARGE_ERROR_M]
    unknown = [end for end in ("a", "b") if not np.isfinite(error[f"end_{end}"])]
    sentences = [f"This view tells no landing at the end line of end {end}." for end in unknown]
    if told:
        places = ". It is ".join(f"{metres:.1f} m at the end line of end {end}" for end, metres in told)
        advice = "Film from higher up." if marked > 5 else "Mark more landmarks, or film from higher up."
        sentences.append(f"{LARGE_ERROR_WORDS} {places}. {advice}")
    return sentences

"""The plain sentences of Set up: how well landings will be known, what would make it better, what no mark shows."""

from __future__ import annotations

from collections.abc import Sequence

from serve_marker.camera.fitting.doubtful_marks import SUSPICIOUS_RESIDUAL_PX
from serve_marker.camera.fitting.error_reduction import HIGHER_M, Advice
from serve_marker.camera.fitting.view_from_marks import Fit
from serve_marker.camera.fitting.view_warnings import FIVE_WORDS, LARGE_ERROR_WORDS, granted_words
from serve_marker.camera.view.view import View
from serve_marker.desktop.session.court_words import in_coach_words, landmark_words
from serve_marker.marking.view_check import ClipCheck
from serve_marker.video.frame_times import clock

END_LINE_WORDS = {"a": "near end line", "b": "far end line"}
FEWEST_POINTS = 3
MUCH_DEG = 3.0
"""A camera turned by less has turned a little."""
LOST_WORDS = "the lines do not fit: mark that part's own landmarks"
CHECK_WORDS = "Do the drawn lines match the floor?"


def quality_words(view: View, fit: Fit | None, advice: Sequence[Advice] | None, court_told: bool) -> str:
    """Return how well landings will be known, what would make it better, and what no mark shows.

    A net at odds with the floor is said before all else. Until the coach has said once which court the gym has
    (``court_told``), that is asked instead of being granted.
    """
    better = better_words(view, fit, advice)
    if fit is not None and fit.net is not None and fit.net.at_odds:
        return f"{better} {error_words(view)}"
    known = f"{error_words(view)} {better}".rstrip()
    if not court_told:
        asked = f"Is the court {view.court.title}, clicked on the lines' outer edges? Press Yes, once in each gym."
        return f"{asked} {known}"
    return f"{known} {granted_words(view.court, fit.net, size_told=True)}" if fit else known


def error_words(view: View) -> str:
    """Return how well a clicked point of the floor is known."""
    error_m = view.expected_error_m()
    near, far = centimetres(error_m["end_a"]), centimetres(error_m["end_b"])
    good = f"A click is good to {far} at the far end line. At the near one it is {near}."
    return f"{good} The time between two frames adds to that."


def better_words(view: View, fit: Fit | None, advice: Sequence[Advice] | None) -> str:
    """Return what is wrong with the marks, or else what would help most; neither while advice is None, not yet known.

    A mark that is wrong is said at once, and so is a net that agrees.
    """
    if fit is None:
        return "Too few landmarks are in the picture to judge them. Check the drawn lines."
    net = fit.net if fit.net and not fit.net.at_odds else None
    agrees = f"The marked net is {net.height_m:.2f} m high, as chosen. " if net else ""
    advised = advice is None or len(advice) > 0
    if fit.warnings and not (advised and fit.warnings[0].startswith((LARGE_ERROR_WORDS, FIVE_WORDS))):
        return agrees + in_coach_words(fit.warnings[0])
    worst = max(fit.residuals_px, key=lambda name: fit.residuals_px[name])
    if fit.residuals_px[worst] > SUSPICIOUS_RESIDUAL_PX * view.image_size[0] / 1920:
        return f"{agrees}Look again at: {landmark_words(worst)} ({fit.residuals_px[worst]:.1f} px off)."
    if advice is None:
        return agrees.rstrip()
    if advice:
        return agrees + advice_words(advice[0])
    return f"{agrees}The landmarks agree to {fit.view.rms_px:.1f} px, and nothing more would help much."


def advice_words(one: Advice) -> str:
    """Return one thing that makes the error smaller, with its promise.

    Examples
    --------
    >>> advice_words(Advice("mark", "attack-b/left", "b", 0.14, 0.08))
    'Mark also the far attack line at left sideline: 14 cm at the far end line becomes 8 cm.'
    """
    what = {
        "mark": f"Mark also the {landmark_words(one.name)}" if one.kind == "mark" else "",
        "trace": f"Trace the {landmark_words(one.name)}" if one.kind == "trace" else "",
        "raise": f"Raise the tripod by {HIGHER_M:g} m",
    }[one.kind]
    return f"{what}: {centimetres(one.now_m)} at the {END_LINE_WORDS[one.end]} becomes {centimetres(one.then_m)}."


def tracing_words(line: str, points: int) -> str:
    """Return what to click while a line is being traced.

    Examples
    --------
    >>> tracing_words("end-b", 1), tracing_words("end-b", 3)
    ('Trace the far end line: 1 of 3 points', 'Trace the far end line: 3 points, L ends it')
    """
    count = f"{points} of {FEWEST_POINTS} points" if points < FEWEST_POINTS else f"{points} points, L ends it"
    return f"Trace the {landmark_words(line)}: {count}"


def centimetres(length_m: float) -> str:
    """Return a length as a coach says it."""
    if length_m != length_m:
        return "an unknown distance"
    return f"{100 * length_m:.0f} cm" if length_m < 1 else f"{length_m:.1f} m"


def camera_check_question(name: str, made_on: str, check: ClipCheck, own: bool, time_scale: float = 1.0) -> str:
    """Return the question about a view held against a clip; ``own``: the clip had this view already.

    ``time_scale`` makes the clip's times true where it is in slow motion.
    """
    number = next((number for number, segment in enumerate(check.segments) if segment.view is not None), None)
    if number is None:
        return check.warnings[0]
    first, later = check.segments[number], check.segments[number + 1 :]
    place = _place_words(name, made_on, first.turned_deg, first.shifted_px)
    parts = []
    if number:
        parts.append(f"From {clock(first.from_s * time_scale)} on: {place}. Before that, {LOST_WORDS}.")
    elif not (own and first.shifted_px == 0.0 and later):
        parts.append(f"{place[0].upper()}{place[1:]}.")
    for segment in later:
        when = f"The camera was moved at {clock(segment.from_s * time_scale)}"
        if segment.view is None:
            parts.append(f"{when}. From there on, {LOST_WORDS}.")
        else:
            parts.append(f"{when}, {_turned_words(segment.turned_deg)}. The lines moved with it.")
    return f"{' '.join(parts)} {CHECK_WORDS}"


def _place_words(name: str, made_on: str, turned_deg: float, shifted_px: float) -> str:
    same = f"same place as {name} on {made_on}"
    return f"{same}, nothing moved" if shifted_px == 0.0 else f"{same}, {_turned_words(turned_deg)}"


def _turned_words(turned_deg: float) -> str:
    return "turned a little" if turned_deg < MUCH_DEG else f"turned {turned_deg:.0f} degrees"


def found_nothing_words(count: int) -> str:
    """Return that none of the stored views is of this place.

    Examples
    --------
    >>> found_nothing_words(1)
    'This is not the place of the one stored view of this gym. Mark four landmarks for a new one.'
    """
    which = "the one stored view" if count == 1 else f"any of the {count} stored views"
    return f"This is not the place of {which} of this gym. Mark four landmarks for a new one."


def comparing_words(count: int) -> tuple[str, str]:
    """Return what is done with stored views in place of asking for landmarks, and what to do meanwhile.

    Examples
    --------
    >>> comparing_words(1)[0], comparing_words(3)[0], comparing_words(0)
    ('Comparing this clip with the stored view.', 'Comparing this clip with 3 stored views.', ('', ''))
    """
    if not count:
        return "", ""
    which = "the stored view" if count == 1 else f"{count} stored views"
    return f"Comparing this clip with {which}.", "Wait a moment, or mark landmarks yourself."

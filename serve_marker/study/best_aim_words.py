"""Where to aim, as a coach says it."""

from __future__ import annotations

from typing import Any

from serve_marker.court.aims import aim_words
from serve_marker.court.dimensions import Court
from serve_marker.study.best_aim import NEAR_SHARE, BestAim
from serve_marker.study.sentences import count_words


def lines_words(place_m: tuple[float, float], court: Court) -> str:
    """Return a place of the half frame as seen from the lines next to it.

    Examples
    --------
    >>> from serve_marker.court.dimensions import court_named
    >>> for place_m in ((1.5, 7.7), (6.0, 2.0)):
    ...     print(lines_words(place_m, court_named("indoor")))
    1.3 m inside the end line, 1.5 m from the left sideline
    2.0 m behind the net, 3.0 m from the right sideline
    """
    x_m, y_m = place_m
    inside_m = court.half_length_m - y_m
    if y_m < court.half_length_m / 2:
        depth = f"{y_m:.1f} m behind the net"
    else:
        depth = f"{abs(inside_m):.1f} m {'inside' if inside_m >= 0 else 'beyond'} the end line"
    left = x_m <= court.width_m / 2
    return f"{depth}, {x_m if left else court.width_m - x_m:.1f} m from the {'left' if left else 'right'} sideline"


def best_aim_sentence(found: BestAim, court: Court) -> str:
    """Return where serves are worth most, where they centre now, and what moving would gain where that is told."""
    best, now = (lines_words(place_m, court) for place_m in (found.best_m, found.now_m))
    places = f"Best: {best}. Now: {now}."
    if not found.is_told:
        return f"{places} Too early to say whether moving there gains anything."
    return f"{places} Moving there gains {max(found.gain_low, 0.0):.2f} to {found.gain_high:.2f} a serve."


def best_aim_more(found: BestAim) -> str:
    """Return how far the places reach that may be as good, and what the serves were."""
    (left_m, right_m), (near_m, far_m) = found.near_along()
    scatter = found.scatter
    parts = [
        count_words(scatter.seen, "landing"),
        f"{scatter.into_net} into the net" if scatter.into_net else "",
        f"{scatter.unseen_out} out unseen" if scatter.unseen_out else "",
        f"{scatter.left_out} left out" if scatter.left_out else "",
    ]
    reach = f"{near_m:.1f}–{far_m:.1f} m from the net, {left_m:.1f}–{right_m:.1f} m from the left sideline"
    return (
        f"That is where the mean of her serves at {aim_words(found.aim.text)} should lie. It is worth "
        f"{found.best:.2f} a serve. Perhaps as good: {reach}. Based on {', '.join(part for part in parts if part)}."
    )


def values_words(found: BestAim) -> str:
    """Return the values the answer holds for, and how it is told."""
    worth = found.worth
    places = "".join(f"{aim_words(name)} counts {value:g}. " for name, value in worth.places.items())
    errors = f"into the net {worth.net:g}, long {worth.long:g}, wide {worth.wide:g}"
    return (
        f"{places[:1].upper()}{places[1:]}Elsewhere in counts {worth.on_court:g}, {errors}. A place is worth the mean "
        f"over her own scatter about it. As good: within {100 * NEAR_SHARE:g} % of the range of worth on the court. "
        "That is for any scatter her serves leave possible."
    )


def best_aim_answer(found: BestAim) -> dict[str, Any]:
    """Return the answer as plain values, places in the half frame [m]."""
    (left_m, right_m), (near_m, far_m) = found.near_along()
    scatter = found.scatter
    return {
        "aim": found.aim.text,
        "serves": scatter.n,
        "landings": scatter.seen,
        "into_net": scatter.into_net,
        "out_unseen": scatter.unseen_out,
        "left_out": scatter.left_out,
        "worth": found.worth.to_dict(),
        "best": {"x_m": found.best_m[0], "y_m": found.best_m[1], "worth": found.best},
        "now": {"x_m": found.now_m[0], "y_m": found.now_m[1], "worth": found.now},
        "gain": {"low": found.gain_low, "high": found.gain_high, "told": found.is_told},
        "as_good": {"x_m": [left_m, right_m], "y_m": [near_m, far_m]},
    }

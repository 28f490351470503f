"""The numbers as a coach says them."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.court.aims import aim_words
from serve_marker.logbook.records import SERVE_TYPES
from serve_marker.study.fewest_serves import FEWEST, more_needed_words
from serve_marker.study.flight_columns import through_net_mask
from serve_marker.study.pace_limits import FASTEST_MPS, SLOWEST_MPS, impossible_mask
from serve_marker.study.pull import Bias, bias_of
from serve_marker.study.rates import (
    Counts,
    Rate,
    aim_rate,
    area_rates,
    depth_distribution,
    outcome_counts,
)
from serve_marker.study.serve_shape import on_target
from serve_marker.study.settings import in_unit

if TYPE_CHECKING:
    import pandas

TOO_CLOSE_WORDS = (
    "Too close: the film cannot tell the side of a line, area or aim. So we don't call it, and counts give both ends. "
    "Near a border the fuller side may hold a few more than counted. Received balls count where they would have "
    "landed, if their way was marked."
)
INTERVAL_WORDS = "The true rate lies in the range given, 95 times in 100. Few serves make it wide."
ONE_EVENING_WORDS = "Serves of one evening resemble each other; the ranges allow for that."
PULL_WORDS = "Pull: the mean miss. Placed: of how many balls over the net the place is known."
SMALLEST_BIAS_M = 0.1
NO_PULL = "no clear pull"
FEW_PLACED = "too few placed"
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def count_words(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> count_words(1, "serve"), count_words(3, "serve"), count_words(2, "fault")
    ('1 serve', '3 serves', '2 faults')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def date_words(date: str, with_year: bool = True) -> str:
    """Return a day as people write it.

    Examples
    --------
    >>> date_words("2026-11-03"), date_words("2026-11-03", with_year=False)
    ('Tue 3 Nov 2026', 'Tue 3 Nov')
    """
    try:
        day = datetime.date.fromisoformat(date)
    except ValueError:
        return date
    words = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    return f"{words} {day.year}" if with_year else words


def rate_words(rate: Rate) -> str:
    """Return "12 of 20", or "12–14 of 20" where some are too close to tell; "-" without attempts."""
    return f"{hits_words(rate)} of {rate.n}" if rate.n else "-"


def hits_words(rate: Rate) -> str:
    """Return "12", or "12–14" where some are too close to tell."""
    return span_words(rate.hits, rate.most)


def span_words(least: int, most: int) -> str:
    """Return a count that may not be finished.

    Examples
    --------
    >>> span_words(12, 12), span_words(12, 14), span_words(0, 3)
    ('12', '12–14', 'up to 3')
    """
    if most == least:
        return f"{least}"
    return f"{least}–{most}" if least else f"up to {most}"


def interval_words(rate: Rate) -> str:
    """Return "39 to 78 %", or "too few" below five attempts."""
    if not rate.enough:
        return "too few" if rate.n else ""
    return f"{100 * rate.low:.0f} to {100 * rate.high:.0f} %"


def rate_with_interval_words(rate: Rate) -> str:
    """Return "12 of 20 (39 to 78 %)"."""
    interval = interval_words(rate)
    return f"{rate_words(rate)} ({interval})" if interval else rate_words(rate)


def bias_words(bias: Bias) -> str:
    """Return "0.6 m short, 0.3 m right" of the aim, as far as the serves are enough to tell.

    A direction is named only where its 95 % interval leaves out zero.
    """
    if bias.over_net == 0:
        return "-"
    if not bias.placed:
        return FEW_PLACED
    if bias.n < FEWEST:
        return "too few"
    parts = []
    if is_significant(bias.long_m, bias.long_low_m, bias.long_high_m):
        parts.append(f"{abs(bias.long_m):.1f} m {'long' if bias.long_m > 0 else 'short'}")
    if is_significant(bias.right_m, bias.right_low_m, bias.right_high_m):
        parts.append(f"{abs(bias.right_m):.1f} m {'right' if bias.right_m > 0 else 'left'}")
    return ", ".join(parts) or NO_PULL


def placed_words(bias: Bias) -> str:
    """Return how many of the balls over the net a pull is of: "18 of 22"; "" without any."""
    return f"{bias.n} of {bias.over_net}" if bias.over_net else ""


def is_significant(mean_m: float, low_m: float, high_m: float) -> bool:
    """Whether a mean miss is is_significant from zero by its interval, and large enough to be worth a word."""
    return abs(mean_m) >= SMALLEST_BIAS_M and math.isfinite(low_m) and (low_m > 0 or high_m < 0)


def endings_sentence(counts: Counts, servers: int = 1) -> str:
    """Return how the attempts ended: "26 serves, 17 in (5 received). Errors: 3 net, 2 long. 1 too close to call."."""
    by = f" by {servers} servers" if servers > 1 else ""
    received = f" ({counts.received} received)" if counts.received else ""
    errors = [
        (counts.net, "net"),
        (counts.long, "long"),
        (counts.wide, "wide"),
        (counts.out_unseen, "out"),
        (counts.fault, "fault" if counts.fault == 1 else "faults"),
    ]
    others = [(counts.blocked, "blocked"), (counts.too_close, "too close to call"), (counts.unplaced, "not placed")]
    lists = [("Errors: ", errors), ("", others)]
    told = [f"{count_words(counts.n, 'serve')}{by}, {counts.good} in{received}"]
    told += [f"{head}{counted}" for head, parts in lists if (counted := _counted(parts))]
    return f"{'. '.join(told)}."


def _counted(parts: Sequence[tuple[int, str]]) -> str:
    return ", ".join(f"{count} {word}" for count, word in parts if count)


def area_sentence(table: pandas.DataFrame) -> str:
    """Return which area got most of the landings; "" where none landed in one for sure."""
    areas = area_rates(table)
    first = max(areas, key=lambda name: (areas[name].hits, areas[name].most))
    if not areas[first].hits:
        return ""
    level = [name for name, rate in areas.items() if name != first and rate.most >= areas[first].hits]
    if len(level) > 1:
        return "No area got clearly the most."
    other = f" or {level[0]} ({rate_words(areas[level[0]])})" if level else ""
    return f"Mostly {first} ({rate_words(areas[first])}){other}."


def aim_sentence(table: pandas.DataFrame) -> str:
    """Return how often the aim was hit and how far off the mean of the landings is, "" where nothing was aimed."""
    rate = aim_rate(table)
    if rate.n == 0:
        return ""
    aims = {aim for aim in table["aim"] if aim}
    one_aim = len(aims) == 1
    found = on_target(table)
    what = f"in {aim_words(aims.pop())}" if one_aim else "on target"
    counted = f"{found.hits} of {found.n} {what}"
    if found.untold:
        counted += f", {found.untold} {'cannot be told' if found.unsure else 'too close to tell'}"
    received = [f"{found.unsure} of these were received"] if found.unsure else []
    received += [f"{found.received} more received"] if found.received else []
    counted = ". ".join(filter(None, [counted, ", ".join(received)]))
    if not rate.enough:
        return f"{counted}. {more_needed_words(rate.n)} and we can say how good that is."
    return f"{counted}. {pull_sentence(bias_of(table, directions=2))}".rstrip()


def chance_sentence(table: pandas.DataFrame) -> str:
    """Return where the true rate of hitting the aim may lie; "" where too few were aimed."""
    rate = aim_rate(table)
    return f"Over many such serves about {interval_words(rate)} would be on target." if rate.enough else ""


def pull_sentence(bias: Bias) -> str:
    """Return "Pull 0.6 m short (18 of 22 over the net).", or "" where too few are known."""
    if bias.n < FEWEST and bias.placed:
        return ""
    words = bias_words(bias)
    if words == NO_PULL:
        return "No pull to either side."
    if not bias.placed:
        return f"Too few of the {bias.over_net} balls over the net are placed for a pull."
    return f"Pull {words} ({placed_words(bias)} over the net)."


def seam_depth_sentence(table: pandas.DataFrame) -> str:
    """Return how many of the landings aimed at a seam were as deep as wanted, where no depth was named: "" if none."""
    without_depth = table[table["aim_x_m"].notna() & ~table["aim_has_depth"].astype(bool)]
    deep = depth_distribution(without_depth)["deep"]
    what = "a seam" if without_depth["aim"].str.startswith("seam").all() else "a seam or column"
    if not deep.n:
        return ""
    return f"Aimed at {what}: {rate_words(deep)} fell in the deep part."


def depth_sentence(table: pandas.DataFrame) -> str:
    """Return how the landings share out over short, between and deep; "" without landings."""
    bands = depth_distribution(table)
    n = next(iter(bands.values())).n
    if n == 0:
        return ""
    counted = ", ".join(f"{hits_words(bands[band])} {band}" for band in ("deep", "between", "short"))
    return f"Of {count_words(n, 'landing')}, {counted}."


def type_words(table: pandas.DataFrame) -> str:
    """Return the serve types that occur with their counts: "12 float, 8 jump float"."""
    counts = table["serve_type"].value_counts()
    return ", ".join(f"{counts[kind]} {kind}" for kind in SERVE_TYPES if kind in counts)


def practice_summary(table: pandas.DataFrame) -> list[str]:
    """Return what happened in a choice of serves, most telling first; one sentence where there are none."""
    if len(table) == 0:
        return ["No serves are marked yet."]
    opening = endings_sentence(outcome_counts(table), table.loc[table["player_id"] != "", "player_id"].nunique())
    parts = [
        aim_sentence(table),
        chance_sentence(table),
        seam_depth_sentence(table),
        depth_sentence(table),
        pace_sentence(table),
        fastest_note(table),
        impossible_pace_sentence(table),
        through_net_sentence(table),
    ]
    sentences = [opening, *parts, estimated_sentence(table)]
    return [sentence for sentence in sentences if sentence]


def estimated_sentence(table: pandas.DataFrame) -> str:
    """Return how many landings were not seen but carried on from a reception; "" where none was."""
    count = int(table["estimated"].sum())
    if not count:
        return ""
    return f"{count_words(count, 'landing')} of received balls {'is' if count == 1 else 'are'} estimated."


def unit_of(table: pandas.DataFrame) -> str:
    """Return the unit of pace a serve table is to be said in."""
    return str(table.attrs.get("pace_unit", "km/h"))


def pace_words(pace_mps: float, low_mps: float = math.nan, high_mps: float = math.nan, unit: str = "km/h") -> str:
    """Return "51 km/h", with the range where it is known; "" where the pace is not.

    Examples
    --------
    >>> pace_words(14.2), pace_words(14.2, 13.5, 15.0), pace_words(float("nan"))
    ('51 km/h', '51 km/h (49–54)', '')
    >>> pace_words(14.2, 13.5, 15.0, "mph"), pace_words(14.2, 13.5, 15.0, "m/s")
    ('32 mph (30–34)', '14.2 m/s (13.5–15.0)')
    """
    if not math.isfinite(pace_mps):
        return ""
    words = in_unit(pace_mps, unit)
    if not (math.isfinite(low_mps) and math.isfinite(high_mps)):
        return words
    low, high = (in_unit(end_mps, unit).partition(" ")[0] for end_mps in (low_mps, high_mps))
    return f"{words} ({low}–{high})"


def over_net_words(over_m: float, low_m: float, high_m: float) -> str:
    """Return how high a ball crossed the net, give or take; "" where that is not known.

    Examples
    --------
    >>> over_net_words(0.62, 0.4, 0.8), over_net_words(-0.1, -0.4, 0.2), over_net_words(*[float("nan")] * 3)
    ('0.6 m over the net ±0.2', '0.1 m under the net ±0.3', '')
    """
    if not math.isfinite(over_m):
        return ""
    side = "over" if over_m >= 0 else "under"
    return f"{abs(over_m):.1f} m {side} the net ±{(high_m - low_m) / 2:.1f}"


def possible_paces(table: pandas.DataFrame) -> pandas.DataFrame:
    """Return the timed serves whose pace a serve can have, and whose flight does not lead through the net."""
    pace_mps = table["pace_mps"].to_numpy(dtype=float)
    return table[np.isfinite(pace_mps) & ~impossible_mask(pace_mps) & ~through_net_mask(table)]


def impossible_pace_sentence(table: pandas.DataFrame) -> str:
    """Return the question that impossible paces raise; "" where there are none."""
    wrong = table[impossible_mask(table["pace_mps"].to_numpy(dtype=float))]
    if not len(wrong):
        return ""
    clips = sorted({clip for clip in wrong["clip"] if clip})
    which = clips[0] if len(clips) == 1 else count_words(len(clips), "clip")
    slowest, fastest = (in_unit(limit_mps, unit_of(table)) for limit_mps in (SLOWEST_MPS, FASTEST_MPS))
    return (
        f"{count_words(len(wrong), 'pace')} in {which} would be below {slowest} or above {fastest}. Is it filmed in "
        "slow motion? Then set the frames a second with Practice > Slow motion. Until then these paces are left out."
    )


def through_net_sentence(table: pandas.DataFrame) -> str:
    """Return the question that serves raise which came over but, by their marks, through the net; "" without any."""
    count = int(through_net_mask(table).sum())
    if not count:
        return ""
    whose = "is its contact" if count == 1 else "are their contacts"
    return (
        f"{count_words(count, 'serve')} would have gone through the net: {whose} marked too late? Until then "
        f"{'it is' if count == 1 else 'they are'} left out of pace and clearance."
    )


def pace_sentence(table: pandas.DataFrame) -> str:
    """Return the typical and the fastest pace of the serves whose contact was marked; "" where none was."""
    paced, unit = possible_paces(table), unit_of(table)
    if len(paced) == 0:
        return ""
    fastest = paced.loc[paced["pace_mps"].idxmax()]
    who = f" by {fastest['server']}" if fastest["server"] and paced["server"].nunique() > 1 else ""
    top = pace_words(fastest["pace_mps"], fastest["pace_low_mps"], fastest["pace_high_mps"], unit)
    if len(paced) < FEWEST:
        return f"Fastest of {len(paced)} timed: {top}{who}." if len(paced) > 1 else f"The one timed serve: {top}."
    typical = pace_words(paced["pace_mps"].median(), unit=unit)
    return f"Typical pace {typical}, of {len(paced)} timed. Fastest {top}{who}."


def fastest_note(table: pandas.DataFrame) -> str:
    """Return that the largest of several noisy paces is likely too large; "" where the fastest is of too few."""
    count = len(possible_paces(table))
    return f"The fastest is likely a little slower, picked as it is from {count}." if count >= FEWEST else ""


def effort_sentence(table: pandas.DataFrame) -> str:
    """Return how hard the serves were hit and what that is measured by; "" where it is not known."""
    known = table[table["effort"].notna()]
    if len(known) < FEWEST:
        return ""
    by = {"a full-pace series": "a full-pace series", "the last year": "the fastest tenth of the last year"}
    words = " or ".join(by[measure] for measure in sorted(set(known["effort_of"])))
    known_to = 50 * (known["effort_high"] - known["effort_low"]).median()
    typical = f"{100 * known['effort'].median():.0f} % (each ±{known_to:.0f})"
    return f"Typical effort {typical} of her best pace. Her best: {words}."


def gate_sentence(table: pandas.DataFrame, gate_mps: float) -> str:
    """Return how many jump topspin serves passed the pace the coach asks of them; "" where she asks for none."""
    paced = possible_paces(table)
    jumped = paced[paced["serve_type"] == "jump topspin"]
    if gate_mps <= 0 or not len(jumped):
        return ""
    sure = int((jumped["pace_low_mps"] >= gate_mps).sum())
    most = int((jumped["pace_high_mps"] >= gate_mps).sum())
    counted = span_words(sure, most)
    asked = pace_words(gate_mps, unit=unit_of(table))
    return f"{counted} of {count_words(len(jumped), 'jump topspin serve')} passed the {asked} asked for."


def clearance_sentence(table: pandas.DataFrame) -> str:
    """Return how the serves crossed the net; "" where their flights are not known."""
    known = possible_paces(table)
    known = known[known["net_clearance_m"].notna()]
    if not len(known):
        return ""
    over_m = known["net_clearance_m"].median()
    known_to_m = (known["net_clearance_high_m"] - known["net_clearance_low_m"]).median() / 2
    known_to_deg = (known["launch_high_deg"] - known["launch_low_deg"]).median() / 2
    if len(known) < FEWEST:
        each = ", ".join(f"{over:.1f}".replace("-", "\u2212") for over in known["net_clearance_m"])
        return f"Over the net by {each} m (each ±{known_to_m:.1f}). That is to the ball's centre."
    angle = f"{known['launch_deg'].median():.0f} degrees (±{known_to_deg:.0f})"
    return f"Typically {over_m:.1f} m over the net (±{known_to_m:.1f}), to the ball's centre. Hit at {angle}."

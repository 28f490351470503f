"""What Study says to each question: a sentence, what else is worth knowing, and the statistic behind it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.errors import UserError
from serve_marker.report.match_day_page import match_card_of
from serve_marker.report.sheets import ReportData, at_passers_first
from serve_marker.study.best_aim import BestAim, best_aim
from serve_marker.study.best_aim_words import best_aim_more, best_aim_sentence, values_words
from serve_marker.study.climb import Climb, climbs
from serve_marker.study.climb_words import (
    again_sentence,
    risk_words,
    server_climb_sentence,
    step_meaning,
    team_climb_sentence,
)
from serve_marker.study.compare import (
    FEWEST_PRACTICES,
    SEASON_LOOKS,
    compare,
    differences_sentence,
    first_and_last_sentence,
    trend_sentence,
    two_periods,
)
from serve_marker.study.compare_servers import rate_asked, servers_apart_sentence, servers_sentences
from serve_marker.study.depth_shares import depth_shares, depth_shares_sentence
from serve_marker.study.fewest_serves import FEWEST, too_few_words
from serve_marker.study.load_words import JUMP_NOTE, most_served_sentence
from serve_marker.study.loads import LOAD_NOTE, serving_loads
from serve_marker.study.match_day_words import card_notes, match_card_sentence, passes_sentence
from serve_marker.study.passers import gap_sentence, pass_sentence, passer_seams, reach_sentence, with_formation
from serve_marker.study.pull import bias_of
from serve_marker.study.rallies import rallies_sentence
from serve_marker.study.rates import (
    Rate,
    depth_distribution,
    landed_mask,
    outcome_counts,
    seam_hits,
)
from serve_marker.study.sentences import (
    INTERVAL_WORDS,
    aim_sentence,
    area_sentence,
    chance_sentence,
    clearance_sentence,
    count_words,
    depth_sentence,
    effort_sentence,
    endings_sentence,
    estimated_sentence,
    fastest_note,
    gate_sentence,
    impossible_pace_sentence,
    pace_sentence,
    rate_with_interval_words,
    rate_words,
    seam_depth_sentence,
    through_net_sentence,
)
from serve_marker.study.significance import added
from serve_marker.study.spread import spread_of
from serve_marker.study.spread_words import group_lines, spread_sentence

if TYPE_CHECKING:
    import pandas

SEAM_WORDS = "Seams follow the passers each serve was hit against."
FRAME_WORDS = ("on the right frame", "up to one frame off", "up to a few frames off")


@dataclass(frozen=True)
class StudyWords:
    """An answer in words: the sentence, what else is worth knowing, and the statistic behind it.

    ``figure`` is the part of the sentence that is read from afar, "" where none says it all.
    """

    sentence: str
    more: str
    statistic: str
    figure: str = ""


COUNT = re.compile(r"[\d–]+ of \d+")
MEASURE = re.compile(r"[\d.]+ (?:km/h|m/s|mph|m)\b")


def opening_count(sentence: str) -> str:
    """Return the count a sentence opens with, "" where it opens otherwise.

    Examples
    --------
    >>> opening_count("9 of 24 on target, 4 too close to tell."), opening_count("Best: 2 Wren, 9 of 24.")
    ('9 of 24', '')
    """
    found = COUNT.match(sentence)
    return found.group() if found else ""


def first_measure(sentence: str) -> str:
    """Return the first measure of a sentence with its unit.

    Examples
    --------
    >>> first_measure("Typical pace 51 km/h, of 12 timed."), first_measure("No serve is timed.")
    ('51 km/h', '')
    """
    found = MEASURE.search(sentence)
    return found.group() if found else ""


def joined(*sentences: str) -> str:
    """Return the sentences there are as one text."""
    return " ".join(sentence for sentence in sentences if sentence)


def rate_statistic(rate: Rate) -> str:
    """Return the statistic behind a rate."""
    if not rate.n:
        return ""
    interval = f"95 % Wilson score interval {100 * rate.low:.1f} to {100 * rate.high:.1f} %"
    return f"n = {rate.n} attempts, {worth_words(rate)}. {interval}."


def worth_words(rate: Rate) -> str:
    """Return how much the attempts tell, since those of one evening resemble each other."""
    return f"worth {rate.effective_n:.0f} independent ones"


def nothing_to_say(data: ReportData) -> StudyWords:
    """What is said of no serves at all: nothing is marked yet, or the filters leave nothing."""
    if len(data.table):
        return StudyWords("No serves in this choice.", "Remove a filter to see more.", "")
    return StudyWords("No serves are marked yet.", "Mark some in Mark. The answers then stand here.", "")


def where(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """Where the serves went, against their aim; of a few only how they ended."""
    counts = outcome_counts(rows)
    aimed, ended = aim_sentence(rows), endings_sentence(counts)
    if counts.n < FEWEST:
        more = [ended] if aimed else [too_few_words(counts.n)]
        more.append(estimated_sentence(rows))
        return StudyWords(aimed or ended, joined(*more), _where_statistic(rows), opening_count(aimed))
    area_words = area_sentence(rows)
    sentence = aimed or area_words or ended
    more = [part for part in (ended, area_words) if part != sentence]
    if first := at_passers_first(rows):
        sentence, more = first[0], [sentence, *more]
    more += [chance_sentence(rows), seam_depth_sentence(rows), spread_sentence(rows), estimated_sentence(rows)]
    return StudyWords(sentence, joined(*more), _where_statistic(rows), opening_count(sentence))


def _where_statistic(rows: pandas.DataFrame) -> str:
    found, lean = spread_of(rows), bias_of(rows)
    parts = [rate_statistic(rate_asked(rows))]
    if found.n >= FEWEST:
        parts.append(
            f"Half of {found.n} landings lie within {found.half_radius_m:.2f} m of their centre. That takes their "
            "scatter as normal with unequal axes."
        )
    if lean.n >= FEWEST and lean.placed:
        ways = [("right", lean.right_m, lean.right_low_m, lean.right_high_m)]
        ways.append(("long", lean.long_m, lean.long_low_m, lean.long_high_m))
        parts.append(f"Mean miss of {lean.n} of {lean.over_net} balls over the net.")
        parts += [f"{mean:+.2f} m {way} ({low:+.2f} to {high:+.2f})." for way, mean, low, high in ways if low < high]
        away_m = lean.mean_radial_error_m
        parts += [f"Mean distance from the aim {away_m:.2f} m."] if away_m > 0 else []
    for by in ("serve type", "third of the end line", "first and last 20"):
        lines = group_lines(rows, by)
        if len(lines) > 1:
            parts += [f"By {by}.", *(f"{line[:1].upper()}{line[1:]}." for line in lines)]
    return joined(*parts)


def how_deep(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """How the landings share out over depth."""
    sentence = depth_sentence(rows) or "No landings in this choice."
    bands = depth_distribution(rows)
    counted = next(iter(bands.values())).n
    shares = [f"{band.capitalize()} {rate_with_interval_words(rate)}." for band, rate in bands.items() if rate.enough]
    landed = rows[landed_mask(rows)]["y_m"].to_numpy(dtype=float)
    statistic = (
        f"Depth of {len(landed)} landings: median {np.median(landed):.2f} m from the net." if len(landed) else ""
    )
    few = too_few_words(counted) if 0 < counted < FEWEST else ""
    return StudyWords(sentence, joined(*shares) or few, statistic)


def which_seam(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """Which seams were hit: of the passers where they are known, else those of the court."""
    reached = len(with_formation(rows))
    if reached:
        between = passer_seams(rows)
        first = f"{between[0][1]} {between[0][0]}" if between else "none in a seam"
        beside = reached - sum(count for _, count in between)
        others = [f"{count} {name}." for name, count in between[1:3]]
        others += [f"{beside} in no seam."] if between and beside else []
        return StudyWords(
            f"Of {count_words(reached, 'serve')} at passers, {first}.",
            joined(*others, SEAM_WORDS, pass_sentence(rows), choose_one_sentence(rows)),
            f"{count_words(len(between), 'seam')} hit at all.",
        )
    seams = seam_hits(rows)
    parts = [f"{rate_words(rate)} in {name}" for name, rate in seams.items()]
    statistic = " ".join(f"{name}: {rate_statistic(rate)}" for name, rate in seams.items())
    return StudyWords(f"{', '.join(parts)}.", "Seams reach from the attack line to the end line.", statistic)


def who(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """Who hit most often, and whether that can be told; who serves otherwise than the others."""
    most_often, fewer = servers_sentences(rows)
    return StudyWords(most_often, joined(fewer, servers_apart_sentence(rows)), INTERVAL_WORDS)


def which_step(rows: pandas.DataFrame, data: ReportData) -> StudyWords:
    """How far the servers of a choice have climbed, by all they ever served; what is to be shown again."""
    found, today = climbs_of(rows, data)
    if not found:
        return StudyWords("No server of a dated practice is known here.", "Say who served, in Mark.", "")
    one = len(found) == 1
    sentence = server_climb_sentence(found[0], today) if one else team_climb_sentence(found)
    more = joined(again_sentence(found, today), "All their serves count here, of every practice and type.")
    meanings = [step_meaning(step, data.court, data.settings.pace_unit) for step in data.ladder]
    return StudyWords(sentence, more, joined(*meanings, risk_words(data.ladder)), opening_count(sentence))


def climbs_of(rows: pandas.DataFrame, data: ReportData) -> tuple[list[Climb], str]:
    """Return the servers of a choice on the ladder, by all they ever served, and the newest day."""
    own = data.table[data.table["player_id"].isin(set(rows["player_id"]))]
    return climbs(own, data.ladder, data.settings.most_errors), max(data.table["date"], default="")


def how_many(rows: pandas.DataFrame, data: ReportData) -> StudyWords:
    """How many serves the servers of a choice hit, on film or counted beside the court."""
    sentence = most_served_sentence(loads_of(rows, data))
    if not sentence:
        return StudyWords("No server of a dated practice is known here.", "Say who served, in Mark.", "")
    return StudyWords(sentence, LOAD_NOTE, JUMP_NOTE)


def loads_of(rows: pandas.DataFrame, data: ReportData) -> pandas.DataFrame:
    """Return the loads of every day of the servers of a choice; of all choices those of everybody counted."""
    loads = serving_loads(data.table, data.tallies)
    return loads if len(rows) == len(data.table) else loads[loads["player_id"].isin(set(rows["player_id"]))]


def whom_to_serve(rows: pandas.DataFrame, data: ReportData) -> StudyWords:
    """Where each server of a choice serves best against each formation of it."""
    card = match_card_of(rows, data)
    more = joined(passes_sentence(card) if card.servers else "", rallies_sentence(rows))
    return StudyWords(match_card_sentence(card), more, joined(*card_notes(card)))


def where_to_aim(rows: pandas.DataFrame, data: ReportData) -> StudyWords:
    """Where the serves of one server are worth most, and whether moving there is told to gain anything."""
    try:
        found = best_aim_of(rows, data)
    except UserError as error:
        return StudyWords(str(error), "", "")
    return StudyWords(best_aim_sentence(found, data.court), best_aim_more(found), values_words(found))


def best_aim_of(rows: pandas.DataFrame, data: ReportData) -> BestAim:
    """Return where the serves of one server are worth most.

    Raises
    ------
    UserError
        Where several servers are chosen, or too few serves.
    """
    if rows["server"].nunique() > 1:
        raise UserError("Choose one server in Filters. The answer depends on how her own serves scatter.")
    return best_aim(rows, data.court, data.scheme)


def how_near(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """How near a passer the serves fell, who had to go and who could not."""
    sentence = gap_sentence(rows)
    if not sentence:
        return StudyWords(
            "No serve in this choice was hit against passers.",
            "Say where they stand in Mark, under Passers. Serves marked after that keep them.",
            "",
        )
    method = (
        "A ball is taken to be the nearest passer's. She meets it on its flight, between 0.3 m and the height set. "
        "Only timed serves tell where that is. Reaction time and speed are settings, not measured values."
    )
    more = joined(reach_sentence(rows), pass_sentence(rows), choose_one_sentence(rows))
    return StudyWords(sentence, more, method, first_measure(sentence))


def choose_one_sentence(rows: pandas.DataFrame) -> str:
    """Return how to see passers and their seams where the serves were hit against several formations, else ""."""
    several = rows.loc[rows["formation_id"] != "", "formation_id"].nunique() > 1
    return "Choose one formation under Filters, More, to see its passers and seams." if several else ""


def how_fast(rows: pandas.DataFrame, data: ReportData) -> StudyWords:
    """How fast the serves were, how hard for their servers, and how they crossed the net."""
    sentence, doubt = pace_sentence(rows), joined(impossible_pace_sentence(rows), through_net_sentence(rows))
    if not sentence:
        return StudyWords(
            doubt or "No serve in this choice is timed.",
            "" if doubt else "Mark the contact of a serve, with its place, to time it.",
            "",
        )
    marks = FRAME_WORDS[min(data.table.attrs["frames_off"], len(FRAME_WORDS) - 1)]
    method = (
        "Pace is the mean horizontal speed from contact to landing. Its range holds frame timing and both places. "
        f"An unchecked mark counts as {marks} (a setting). A radar at contact shows more, for the ball slows down. "
        "Net clearance is to the ball's centre. Drag and spin are not seen and widen its range. Effort is over the "
        "fastest serve of her last year's full-pace series. Without one it is over the 90th percentile of that year."
    )
    gate = gate_sentence(rows, data.settings.topspin_gate_mps)
    more = [doubt, depth_shares_sentence(depth_shares(rows)), gate, effort_sentence(rows), clearance_sentence(rows)]
    return StudyWords(sentence, joined(*more), joined(fastest_note(rows), method), first_measure(sentence))


def better(rows: pandas.DataFrame, _data: ReportData) -> StudyWords:
    """Whether the later half of the practices was better than the earlier, and late serves than early ones."""
    before, since, practices = two_periods(rows)
    statistic = ""
    if practices > 1:
        found = compare(before, since, tests=SEASON_LOOKS)
        if found.tasks:
            gain = " to ".join(f"{100 * end:+.0f}" for end in (found.apart.low, found.apart.high))
            statistic = joined(
                f"Difference {100 * found.apart.value:+.0f} of 100, 99 % interval {gain}.",
                "That is 95 % over a season's looks.",
                f"Odds ratio {found.odds_ratio:.2f} (Mantel-Haenszel) over {count_words(found.tasks, 'task')},",
                f"{worth_words(added((found.before, found.since)))}.",
            )
    more = first_and_last_sentence(rows)
    if practices >= FEWEST_PRACTICES:
        more = joined(differences_sentence(before, since, "Lately"), more)
    return StudyWords(trend_sentence(rows), more, statistic)

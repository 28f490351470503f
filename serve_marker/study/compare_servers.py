"""Servers compared with each other at the same tasks: who hit most often, and who clearly less often."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.study.by_server import SERVER_COLUMNS, rows_by_server
from serve_marker.study.compare import COMPARED_COLUMNS, MEASURED_COLUMNS, NOT_THE_SAME_TASK, differences, two_by_two
from serve_marker.study.fewest_serves import FEWEST
from serve_marker.study.intraclass import rho_of
from serve_marker.study.rates import Rate, aim_attempts, aim_rate, in_attempts, in_rate
from serve_marker.study.sentences import interval_words
from serve_marker.study.significance import added, in_common, stratified_rate_difference, task_rates

if TYPE_CHECKING:
    import pandas

AIMED = "on target"
ATTEMPTS = {AIMED: aim_attempts, "in": in_attempts}
COMPARED = tuple(dict.fromkeys((*SERVER_COLUMNS, *COMPARED_COLUMNS)))
MEASURED = tuple(dict.fromkeys((*SERVER_COLUMNS, *MEASURED_COLUMNS)))


def rate_asked(table: pandas.DataFrame) -> Rate:
    """Return the rate that some serves are told by: of their aim where there is one, else of landing in."""
    aimed = aim_rate(table)
    return aimed if aimed.n else in_rate(table)


def rates_alike(table: pandas.DataFrame, groups: Sequence[pandas.DataFrame]) -> tuple[str, list[Rate]]:
    """Return what the groups of a table are compared by, and the rate of each.

    All by hitting the aim where most serves of the table had one, else all by landing in: never one by this and the
    next by that.
    """
    by_aim = 2 * aim_rate(table).n > len(table)
    return (AIMED, [*map(aim_rate, groups)]) if by_aim else ("in", [*map(in_rate, groups)])


def servers_sentences(table: pandas.DataFrame) -> tuple[str, str]:
    """Return who hit most often, as far as that can be told, and how sure it is of the others.

    Whoever did best against the others at the same tasks is named, and set against each of them at theirs.
    """
    groups = rows_by_server(table[list(COMPARED)])
    what, rates = rates_alike(table, [own for _, own in groups])
    enough = [(words, own, rate) for (words, own), rate in zip(groups, rates, strict=True) if rate.enough]
    if not enough:
        return f"A server needs {FEWEST} serves to be compared.", ""
    if len(enough) == 1:
        words, _, rate = enough[0]
        told = f"{words}, {interval_words(rate)} {what}."
        return told, "Only one server has served often enough to be compared."
    by_task = task_rates([own for _, own, _ in enough], ATTEMPTS[what], rho_of(table))
    ahead = [_against_others(by_task, place) for place in range(len(enough))]
    if not np.isfinite(ahead).any():
        return NOT_THE_SAME_TASK, ""
    leader = int(np.nanargmax(ahead))
    told = f"{enough[leader][0]}, {interval_words(enough[leader][2])} {what}"
    tests = math.comb(len(enough), 2)
    fewer, apart = [], []
    for (words, _, _), own in zip(enough, by_task, strict=True):
        found = stratified_rate_difference(in_common(by_task[leader], own), tests)
        if found.high < 0:
            fewer.append(words)
        elif not math.isfinite(found.value):
            apart.append(words)
    other_tasks = f" At other tasks: {', '.join(apart)}." if apart else ""
    if not fewer:
        more = f"These serves do not tell the servers apart.{other_tasks}"
        return f"Too early to say who is best. Ahead so far: {told}.", more
    return f"Best so far: {told}.", f"Clearly fewer at the same task: {', '.join(fewer)}.{other_tasks}"


def servers_apart_sentence(table: pandas.DataFrame) -> str:
    """Return who serves longer, further right, further apart or faster than all others together at the same tasks.

    "" where nothing can be told; all that is compared shares the 5 in 100.
    """
    rows = table.loc[table["player_id"] != "", list(MEASURED)]
    groups = [(words, own) for words, own in rows_by_server(rows) if len(own) >= FEWEST]
    told = []
    for words, own in groups:
        others = rows[rows["player_id"] != own["player_id"].iloc[0]]
        apart = differences(others, own, len(groups))
        told += [f"{words}: {two_by_two(apart)}"] if apart else []
    return f"Against the others, like with like. {' '.join(told)}" if told else ""


def _against_others(by_task: Sequence[Mapping[int, Rate]], place: int) -> float:
    """How much more often one of several hit than all others together at the same tasks; NaN without such a task."""
    own, others = by_task[place], [*by_task[:place], *by_task[place + 1 :]]
    together = {task: added(found) for task in own if (found := [one[task] for one in others if task in one])}
    return stratified_rate_difference(in_common(together, own)).value

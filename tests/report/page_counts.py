"""What the figures, the legend, the marks, the named aims and the table of a drawn page count."""

from __future__ import annotations

import datetime
import itertools
import re
from collections import Counter

import numpy as np

from serve_marker.report import plan_page, server_page, team_page
from serve_marker.report.overlay_items import SHAPE_WORDS
from serve_marker.study.load_words import DAYS_SHOWN, WEEKS_SHOWN
from serve_marker.study.passers import at_passers_mask
from serve_marker.study.rates import depth_distribution, in_rate, landed_mask
from serve_marker.study.sentences import span_words
from serve_marker.study.serve_shape import on_target, shapes_of

LEGEND = re.compile(r"(.+): (\d+)")
COUNTED = re.compile(r"(\d+)(?:–(\d+))? of (\d+)")
HITS, UNTOLD = re.compile(r"(\d+) of (\d+)(?: .*)?"), re.compile(r"(\d+) (?:too close|cannot tell)")
BEST, PLANNED = re.compile(r"In the match (.+) is best for (\d+) of \d+"), re.compile(r"(\d+) serves? in all")
LOAD = re.compile(r"(\d+) \((\d+)(?:–\d+)?\)")


class PageCounts:
    """The numbers read off one page."""

    def __init__(self, page):
        self.page_texts = page.figure.texts
        self.words = [text.get_text() for text in self.page_texts]
        self.axes = page.figure.axes
        found = [LEGEND.fullmatch(text.get_text()) for one in page.figure.legends for text in one.get_texts()]
        self.legend = {_said_always(match[1]): int(match[2]) for match in found if match}

    def figure(self, name):
        """The large number over its name, and what it is "of"."""
        place = self.words.index(name)
        return int(self.words[place - 2]), int(self.words[place - 1].removeprefix("of "))

    @property
    def marks(self):
        """How many landings each of the axes shows."""
        return [sum(np.size(line.get_xdata()) for line in one.lines if line.get_zorder() == 5) for one in self.axes]

    @property
    def strip(self):
        """How many marks the strip of serves holds: its lines are not tied to a floor."""
        return len(self.axes[0].lines)

    def served(self, columns):
        """The sum of the column of serves of a table of so many columns; 0 where there is none."""
        if "true rate" not in self.words:
            return 0
        first = self.words.index("serves") + columns
        cells = itertools.takewhile(str.isdecimal, self.words[first::columns])
        return sum(map(int, cells))

    def aims(self):
        """Sure hits, most hits and serves of all aims named on the map."""
        words = [text.get_text() for text in self.axes[1].texts]
        hits, serves = (sum(map(int, part)) for part in zip(*_all_of(HITS, words), strict=True))
        return [hits, hits + sum(int(count) for (count,) in _all_of(UNTOLD, words)), serves]

    def scores(self):
        """Sure hits, most hits and serves of all courts of a wall."""
        found = [HITS.fullmatch(text.get_text()) for text in self.page_texts if text.get_size() == team_page.SCORE_PT]
        untold = sum(int(count) for (count,) in _all_of(UNTOLD, self.words))
        hits = sum(int(match[1]) for match in found if match)
        return np.array([hits, hits + untold, sum(int(match[2]) for match in found if match)])

    def hits(self, columns):
        """Least hits, most hits and serves of a table of so many columns, summed; zeros where there is none."""
        if "true rate" not in self.words:
            return np.zeros(3, dtype=int)
        at = self.words.index("true rate") - 1
        column = self.words[at + columns :: columns]
        cells = itertools.takewhile(lambda cell: cell == "-" or COUNTED.fullmatch(cell), column)
        told = [[int(m[1]), int(m[2] or m[1]), int(m[3])] for m in map(COUNTED.fullmatch, cells) if m]
        return np.array(told, dtype=int).reshape(-1, 3).sum(axis=0)


def _said_always(words):
    """The words of a ring, which say more where some serves had no aim, or none had."""
    return SHAPE_WORDS["ring"] if words.startswith("in") else words


def _all_of(pattern, words):
    return [match.groups() for match in map(pattern.fullmatch, words) if match]


def grid_disagreements(pages, data):
    """Return what on ladder, load, match-day and plan pages is not what their cells or the serves add up to.

    ``pages`` are pages by the names "ladder", "load", "match" and "plan".
    """
    said = {name: [text.get_text() for text in page.figure.texts] for name, page in pages.items()}
    cells = {name: [text.get_text() for one in page.figure.axes for text in one.texts] for name, page in pages.items()}
    expected: dict[str, tuple[object, object]] = {}
    ticks = sum(words.startswith("\u2713") for words in cells["ladder"])
    passed = next((words for words in said["ladder"] if ": passed by" in words), "")
    expected["steps passed"] = (sum(int(number) for number in re.findall(r"by (\d+)", passed)), ticks)
    days = sorted(set(data.table["date"]))
    shown_days, weeks = days[-DAYS_SHOWN:], sorted({_monday(day) for day in days})[-WEEKS_SHOWN:]
    on_days, in_weeks = data.table["date"].isin(shown_days), data.table["date"].map(_monday).isin(weeks)
    jumped = data.table["serve_type"].str.contains("jump")
    counts = [int(on_days.sum() + in_weeks.sum()), int((jumped & on_days).sum() + (jumped & in_weeks).sum())]
    told = [[int(part) for part in found] for found in _all_of(LOAD, cells["load"])]
    expected["loads"] = ([sum(part) for part in zip(*told, strict=True)] or [0, 0], counts)
    best = next((found for words in said["match"] if (found := BEST.match(words))), None)
    if best:
        aims = Counter(words for words in cells["match"] if words == best[1].lower())
        expected["best aims"] = (int(best[2]), aims[best[1].lower()])
    whole = next(found for words in said["plan"] if (found := PLANNED.search(words)))
    expected["serves planned"] = (int(whole[1]), sum(words.count(plan_page.BOX) for words in said["plan"]))
    return [f"{what}: {seen} is not {true}" for what, (seen, true) in expected.items() if seen != true]


def _monday(day):
    date = datetime.date.fromisoformat(day)
    return date - datetime.timedelta(days=date.weekday())


def disagreements(pages, rows, kind):
    """Return what on the pages of some serves is not what the serves add up to."""
    front, back = PageCounts(pages[0]), PageCounts(pages[-1])
    shapes, found, good = shapes_of(rows), on_target(rows), in_rate(rows)
    legend = {SHAPE_WORDS[shape]: shapes.count(shape) for shape in dict.fromkeys(shapes)}
    landed = int(landed_mask(rows).sum())
    expected: dict[str, tuple[object, object]] = {
        "legend of the back": (back.legend, legend),
        "marks of the back": (back.marks[:2], [landed, landed]),
        "bands of the back": (
            [text.get_text() for text in back.axes[1].texts if text.get_weight() == "bold"][:3],
            [span_words(rate.hits, rate.most) for rate in depth_distribution(rows).values()],
        ),
    }
    columns = len(server_page.TABLE if kind == "server" else team_page.TABLE)
    expected["table"] = (sum(PageCounts(page).served(columns) for page in pages), len(rows))
    if "in" in front.words:
        expected["in"] = (front.figure("in"), (good.hits, len(rows)))
    if "on target" in front.words and found.n:
        expected["on target"] = (front.figure("on target"), (found.hits, found.n))
    if kind == "server":
        expected["legend"] = (front.legend, legend)
        expected["strip"] = (front.strip, min(len(rows), 50))
        expected["map"] = (front.marks[1], landed)
        if found.n:
            expected["aims"] = (front.aims(), [found.hits, found.hits + found.untold, found.n])
    else:
        walls = [PageCounts(page) for page in pages if any("shirt number" in text for text in PageCounts(page).words)]
        legends = {name: sum(wall.legend.get(name, 0) for wall in walls) for name in legend}
        expected["legends of the wall"] = (legends, legend)
        expected["courts"] = (sum(sum(wall.marks) for wall in walls), landed)
        if all(on_target(own).n for _, own in rows.groupby("player_id")):
            told = [found.hits, found.hits + found.untold, found.n]
            expected["scores of the wall"] = (sum(wall.scores() for wall in walls).tolist(), told)
    if "errors" in front.words:
        at_people = rows[at_passers_mask(rows)]
        kinds = shapes_of(at_people)
        errors = kinds.count("cross") + kinds.count("bar") - int((at_people["outcome"] == "blocked").sum())
        fell_in = (at_people["outcome"] == "floor") & (at_people["verdict"] == "in") & ~(at_people["pass_rating"] > 0)
        aces = int((fell_in | (at_people["reception"] == "shank")).sum())
        expected["errors"] = (front.figure("errors"), (errors, len(at_people)))
        expected["aces"] = (front.figure("aces"), (aces, len(at_people)))
    hits_told = sum(PageCounts(page).hits(columns) for page in pages).tolist()
    expected["hits of the table"] = (hits_told, [found.hits, found.hits + found.untold, found.n])
    return [f"{what}: {seen} is not {true}" for what, (seen, true) in expected.items() if seen != true]

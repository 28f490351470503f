"""What the figures, the legend, the marks, the named aims and the table of a drawn page count."""

from __future__ import annotations

import itertools
import re

import numpy as np

from serve_marker.report import server_page, team_page
from serve_marker.report.overlay_items import SHAPE_WORDS
from serve_marker.study.rates import depth_distribution, in_rate, landed_mask
from serve_marker.study.sentences import span_words
from serve_marker.study.serve_shape import on_target, shapes_of

LEGEND = re.compile(r"(.+): (\d+)")
COUNTED = re.compile(r"(\d+)(?:–(\d+))? of (\d+)")


class PageCounts:
    """The numbers read off one page."""

    def __init__(self, page):
        self.words = [text.get_text() for text in page.figure.texts]
        self.axes = page.figure.axes
        found = [LEGEND.fullmatch(text.get_text()) for one in page.figure.legends for text in one.get_texts()]
        self.legend = {match[1]: int(match[2]) for match in found if match}

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
        if "(range)" not in self.words:
            return 0
        first = self.words.index("serves") + columns
        cells = itertools.takewhile(str.isdecimal, self.words[first::columns])
        return sum(map(int, cells))

    def aims(self):
        """Sure hits, most hits and serves of all aims named on the map."""
        found = [COUNTED.fullmatch(text.get_text()) for text in self.axes[1].texts]
        return [
            sum(part) for part in zip(*((int(m[1]), int(m[2] or m[1]), int(m[3])) for m in found if m), strict=True)
        ]


def disagreements(pages, rows, kind):
    """Return what on the pages of some serves is not what the serves add up to."""
    front, back = PageCounts(pages[0]), PageCounts(pages[-1])
    shapes, found, good = shapes_of(rows), on_target(rows), in_rate(rows)
    no_aim = not (rows["aim"] != "").any()
    words = SHAPE_WORDS | ({"ring": "in"} if no_aim else {})
    legend = {words[shape]: shapes.count(shape) for shape in dict.fromkeys(shapes)}
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
            expected["aims"] = (front.aims(), [found.hits, found.hits + found.too_close, found.n])
    else:
        walls = [PageCounts(page) for page in pages if any("shirt number" in text for text in PageCounts(page).words)]
        legends = {name: sum(wall.legend.get(name, 0) for wall in walls) for name in legend}
        expected["legends of the wall"] = (legends, legend)
        expected["courts"] = (sum(sum(wall.marks) for wall in walls), landed)
    return [f"{what}: {seen} is not {true}" for what, (seen, true) in expected.items() if seen != true]

"""The plan of a practice on one page for the gym, with boxes to tick each serve."""

from __future__ import annotations

from collections.abc import Mapping

from serve_marker.court.aims import aim_words
from serve_marker.logbook.records import TARGET_WORDS, PlanBlock, PracticePlan
from serve_marker.report.lettering import FIGURE_NAME_PT, NAME_PT, NOTE_PT, SENTENCE_PT
from serve_marker.report.page_canvas import MARGIN_IN, Page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.study.sentences import count_words, date_words

BOXES_LARGER, BOXES_UP_IN = 1.35, 0.03
NAMES_PT = 12.0
HEAD_IN, NOTE_IN = 0.72, 0.6
BOX, TENS = "\u25a1", 10
ROW_IN, LEAST_ROW_IN, NAME_IN = 0.3, 0.12, 1.9
NOTE = (
    "One box a serve: fill it for a hit, cross it for a miss. About 25 more: that many should pass the step. "
    "How many are too many? Ask the athletic trainer or physician, and your local rules. "
    "Clear loose balls before each block."
)


def plan_page(team: str, plan: PracticePlan, names: Mapping[str, str], paper: str = DEFAULT_PAPER) -> Page:
    """Return the page of a plan; ``names`` are shirt number and name by player id. Rows become lower where many."""
    page = Page(paper)
    page.line("Plan", NAME_PT, bold=True)
    page.paragraph(" · ".join(part for part in (team, date_words(plan.date)) if part), FIGURE_NAME_PT, faint=True)
    page.paragraph(_whole_words(plan), FIGURE_NAME_PT)
    missing = ", ".join(names[key] for key in plan.absent if key in names)
    page.paragraph(f"Absent: {missing}." if missing else "", SENTENCE_PT)
    rows = sum(len(block.player_ids) for block in plan.blocks)
    room_in = page.left_over_in - HEAD_IN * len(plan.blocks) - NOTE_IN
    row_in = min(ROW_IN, max(room_in / max(rows, 1), LEAST_ROW_IN))
    for number, block in enumerate(plan.blocks, start=1):
        page.down_in += 0.1
        page.line(f"{number}. {block_words(block)}", NAMES_PT, bold=True)
        page.line(f"Why: {block.reason}" if block.reason else "", NOTE_PT, faint=True)
        page.down_in += 0.06
        for key in block.player_ids:
            size_pt = min(NAMES_PT, 42 * row_in)
            page.words(names.get(key, ""), MARGIN_IN, page.down_in, size=size_pt)
            page.words(
                boxes(block.serves), MARGIN_IN + NAME_IN, page.down_in - BOXES_UP_IN, size=BOXES_LARGER * size_pt
            )
            page.down_in += row_in
    page.down_in += 0.12
    page.paragraph(NOTE, NOTE_PT, faint=True)
    return page


def boxes(serves: int) -> str:
    """Return so many boxes to tick, ten at a time.

    Examples
    --------
    >>> boxes(12)
    '□□□□□□□□□□  □□'
    """
    full, rest = divmod(serves, TENS)
    return "  ".join([BOX * TENS] * full + ([BOX * rest] if rest else []))


def block_words(block: PlanBlock) -> str:
    """Return what is served in a block.

    Examples
    --------
    >>> block_words(PlanBlock(aim="deep 1", serve_type="float", target_kind="mats", effort=0.8, serves=20, minutes=8))
    'deep 1, float, mats on the floor, 80 % of best pace, 20 serves each, 8 min'
    """
    parts = [
        aim_words(block.aim) or "any aim",
        block.serve_type,
        TARGET_WORDS[block.target_kind] if block.target_kind != "none" else "",
        f"{100 * block.effort:.0f} % of best pace" if block.effort else "",
        f"{count_words(block.serves, 'serve')} each",
        f"{block.minutes} min" if block.minutes else "",
    ]
    return ", ".join(part for part in parts if part)


def _whole_words(plan: PracticePlan) -> str:
    serves = sum(block.serves * len(block.player_ids) for block in plan.blocks)
    minutes = sum(block.minutes for block in plan.blocks)
    lasts = f", {minutes} min" if minutes else ""
    return f"{count_words(len(plan.blocks), 'block')}, {count_words(serves, 'serve')} in all{lasts}."

"""Every sentence of the product is short enough to be said in one breath, wherever it is read."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import pandas
import pytest
import typer

from serve_marker.desktop.study.questions import QUESTIONS
from serve_marker.desktop.study.words import StudyWords, nothing_to_say
from serve_marker.report.match_day_page import match_day_page
from serve_marker.report.page_canvas import Page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import ReportData, read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.report.wall_pages import ladder_page, load_page
from serve_marker.study.compare import comparison_sentence, differences_sentence
from tests.every_sentence import FIELD, LONGEST, count_of_words, paragraphs_of, texts_drawn, texts_of, too_long
from tests.test_demo_season import SEASON, logbook_of

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "serve_marker"
FILES = sorted(PACKAGE.rglob("*.py"))
WRITTEN_OTHERWISE = {
    rf"[\d{FIELD}] x [\d{FIELD}].*\bm\b": "18 × 9 m",
    r"\w\.\.\.": "an ellipsis is one character",
    rf"[\d{FIELD}]%": "a space before %",
    r"\b(?:cases|bias)\b": "serves and players are the subjects; a bias is a pull",
    r"^(?:Nearer|Farther|Whole picture|Look at|Set beside|Show all|All else|Take out)$": "buttons are known verbs",
}
PLANTED = "We are all of us quite sure that nobody says so much in one breath."


def long_texts(source: str) -> list[str]:
    """Return the sentences of a module with too many words, each with its line."""
    return [f"{line}: {sentence}" for line, text in texts_of(source) for sentence in too_long(text)]


def written_otherwise(source: str) -> list[str]:
    """Return what a module writes otherwise than the product does, each with how it is written."""
    return [
        f"{line}: {text} ({rule})"
        for line, text in texts_of(source)
        for wrong, rule in WRITTEN_OTHERWISE.items()
        if re.search(wrong, text)
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_says_nothing_too_long_and_writes_as_the_product_does(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert long_texts(source) == []
    assert written_otherwise(source) == []


@pytest.mark.parametrize(
    "source",
    [
        f'message.emit("{PLANTED}")',
        f'raise UserError(f"{PLANTED}")',
        f'x = ["Short.", (f"{{count}} serves. " "{PLANTED}")]',
        f"label(f'{{say(\"{PLANTED}\")}} to go')",
        f'def say():\n    """What it is."""\n    return "{PLANTED}"',
    ],
)
def test_a_planted_sentence_is_found(source: str) -> None:
    assert count_of_words(PLANTED) == LONGEST + 1
    assert len(long_texts(source)) == 1


@pytest.mark.parametrize(
    "source",
    [
        f'def say():\n    """{PLANTED}"""',
        f'raise ValueError("{PLANTED}")',
        f'execute("SELECT {PLANTED}")',
        'label(f"{a} {b} is one word for each of {c} and {d}, as is 18\\u00a0m.")',
        'label("One sentence has so many words. Another one has as many, and neither is long.")',
    ],
)
def test_what_is_short_or_read_by_nobody_is_left_alone(source: str) -> None:
    assert long_texts(source) == []


@pytest.mark.parametrize("text", ["18 x 9 m", "Open...", "72%", "in 95 of 100 cases", "Nearer"])
def test_what_is_written_otherwise_is_found(text: str) -> None:
    assert len(written_otherwise(f"label({text!r})")) == 1


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ReportData]:
    with logbook_of(SEASON, tmp_path_factory.mktemp("words") / "season.logbook") as book:
        yield read_report_data(book)


def choices(data: ReportData) -> Iterator[pandas.DataFrame]:
    """All serves, none, a few, those at passers, and those of several servers and practices."""
    table = data.table
    yield from (table, table[:0], table[:1], table[:4], table[:12], table[table["formation_id"] != ""])
    for column, step in (("player_id", 3), ("practice_id", 5)):
        yield from (table[table[column] == value] for value in table[column].unique()[::step])


def said_of(rows: pandas.DataFrame, data: ReportData) -> Iterator[StudyWords]:
    """Every answer of Study to one choice of serves."""
    for question in QUESTIONS:
        yield question.say(rows, data) if len(rows) else nothing_to_say(data)


def long_sentences(texts: Iterator[str], data: ReportData) -> set[str]:
    """Return the sentences with too many words.

    A player's number and name are one word, as in code, and so are the numbers of several in brackets.
    """
    players = sorted(map(re.escape, set(data.table["server"]) - {""}), key=len, reverse=True)
    names = re.compile("|".join([*players, r"\((?:\d+, )+\d+\)"]))
    return {sentence for text in texts for sentence in too_long(names.sub(FIELD, text))}


def test_no_answer_of_study_is_too_long(season: ReportData) -> None:
    answers = [words for rows in choices(season) for words in said_of(rows, season)]
    texts = (text for words in answers for text in (words.sentence, words.more, words.statistic))
    assert len(answers) > 100
    assert long_sentences(texts, season) == set()


def test_no_comparison_of_two_choices_is_too_long(season: ReportData) -> None:
    first, *others = [rows for rows in choices(season) if len(rows)]
    texts = [comparison_sentence(first, rows, ("Left", "Right")) for rows in others]
    texts += [differences_sentence(first, rows, "On the right") for rows in others]
    assert any(texts)
    assert long_sentences(iter(texts), season) == set()


def pages_of(data: ReportData) -> Iterator[Page]:
    yield from team_pages(data)
    yield from team_pages(data, str(data.table["practice_id"].iloc[-1]))
    for player_id in data.table["player_id"].unique()[:3]:
        yield from server_pages(data, player_id)
    yield from (match_day_page(data), ladder_page(data), load_page(data))


def test_no_sentence_on_paper_is_too_long(season: ReportData) -> None:
    texts = [text for page in pages_of(season) for text in texts_drawn(page)]
    assert sum(text.endswith(".") for text in texts) > 20
    assert long_sentences(iter(texts), season) == set()


def helps(command: object) -> Iterator[str]:
    """Every help text of a command and of the commands below it."""
    yield inspect.cleandoc(getattr(command, "help", None) or "")
    for option in getattr(command, "params", []):
        yield getattr(option, "help", None) or ""
    for inner in getattr(command, "commands", {}).values():
        yield from helps(inner)


def test_no_help_of_a_command_is_too_long() -> None:
    from serve_marker.cli import app

    texts = [text for text in helps(typer.main.get_group(app)) if text]
    assert len(texts) > 20
    assert [sentence for text in texts for sentence in too_long(text)] == []


def test_no_sentence_of_the_guide_is_too_long() -> None:
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    paragraphs = paragraphs_of(guide)
    assert len(paragraphs) > 50
    assert [sentence for paragraph in paragraphs for sentence in too_long(paragraph)] == []

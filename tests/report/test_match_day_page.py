"""The page for the bench: each server with her best aim, the passers drawn, and nothing where nothing is known."""

from __future__ import annotations

import dataclasses

import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import Formation, Passer, preset
from serve_marker.report.grid_chart import grid_chart
from serve_marker.report.match_day_page import match_card_of, match_day_grid, match_day_page
from serve_marker.report.paper_sizes import PAPERS_IN
from serve_marker.report.sheets import ReportData
from serve_marker.study.match_day_words import NO_CARD_WORDS
from tests.report.test_wall_pages import words_of
from tests.study.test_match_day import served, team

COURT = court_named("indoor")
INES_ALONE = Formation("rotation 1", (Passer(1.5, 6.0, "Ines"),))


def data_of(*parts, formations=None):
    table = team(*parts).assign(practice="Tuesday")
    return ReportData("Tidewater", table, COURT, default_scheme(COURT), formations=formations or {"f": INES_ALONE})


def test_the_page_names_aims_promises_and_passers():
    data = data_of(served("Marit", 40), served("Noor", 40, seed=2))
    said = words_of(match_day_page(data).figure)
    card = match_card_of(data.table, data)
    assert {"4 Noor", "5 Marit", "rotation 1", "Ines"} <= set(said)
    best = {cell.best.aim for cells in card.cells for cell in cells if cell.best}
    assert all(any(aim in words for words in said) for aim in best)
    assert any(words.startswith("No pass is rated yet") for words in said)
    assert sum(words.startswith("wins ") for words in said) == 2


@pytest.mark.parametrize("paper", PAPERS_IN)
def test_six_rotations_stand_on_one_page(paper):
    rotations = {f"f{n}": dataclasses.replace(preset(3, "up", COURT), name=f"rotation {n}") for n in range(6)}
    parts = [
        served(name, 30, seed=n, formation_id=f"f{n}")
        for n, name in enumerate(("A", "Bo", "Cleo", "Dora", "Emily", "Fiorin"))
    ]
    page = match_day_page(data_of(*parts, formations=rotations), paper)
    said = words_of(page.figure)
    assert {f"rotation {n}" for n in range(6)} <= set(said)
    assert page.left_over_in >= -1e-9
    assert sum(words == "right back" for words in said) == 6, "each rotation is drawn"
    assert not [words for words in said if "…" in words or "..." in words], "nothing is cut off"


def test_without_timed_serves_the_page_says_what_to_do():
    data = data_of(served("Marit", 20))
    untimed = dataclasses.replace(data, table=data.table.assign(flight_s=float("nan")))
    assert NO_CARD_WORDS in words_of(match_day_page(untimed).figure)
    grid = match_day_grid(match_card_of(untimed.table, untimed))
    assert NO_CARD_WORDS in words_of(grid_chart(grid, "dark", (8.0, 3.0)))

"""Headline, legend, map and areas of one page are the same serves counted once, received ones among them."""

import re

import numpy as np
import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import COURTS
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.charts import court_chart
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.study.rates import area_rates, depth_distribution, landed_mask
from serve_marker.study.sentences import aim_sentence, practice_summary
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.serve_shape import shapes_of
from tests.report.page_counts import PageCounts, disagreements

COURT = COURTS["indoor"]
SHARES = {"floor": 0.45, "received, way marked": 0.2, "received": 0.15, "net": 0.12, "out": 0.08}


def evening(seed, count=60):
    """Serves at deep 1 by one server or two, that end in every way."""
    chance = np.random.default_rng(seed)
    for number in range(count):
        ended = str(chance.choice(list(SHARES), p=list(SHARES.values())))
        outcome, _, marked = ended.partition(", ")
        sd_m = float(chance.choice([0.02, 0.3]))
        x_m, y_m = chance.normal((1.8, 7.5), 1.2)
        point = FloorPoint(x_m - 4.5, y_m, sd_m**2, 0.0, sd_m**2) if outcome == "floor" or marked else None
        landing = Mark(float(number), None, 1 / 60, 1 / 60)
        yield Serve(
            id=f"s{number}", clip_id="c", served_to="b", aim="deep 1", outcome=outcome, landing=landing,
            landing_point=point, player_id=("ines", "noor")[number % 2],
        )  # fmt: skip


@pytest.fixture(params=range(3))
def book(request, tmp_path):
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(Player(id="ines", name="Ines", number=4), Player(id="noor", name="Noor", number=11))
        book.put(Practice(id="p", date="2026-11-03", name="Tuesday"))
        book.put(ClipEntry(id="c", practice_id="p", path="film.mp4", size_bytes=1, fingerprint="f"))
        book.put(*evening(request.param))
        yield book


@pytest.fixture
def table(book):
    return serve_table(book)


def test_legend_headline_and_map_add_up(table):
    figure = court_chart(table, COURT, default_scheme(COURT))
    legend = {
        words.rpartition(": ")[0]: int(words.rpartition(": ")[2])
        for words in (text.get_text() for text in figure.legends[0].get_texts())
        if re.search(r": \d+$", words)
    }
    drawn = sum(np.size(line.get_xdata()) for line in figure.axes[0].lines if line.get_zorder() == 5)
    told = r"(\d+) of (\d+) in deep 1, (\d+) [a-z ]+\. (?:(\d+) of these were received, )?(\d+) more received"
    headline = re.match(told, aim_sentence(table))
    assert headline is not None
    hits, of, untold, unsure, received = map(int, headline.groups(default="0"))
    close = untold - unsure

    assert sum(legend.values()) == len(table) == of + received
    near_line = sum(np.array(shapes_of(table)) == "square")
    near_line_and_aim = (np.array(shapes_of(table)) == "square") & table["aim_may"].to_numpy(dtype=bool)
    assert legend["on target"] == hits
    assert legend.get("on target or just beside", 0) + near_line_and_aim.sum() == close
    assert legend.get("too close to a line", 0) == near_line
    assert drawn == landed_mask(table).sum()
    assert received == (table["x_m"].isna() & (table["outcome"] == "received")).sum()
    assert f"({(table['outcome'] == 'received').sum()} received)" in practice_summary(table)[0]


def test_received_balls_count_where_they_would_have_landed(table):
    """Every landing whose place is known and that was not out lies in one area and in one band."""
    kept = landed_mask(table) & ((table["outcome"] != "floor") | (table["verdict"] != "out")).to_numpy()
    estimated = kept & (table["outcome"] == "received").to_numpy()
    assert estimated.sum() >= 5
    assert depth_distribution(table)["deep"].n == kept.sum()
    without = table[~estimated]
    counted, fewer = (sum(rate.most for rate in area_rates(rows).values()) for rows in (table, without))
    assert counted - fewer >= estimated.sum()


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_every_page_of_the_sheets_adds_up(book, paper):
    data = read_report_data(book)
    for player_id in ("ines", "noor"):
        rows = data.table[data.table["player_id"] == player_id]
        assert disagreements(server_pages(data, player_id, None, paper), rows, "server") == []
    assert disagreements(team_pages(data, None, paper), data.table, "team") == []


def test_a_page_that_does_not_add_up_is_found(book):
    """The same pages, held against a table with one hit less."""
    data = read_report_data(book)
    rows = data.table[data.table["player_id"] == "ines"]
    hit = rows.index[[shape == "disc" for shape in shapes_of(rows)]][0]
    pages = server_pages(data, "ines")
    assert len(disagreements(pages, rows.drop(index=hit), "server")) >= 4
    assert PageCounts(pages[0]).strip == len(rows)

"""The server's page and the team's sheet: large where they are read from afar, whole on paper, a front and a back."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from serve_marker.logbook.records import Player
from serve_marker.logbook.store import Logbook
from serve_marker.report.headline_figures import passers_figures, serve_figures
from serve_marker.report.page_canvas import Page
from serve_marker.report.server_page import practice_lines, server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.report.team_page import LEAST_COURT_IN, _court_in, _grid, team_pages
from serve_marker.study.sentences import possible_paces
from tests.report.conftest import NAMES, fill
from tests.report.test_story import MAT, evening, of  # noqa: F401

AIMS = ("deep 1", "seam 5-6", "short 4", "outline 6.5,6.5 8.5,6.5 8.5,8.5 6.5,8.5")


def made(folder, counts, aims=AIMS, servers=2):
    players = [Player(id=f"player-{n}", name=name, number=n + 3) for n, name in enumerate(NAMES[:servers])]
    with Logbook.create(folder / "team.logbook", team="Tidewater U16") as book:
        fill(book, players, counts=counts, aims=aims)
        return read_report_data(book)


def texts_of(page):
    drawn = [*page.figure.texts, *(text for axes in page.figure.axes for text in axes.texts)]
    return [text for text in drawn if text.get_text()]


def sizes_of(page):
    return {text.get_text(): text.get_size() for text in sorted(texts_of(page), key=lambda text: text.get_size())}


def test_what_is_read_from_a_wall_is_large(logbook):
    data = read_report_data(logbook)
    server, team = server_pages(data, "player-1", "practice-0")[0], team_pages(data, "practice-0")[0]
    of_server, of_team = sizes_of(server), sizes_of(team)
    assert of_server["4 Marit"] >= 34
    rows = data.of_practice("practice-0")
    for sizes, own in ((of_server, rows[rows["player_id"] == "player-1"]), (of_team, rows)):
        assert [figure.name for figure in serve_figures(own)] == ["in", "on target", "typical pace"]
        assert min(sizes[figure.number] for figure in serve_figures(own)) >= 30
    assert {of_team[f"{n + 3} {name}"] for n, name in enumerate(NAMES[:4])} == {18.0}
    assert max(size for words, size in of_server.items() if words.startswith(("Next", "First", "Move", "Right"))) >= 20


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("count", [0, 1, 4, 40, 300])
def test_nothing_is_cut_off_and_no_front_runs_into_its_legend(tmp_path, count, paper):
    data = made(tmp_path, (count,))
    pages = [*server_pages(data, "player-0", None, paper), *team_pages(data, None, paper)]
    for page in pages:
        page.figure.canvas.draw()
        width_px, height_px = page.figure.bbox.size
        boxes = [text.get_window_extent() for text in texts_of(page)]
        boxes += [legend.get_window_extent() for legend in page.figure.legends]
        assert all(box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width_px and box.y1 <= height_px for box in boxes)
    fronts = [page for page in pages if page.figure.legends and "coach" not in " ".join(sizes_of(page))]
    for page in fronts:
        top_px = page.figure.legends[0].get_window_extent().y1
        assert all(axes.get_window_extent().y0 >= top_px - 1 for axes in page.figure.axes)
    assert len(fronts) == (2 if count else 0)


def test_the_longest_sentence_of_a_front_has_14_words(tmp_path, many_names):
    data = made(tmp_path, (40, 30))
    pages = [server_pages(data, "player-0")[0], team_pages(data)[0], team_pages(read_report_data(many_names))[0]]
    sentences = [part for page in pages for words in sizes_of(page) for part in re.split(r"(?<=[.!?]) | · ", words)]
    assert max(len(sentence.split()) for sentence in sentences) <= 14


def test_a_season_of_forty_practices_stays_one_table_on_page_2(tmp_path):
    """40 practices 28 days apart, two aims each: the newest whole ones have their lines, the others one together."""
    data = made(tmp_path, (8,) * 40)
    rows = data.table[data.table["player_id"] == "player-0"]
    lines = practice_lines(rows, 13)
    assert [line[0] for line in lines[:4]] == ["2 Oct 2029"] * 2 + ["4 Sep 2029"] * 2
    assert (len(lines), lines[-1][0], lines[-1][1]) == (13, "34 older", "2 aims")
    assert sum(int(line[2]) for line in lines) == len(rows) == 160
    assert len(practice_lines(rows, 1)) == 1
    assert len(practice_lines(rows, 500)) == 80
    for paper in ("A4", "letter"):
        front, back = server_pages(data, "player-0", None, paper)
        assert back.down_in <= back.height_in - 0.4
        assert any(words.endswith("older") for words in sizes_of(back))
        assert "page 1 of 2" in sizes_of(front)


def test_serves_are_a_strip_in_the_order_served_with_the_newest_of_many(tmp_path):
    data = made(tmp_path, (240,))
    words = list(sizes_of(server_pages(data, "player-0")[0]))
    assert "The newest 50 of 120 serves, in the order served" in words
    assert {"71", "120"} <= set(words)
    assert "70" not in words


def test_balls_wear_the_numbers_of_the_strip(logbook):
    """Each landing of ten serves has its place in the order served beside it, nets and faults have none."""
    data = read_report_data(logbook)
    rows = data.of_practice("practice-0")
    own = rows[rows["player_id"] == "player-1"].reset_index(drop=True)
    page = server_pages(data, "player-1", "practice-0")[0]
    strip, court = page.figure.axes
    assert [text.get_text() for text in strip.texts] == [str(number) for number in range(1, len(own) + 1)]
    numbers = [int(text.get_text()) for text in court.texts if text.get_text().isdecimal()]
    assert numbers == [place + 1 for place in own.index[own["x_m"].notna()]]
    assert "deep 1" in [text.get_text() for text in court.texts]


def test_in_a_crowd_numbers_that_would_hide_others_are_left_away(logbook):
    """All of one evening on one spot, and one ball apart: that one has its number, and few others have."""
    data = read_report_data(logbook)
    rows = data.table[data.table["practice_id"] == "practice-0"].assign(player_id="all", x_m=1.5, y_m=7.5)
    rows.loc[rows.index[-1], ["outcome", "x_m", "y_m"]] = ["floor", 7.5, 1.5]
    page = server_pages(replace(data, table=rows), "all", "practice-0")[0]
    numbers = {text.get_text() for text in page.figure.axes[1].texts if text.get_text().isdecimal()}
    assert str(len(rows)) in numbers
    assert 2 <= len(numbers) < 12
    assert any("Where it is crowded" in words for words in sizes_of(page))


def test_a_score_tells_what_was_in_where_no_aim_can_be_told(logbook):
    """All aimed, all received, no place known: nothing is on target for sure or not, but all were in."""
    data = read_report_data(logbook)
    rows = (
        data.table[data.table["practice_id"] == "practice-0"]
        .head(8)
        .assign(outcome="received", verdict="", aim_hit=None, aim_surely=False, aim_may=True, x_m=float("nan"))
    )
    words = sizes_of(team_pages(replace(data, table=rows), "practice-0")[0])
    assert "2 of 2 in" in words
    assert "on target" not in words


@pytest.mark.parametrize(("servers", "across"), [(1, 2), (2, 2), (4, 2), (9, 3), (12, 4)])
def test_courts_are_as_large_as_all_servers_let_them_be(servers, across):
    page = Page("A4")
    page.down_in = 2.7
    found = _grid(servers, page)
    assert found == (across, -(-servers // across))
    sizes = [_court_in(page, other, -(-servers // other)) for other in (2, 3, 4)]
    assert _court_in(page, *found) == max(sizes) >= LEAST_COURT_IN


def test_more_servers_than_fit_go_on_with_courts_that_are_still_seen():
    page = Page("letter")
    page.down_in = 2.7
    across, down = _grid(40, page)
    assert across * down < 40
    assert _court_in(page, across, down) >= LEAST_COURT_IN


def test_with_passers_the_first_figures_are_errors_aces_mean_pass_and_gap(evening):  # noqa: F811
    """Six floats that fell in with passers there are six aces; the other six were passed 3, 2, 3, 2, 3, 2: 2.5 of 3."""
    rows = of(evening, formations=("three passers up",))
    errors, aces, gap = passers_figures(rows)[0], passers_figures(rows)[1], passers_figures(rows)[-1]
    assert [(one.number, one.beside, one.name) for one in (errors, aces)] == [
        ("0", "of 6", "errors"),
        ("6", "of 6", "aces"),
    ]
    assert (gap.number, gap.beside, gap.name) == ("0.5", "m", "typical gap")
    assert gap.below == ("how far the nearest", "passer had to go, of 6")
    passed = passers_figures(of(evening, formations=("three passers back",)))
    assert [(one.number, one.beside) for one in passed if one.name == "mean pass"] == [("2.5", "of 3")]
    assert passers_figures(of(evening, aims=(MAT,))) == []


def test_what_is_not_known_has_no_figure(logbook):
    """No aim, no pace: only what was in; of four timed serves the fastest, not the typical one."""
    rows = read_report_data(logbook).of_practice("practice-0")
    bare = rows.assign(aim="", pace_mps=float("nan"))
    assert [figure.name for figure in serve_figures(bare)] == ["in"]
    assert serve_figures(rows.iloc[:0]) == []
    few = possible_paces(rows).head(4)
    assert serve_figures(few)[-1].name == "fastest"
    assert serve_figures(few)[-1].number == f"{3.6 * few['pace_mps'].max():.0f}"


def test_a_team_of_many_errors_reads_what_to_do_first_and_one_without_reads_nothing(logbook):
    """All in the net: the share of errors lies above any limit, whatever chance."""
    data = read_report_data(logbook)
    poor = replace(data, table=data.table.assign(outcome="net", verdict="", x_m=float("nan"), y_m=float("nan")))
    good = replace(data, table=data.table[(data.table["outcome"] == "floor") & (data.table["verdict"] == "in")])
    serves = len(data.table)
    read_poor, read_good = ([text.get_text() for text in texts_of(team_pages(one)[0])] for one in (poor, good))
    assert f"First get it in: {serves} of {serves} in the net." in read_poor
    assert not [words for words in read_good if words.startswith("First get it in")]


def test_what_a_figure_leaves_out_is_said_below_it(evening):  # noqa: F811
    """One received serve at no known place and one without an aim: 2 fewer than all serves were aimed and placed."""
    rows = evening.table.copy()
    first, second = rows.index[rows["outcome"] == "floor"][:2]
    unplaced = {"outcome": "received", "verdict": "", "aim_hit": None, "x_m": float("nan"), "y_m": float("nan")}
    rows.loc[first, list(unplaced)] = list(unplaced.values())
    rows.loc[second, "aim"] = ""
    told = [{one.name: one for one in serve_figures(serves)} for serves in (evening.table, rows)]
    before, after = (figures["on target"] for figures in told)
    assert int(before.beside.removeprefix("of ")) - int(after.beside.removeprefix("of ")) == 2
    assert after.below[-1].startswith("left out: ")
    assert "received" in after.below[-1]

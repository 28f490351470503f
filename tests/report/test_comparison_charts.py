import numpy as np
import pandas as pd
import pytest

from serve_marker.report.charts import _free_corner, court_chart, has_spread
from serve_marker.report.comparison_charts import (
    pace_chart,
    periods_chart,
    seam_chart,
    servers_chart,
)
from serve_marker.report.figure_pixels import pixels_of
from serve_marker.report.sheets import read_report_data
from serve_marker.study.by_server import rows_by_server
from serve_marker.study.compare import NOT_THE_SAME_TASK
from serve_marker.study.compare_servers import rates_alike, servers_sentences
from serve_marker.study.rates import seam_hits
from serve_marker.study.sentences import hits_words
from serve_marker.study.serve_shape import counted_words, on_target
from tests.study.conftest import with_evenings


@pytest.fixture
def evening(logbook):
    return read_report_data(logbook)


def words_of(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts]


def test_servers_stand_in_the_order_of_their_numbers_and_the_unknown_last(evening):
    table = evening.table.copy()
    table.loc[table.index[:3], ["player_id", "server"]] = ""
    assert [words for words, _ in rows_by_server(table)] == [
        "3 Ines",
        "4 Marit",
        "5 Noor",
        "6 Priya",
        "server not known",
    ]


def test_who_shows_each_server_with_count_and_range(evening):
    said = words_of(servers_chart(evening.table))
    for words, own in rows_by_server(evening.table):
        assert words in said
        assert counted_words(on_target(own)) in said


def test_who_hits_most_often_stands_on_top(evening):
    groups = rows_by_server(evening.table)
    shares = {words: on_target(own).hits / on_target(own).n for words, own in groups}
    axes = servers_chart(evening.table).axes[0]
    height = {text.get_text(): text.get_position()[1] for text in axes.texts if text.get_text() in shares}
    on_top = sorted(height, key=lambda words: height[words])
    assert [shares[words] for words in on_top] == sorted(shares.values(), reverse=True)


def test_without_aims_servers_are_compared_by_landing_in(evening):
    unaimed = evening.table.assign(aim="", aim_hit=None)
    assert servers_chart(unaimed).axes[0].get_xlabel().startswith("in,")


def test_servers_with_and_without_an_aim_are_compared_alike():
    """20 of 20 in without an aim say nothing against 6 of 20 that hit one: all 40 were in."""

    def serves(player_id, aim, hits):
        hit = [bool(aim) and k < hits for k in range(20)]
        who = {"player_id": player_id, "server": player_id, "name": player_id, "number": 1.0}
        who |= {"practice_id": [f"{k}" for k in range(20)], "serve_type": "float", "target_kind": "none"}
        told = {"aim": aim, "aim_hit": hit if aim else None, "aim_surely": hit, "aim_may": hit}
        return with_evenings(pd.DataFrame({**who, "outcome": "floor", "verdict": "in", **told}, index=range(20)))

    table = pd.concat([serves("ines", "", 0), serves("marit", "deep 1", 6)], ignore_index=True)
    what, rates = rates_alike(table, [own for _, own in rows_by_server(table)])
    assert (what, [rate.hits for rate in rates]) == ("in", [20, 20])
    assert servers_sentences(table)[0] == NOT_THE_SAME_TASK
    mostly_aimed = pd.concat([table, serves("noor", "deep 1", 12)], ignore_index=True)
    what, rates = rates_alike(mostly_aimed, [own for _, own in rows_by_server(mostly_aimed)])
    assert (what, [(rate.hits, rate.n) for rate in rates]) == ("on target", [(0, 0), (6, 20), (12, 20)])


def test_pace_names_the_middle_and_the_fastest_in_kmh(evening):
    timed = evening.table[evening.table["pace_mps"].notna()]
    _, own = rows_by_server(timed)[0]
    kmh = 3.6 * own["pace_mps"].to_numpy()
    assert f"typical {np.median(kmh):.0f}, fastest {kmh.max():.0f} km/h" in words_of(pace_chart(evening.table))


def test_both_seams_are_counted(evening):
    said = words_of(seam_chart(evening.table, evening.court, evening.scheme))
    landed = evening.table[(evening.table["seam"] == "seam 6-1") & (evening.table["verdict"] == "in")]
    assert "seam 5-6" in said
    counted = seam_hits(evening.table)["seam 6-1"]
    assert counted.hits <= len(landed) <= counted.most
    assert hits_words(counted) in said


@pytest.mark.parametrize("draw", [servers_chart, pace_chart, periods_chart])
def test_nobody_served_is_said_instead_of_an_empty_chart(evening, draw):
    """One empty row and the axis below it: half an inch and three quarters."""
    figure = draw(evening.table.iloc[:0], "dark", (5.0, 3.0))
    assert pixels_of(figure, 50).shape == (62, 250, 4)
    assert words_of(figure) in (["no serves"], ["no timed serves"])
    assert not figure.axes[0].axison


@pytest.mark.parametrize("draw", [servers_chart, pace_chart, periods_chart])
def test_a_narrow_window_gets_a_chart_wide_enough_for_its_words(evening, draw):
    """1.7 inches of names, 2.2 of words and at least one between them."""
    assert draw(evening.table, size_in=(3.6, 3.0)).get_size_inches()[0] == pytest.approx(4.9)


def test_of_one_serve_there_is_no_middle(evening):
    one = evening.table[evening.table["pace_mps"].notna()].iloc[:1]
    assert f"{3.6 * one['pace_mps'].iloc[0]:.0f} km/h" in words_of(pace_chart(one))


def test_below_five_serves_an_area_has_no_percentage(evening):
    sure = (evening.table["area"] == "deep 1") & evening.table["area_sure"].astype(bool)
    told = evening.table[sure & (evening.table["verdict"] == "in")]
    for count, has_share in ((4, False), (5, True)):
        said = [text.get_text() for text in court_chart(told.iloc[:count], evening.court, evening.scheme).axes[0].texts]
        assert (f"{count} (100 %)" in said, f"{count}" in said) == (has_share, not has_share)


def test_thirty_servers_make_the_chart_higher(many_names):
    table = read_report_data(many_names).table
    figure = servers_chart(table, size_in=(7.0, 3.0))
    assert figure.get_size_inches()[1] > 6.0


def test_a_count_makes_way_for_the_landings():
    """Landings near the upper left push the words to the upper right; near both, below."""
    area = (0.0, 6.0, 3.0, 9.0)
    upper_left, upper_right = [0.5, 8.8], [2.5, 8.8]
    assert _free_corner(area, np.empty((0, 2)), True)[1:] == ("left", "top")
    assert _free_corner(area, np.array([upper_left]), True)[1:] == ("right", "top")
    assert _free_corner(area, np.array([upper_left, upper_right]), True) == ((0.12, 6.12), "left", "bottom")


def test_serves_at_several_aims_have_no_middle(logbook, many_names):
    assert has_spread(read_report_data(logbook).table)
    assert not has_spread(read_report_data(many_names).table)

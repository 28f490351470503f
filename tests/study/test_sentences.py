import math

import numpy as np
import pandas as pd
import pytest

from serve_marker.logbook.records import Tally
from serve_marker.study import sentences
from serve_marker.study.load_words import load_columns, most_served_sentence
from serve_marker.study.loads import COUNTED, LOAD_NOTE, by_week, iso_week, serving_loads, tally_table
from serve_marker.study.pull import bias
from serve_marker.study.rates import rate, wilson
from serve_marker.study.serve_columns import serve_table

AIM = np.tile([1.5, 7.5], (6, 1))
JITTER = np.array([(0.1, 0.0), (-0.1, 0.0), (0.0, 0.1), (0.0, -0.1), (0.05, 0.05), (-0.05, -0.05)])


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (rate(12, 20), "12 of 20 (39 to 78 %)"),
        (rate(12, 20, 14), "12–14 of 20 (39 to 85 %)"),
        (rate(2, 4), "2 of 4 (too few)"),
        (rate(0, 0), "-"),
    ],
)
def test_a_rate_is_a_count_with_its_range(found, said):
    assert sentences.rate_with_interval_words(found) == said


@pytest.mark.parametrize(
    ("shift", "said"),
    [
        ((0.0, -0.6), "0.6 m short"),
        ((0.0, 0.6), "0.6 m long"),
        ((0.4, -0.6), "0.6 m short, 0.4 m right"),
        ((-0.4, 0.0), "0.4 m left"),
        ((0.0, 0.0), "no clear pull"),
        ((0.0, -0.09), "no clear pull"),
    ],
)
def test_bias_names_the_servers_left_right_long_short(shift, said):
    assert sentences.bias_words(bias(AIM + JITTER + np.array(shift), AIM)) == said


def test_a_lean_within_its_interval_is_not_named():
    wide = AIM + 12 * JITTER + np.array([0.0, -0.4])
    assert sentences.bias_words(bias(wide, AIM)) == "no clear pull"


def test_four_serves_are_too_few_to_name_a_lean():
    assert sentences.bias_words(bias(AIM[:4] + np.array([0.0, -2.0]), AIM[:4])) == "too few"


def test_a_practice_opens_with_how_the_serves_ended(logbook):
    said = sentences.practice_summary(serve_table(logbook))
    assert said[0] == "6 serves by 2 servers, 3 in. Errors: 1 net, 1 long. 1 too close to call."
    assert said[1].startswith("2 of 5 on target, 1 too close to tell")


def test_a_serve_too_close_to_a_line_far_from_its_aim_missed_it(logbook):
    table = serve_table(logbook)
    close = table[table["serve_id"] == "s-close"]
    assert sentences.aim_sentence(close).startswith("0 of 1 in deep 1, 1 too close to tell")
    elsewhere = close.assign(aim="deep 5", aim_hit=False, aim_surely=False, aim_may=False)
    assert sentences.aim_sentence(elsewhere).startswith("0 of 1 in deep 5. ")


def test_below_five_serves_more_are_asked_for(logbook):
    table = serve_table(logbook)
    few = table[table["player_id"] == "noor"]
    assert sentences.aim_sentence(few) == "1 of 1 in seam 5-6. 4 more serves and we can say how good that is."


def test_no_serves_are_one_sentence(logbook):
    assert sentences.practice_summary(serve_table(logbook).iloc[:0]) == ["No serves are marked yet."]


def test_pace_in_both_units():
    """14.2 m/s times 3.6 is 51.12 km/h."""
    assert sentences.pace_words(14.2) == "51 km/h"
    assert sentences.pace_words(math.nan) == ""


@pytest.mark.parametrize(
    ("date", "week"),
    [("2026-12-31", "2026-W53"), ("2027-01-03", "2026-W53"), ("2027-01-04", "2027-W01"), ("", ""), ("soon", "")],
)
def test_weeks_are_iso_8601(date, week):
    """2026 has 53 weeks, as each year that begins on a Thursday (ISO 8601)."""
    assert iso_week(date)[0] == week


def test_loads_count_every_attempt_and_jump_serves_apart(logbook):
    loads = serving_loads(serve_table(logbook)).set_index("player_id")
    assert (loads.at["marit", "serves"], loads.at["marit", "jump_serves"]) == (4, 3)
    unsaid = serving_loads(serve_table(logbook).assign(serve_type="")).set_index("player_id")
    assert unsaid.loc["marit", ["jump_serves", "jump_serves_most"]].tolist() == [0, 4]
    assert loads.at["noor", "week"] == "2026-W45"
    assert "athletic trainer or physician" in LOAD_NOTE


def test_loads_leave_out_serves_without_server_or_date(logbook):
    table = serve_table(logbook)
    assert serving_loads(table)["serves"].sum() == 5
    assert len(serving_loads(table.assign(date=""))) == 0
    assert isinstance(serving_loads(table.iloc[:0]), pd.DataFrame)


def test_serves_counted_beside_the_court_join_the_load_and_nothing_else(logbook):
    """Marit: 4 marked on Tuesday 3 November, 3 of them jump serves; 20 and 6 typed in on that day and on Thursday."""
    before = serve_table(logbook)
    logbook.put(
        Tally(id="1", date="2026-11-03", player_id="marit", serves=20, serve_type="jump topspin", full_pace=5, hits=9),
        Tally(id="2", date="2026-11-05", player_id="marit", serves=6),
        Tally(id="3", date="2026-11-12", player_id="noor", serves=30, serve_type="float"),
    )
    assert serve_table(logbook).equals(before)
    loads = serving_loads(before, tally_table(logbook))
    marit = loads[loads["player_id"] == "marit"].set_index("date")[list(COUNTED)]
    assert marit.loc["2026-11-03"].tolist() == [24, 23, 23, 5]
    assert marit.loc["2026-11-05"].tolist() == [6, 0, 6, 0]
    weeks = by_week(loads).set_index(["player_id", "week"])
    assert weeks.loc[("marit", "2026-W45"), list(COUNTED)].tolist() == [30, 23, 29, 5]
    assert weeks.loc[("noor", "2026-W46"), "serves"] == 30
    assert most_served_sentence(loads) == "Most in the week of 9 Nov: 4 Noor, 30 serves (0 jump serves)."
    columns = load_columns(loads)
    assert [column.head for column in columns] == [
        "week of\n2 Nov",
        "week of\n9 Nov",
        "Tue 3 Nov",
        "Thu 5 Nov",
        "Thu 12 Nov",
    ]
    assert columns[0].words("marit") == ("30 (23–29)", "5 full pace")
    assert columns[1].words("marit") == ("", "")
    assert (columns[1].share("noor"), columns[1].share("marit")) == (1.0, 0.0)
    weeks_most = max(counted[0] for column in columns[:2] for _, counted in column.loads.values())
    assert {column.most for column in columns[:2]} == {weeks_most}, "all weeks are drawn on one scale, as all days are"
    assert {column.most for column in columns[2:]} == {
        max(counted[0] for column in columns[2:] for _, counted in column.loads.values())
    }
    assert most_served_sentence(loads.iloc[:0]) == ""


def test_a_player_whose_number_changed_is_one_player(logbook):
    table = serve_table(logbook)
    logbook.put(Tally(id="1", date="2026-11-03", player_id="marit", serves=50, serve_type="float"))
    tallies = tally_table(logbook).assign(server="12 Marit")
    loads = by_week(serving_loads(table, tallies))
    assert loads[loads["player_id"] == "marit"][["server", "serves"]].to_numpy().tolist() == [["12 Marit", 54]]


def test_rates_of_a_published_count_of_serves():
    """818 serves, 61 aces, 109 errors: Wilson .0585-.0946 and .1117-.1583 (published counts; arithmetic only)."""
    assert wilson(61, 818) == pytest.approx((0.0585, 0.0946), abs=5e-5)
    assert wilson(109, 818) == pytest.approx((0.1117, 0.1583), abs=5e-5)


def test_the_fastest_of_many_is_the_largest_of_noisy_numbers():
    """24 serves of one true pace, 15 m/s, each measured to 0.5 m/s: the fastest is over 15 nearly always."""
    pace = np.random.default_rng(2).normal(15, 0.5, 24)
    columns = {"pace_mps": pace, "pace_low_mps": pace - 1, "pace_high_mps": pace + 1, "server": "7 Marit"}
    columns["net_clearance_high_m"] = np.nan
    table = pd.DataFrame(columns)
    assert pace.max() > 15.5
    assert sentences.fastest_note(table) == "The fastest is likely a little slower, picked as it is from 24."
    assert sentences.fastest_note(table[:4]) == ""


def test_angle_and_effort_are_told_with_how_well_they_are_known():
    table = pd.DataFrame({"pace_mps": [15.0] * 6, "net_clearance_m": 0.7, "launch_deg": 9.0, "effort": 0.9})
    for name, off, unit in (("net_clearance", 0.2, "_m"), ("launch", 2.0, "_deg"), ("effort", 0.04, "")):
        table[f"{name}_low{unit}"], table[f"{name}_high{unit}"] = table[name + unit] - off, table[name + unit] + off
    table["effort_of"] = "the last year"
    assert (
        sentences.clearance_sentence(table)
        == "Typically 0.7 m over the net (±0.2), to the ball's centre. Hit at 9 degrees (±2)."
    )
    assert sentences.effort_sentence(table).startswith("Typical effort 90 % (each ±4) of her best pace.")


def test_a_flight_through_the_net_is_asked_about_and_left_out():
    """0.16 m below the net, known to 0.2 m: the ball's middle passes 0.105 m above the tape at the least (rule 3.1)."""
    columns = {"pace_mps": [15.0, 15.2, 21.0], "pace_low_mps": 14.0, "pace_high_mps": 16.0, "server": "7 Marit"}
    table = pd.DataFrame(columns | {"net_clearance_m": [0.5, 0.02, -0.16]})
    for end, off_m in (("low", -0.2), ("high", 0.2)):
        table[f"net_clearance_{end}_m"] = table["net_clearance_m"] + off_m
        table[f"launch_{end}_deg"] = 8.0
    said = sentences.through_net_sentence(table)
    assert said.startswith("1 serve would have gone through the net: is its contact marked too late?")
    assert sentences.through_net_sentence(table[:2]) == ""
    assert sentences.pace_sentence(table).startswith("Fastest of 2 timed: 55 km/h")
    assert "-0.2 m" not in sentences.clearance_sentence(table)

import json
import math

import pytest

from serve_marker.court.areas import AreaScheme
from serve_marker.report.export_columns import EXPORT_COLUMNS
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.serve_columns import court_and_scheme, serve_table

DESIGNED = (
    "serve_id, practice, date, server, serve_type, aim, aim_hit, outcome, verdict, half, x_m, y_m, error_m, area, "
    "area_sure, zone, depth_band, seam, line_margin_m, area_margin_m, gap_m, floor_gap_m, passer, reception, "
    "target_kind, season, pace_mps, pace_low_mps, pace_high_mps, effort, net_clearance_m, clip, contact_s, landing_s, "
    "pass_rating, note"
)


@pytest.fixture
def rows(logbook):
    return serve_table(logbook).set_index("serve_id", drop=False)


def test_columns_are_the_contracts_in_order(rows):
    assert list(EXPORT_COLUMNS) == DESIGNED.split(", ")
    assert set(EXPORT_COLUMNS) <= set(rows.columns)


def test_a_hit_is_told_in_full(rows):
    hit = rows.loc["s-hit"]
    assert (hit.server, hit.practice, hit.date, hit["clip"], hit.note) == (
        *("7 Marit", "Tuesday", "2026-11-03", "evening-1.mp4", "toss low"),
    )
    assert (hit.verdict, hit.aim_hit, hit.area, hit.zone, hit.depth_band, hit.half) == (
        *("in", True, "deep 1", "1", "deep", "b"),
    )
    assert (hit.x_m, hit.y_m) == pytest.approx((1.5, 7.5))
    assert hit.error_m == pytest.approx(math.sqrt(-2 * math.log(0.05)) * 0.02)
    assert (hit.aim_x_m, hit.aim_y_m) == pytest.approx((1.5, 7.5))
    assert (hit.contact_s, hit.landing_s) == (19.0, 20.0)


def test_pace_is_the_way_over_the_time_and_lies_in_its_interval(rows):
    """From (2.5, -9.0) to (-3.0, 7.5) in one second: sqrt(5.5^2 + 16.5^2) = 17.393 m/s, worked by hand."""
    hit = rows.loc["s-hit"]
    assert hit.pace_mps == pytest.approx(17.393, abs=0.05)
    assert hit.pace_low_mps < hit.pace_mps < hit.pace_high_mps
    assert math.isnan(rows.loc["s-seam"].pace_mps)


@pytest.mark.parametrize(
    ("serve_id", "verdict", "missed"), [("s-long", "out", "long"), ("s-close", "too close", ""), ("s-net", "", "")]
)
def test_verdicts(rows, serve_id, verdict, missed):
    assert (rows.loc[serve_id].verdict, rows.loc[serve_id].missed) == (verdict, missed)


def test_what_is_not_known_is_empty(rows):
    net = rows.loc["s-net"]
    assert (net.verdict, net.area, net.zone, net.seam, net.aim_hit, net.area_sure) == ("", "", "", "", False, None)
    assert all(math.isnan(net[name]) for name in ("x_m", "y_m", "error_m", "line_margin_m", "landing_s", "pass_rating"))
    assert rows[["gap_m", "effort", "net_clearance_m"]].isna().all(axis=None)
    assert rows.loc["s-match"].server == ""


def test_a_practice_alone(logbook):
    assert serve_table(logbook, "match")["serve_id"].tolist() == ["s-match"]


def test_an_own_scheme_moves_the_areas(logbook):
    own = AreaScheme((2.0, 4.0), (3.0, 8.0), (3.0, 8.0), 1.0)
    logbook.set_setting("scheme", json.dumps(own.to_dict()))
    rows = serve_table(logbook).set_index("serve_id")
    assert rows.loc["s-hit"].area == "between 1-2"
    assert court_and_scheme(logbook, list(rows["court"]))[1] == own


def test_an_empty_logbook_has_an_empty_table(logbook):
    table = serve_table(logbook, "no such practice")
    assert len(table) == 0
    assert set(EXPORT_COLUMNS) <= set(table.columns)


@pytest.mark.parametrize(
    ("choice", "chosen"),
    [
        (ServeFilter(), 6),
        (ServeFilter(practice_ids=("match",)), 1),
        (ServeFilter(player_ids=("noor",)), 1),
        (ServeFilter(player_ids=("noor", "")), 2),
        (ServeFilter(serve_types=("float",)), 1),
        (ServeFilter(aims=("deep 1",), player_ids=("marit",)), 4),
        (ServeFilter(date_from="2026-11-04"), 1),
        (ServeFilter(date_to="2026-11-03"), 5),
        (ServeFilter(date_from="2027-01-01"), 0),
        (ServeFilter(purposes=("match",)), 1),
        (ServeFilter(target_kinds=("mats",)), 5),
    ],
)
def test_choices_narrow_the_table(logbook, choice, chosen):
    assert len(filter_serves(serve_table(logbook), choice)) == chosen

"""What serves asked of the passers they were hit against, how hard they were, and when and from where they came."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import solve_ivp

from serve_marker.court.formations import Formation, Passer
from serve_marker.court.passer_movement import Movement
from serve_marker.errors import UserError
from serve_marker.flight.forces import likely_drag
from serve_marker.logbook.records import FloorPoint, Half, Mark, Player, Serve, StoredFormation
from serve_marker.report.export_columns import EXPORT_COLUMNS
from serve_marker.study.effort import FROM_SERIES, FROM_YEAR, effort_columns
from serve_marker.study.passers import gap_sentence
from serve_marker.study.position_columns import FIRST, LAST
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.settings import PER_MPS, StudySettings, keep_settings, settings_of
from serve_marker.study.stored_formations import formation_from, formation_record

PAIR = Formation("two", (Passer(3.0, 6.0, "Ines"), Passer(6.0, 6.0, role="libero")))


def landed(serve_id, x_m, y_m, **more):
    point = FloorPoint(x_m - 4.5, y_m, 1e-4, 0.0, 1e-4)
    return Serve(id=serve_id, clip_id="clip-1", player_id="marit", served_to="b", landing_point=point, **more)


def test_a_serve_is_measured_against_its_own_formation(logbook):
    """Hand-worked: (3, 8) is 2 m behind Ines; (4.5, 6) lies on the border of both; (6, 3) is 3 m before the libero."""
    logbook.put(
        formation_record("pair", PAIR),
        landed("t1", 3.0, 8.0, formation_id="pair", landing=Mark(1.0)),
        landed("t2", 4.5, 6.0, formation_id="pair", landing=Mark(2.0), passer_id="noor"),
        landed("t3", 6.0, 3.0, formation_id="pair", landing=Mark(3.0)),
        landed("t4", 6.0, 3.0, landing=Mark(4.0)),
    )
    table = serve_table(logbook).set_index("serve_id")
    assert table.loc[["t1", "t2", "t3"], "floor_gap_m"].tolist() == pytest.approx([2.0, 1.5, 3.0])
    assert table.loc[["t1", "t2", "t3"], "passer"].tolist() == ["Ines", "Noor", "libero"]
    assert table.at["t2", "passer_seam"] == "between Ines and libero"
    assert (np.isnan(table.at["t4", "floor_gap_m"]), table.at["t4", "passer"]) == (True, "")
    assert table["gap_m"].isna().all()  # no contact is marked, so no flight is known: nor where it could be met
    assert (table["way"] == "").all()
    assert table["reached"].isna().all()
    assert gap_sentence(table.reset_index()) == "2.0 m, 1.5 m, 3.0 m from the landing to the nearest passer."


def test_who_stood_there_and_who_passed_is_one_player(logbook):
    """Hand-worked: both serves were Noor's, one because she stood nearest, one because the coach said so."""
    pair = Formation("two", (Passer(3.0, 6.0, "Noor", player_id="noor"), Passer(6.0, 6.0, role="libero")))
    logbook.put(
        formation_record("pair", pair),
        landed("t1", 3.0, 8.0, formation_id="pair", landing=Mark(1.0)),
        landed("t2", 6.0, 6.0, formation_id="pair", landing=Mark(2.0), passer_id="noor"),
    )
    table = serve_table(logbook).set_index("serve_id").loc[["t1", "t2"]]
    assert (table["nearest"].tolist(), table["passer"].tolist()) == (["Noor", "libero"], ["Noor", "Noor"])
    noor = next(player for player in logbook.players() if player.id == "noor")
    logbook.put(dataclasses.replace(noor, name="Noor Anna"))
    table = serve_table(logbook).set_index("serve_id")
    assert table.loc[["t1", "t2"], "passer"].tolist() == ["Noor Anna", "Noor Anna"]


def flown(speed_mps, angle_deg, height_m, drag):
    """A flight by another integrator (scipy's DOP853): time and way at 2.0, 1.2 and 0.3 m, and at the landing."""

    def pull(_t, state):
        v = np.hypot(state[2], state[3])
        k = drag * 1.204 * np.pi * 0.105**2 / (2 * 0.27)
        return state[2], state[3], -k * v * state[2], -9.81 - k * v * state[3]

    def passes(height_m):
        def above_m(_t, state):
            return state[1] - height_m

        setattr(above_m, "direction", -1)  # noqa: B010 - how scipy asks for falling balls alone
        return above_m

    events = [passes(height_m) for height_m in (2.0, 1.2, 0.3, 0.105)]
    angle = np.radians(angle_deg)
    start = [0, height_m, speed_mps * np.cos(angle), speed_mps * np.sin(angle)]
    told = solve_ivp(pull, (0, 3), start, method="DOP853", events=events, rtol=1e-10, atol=1e-10)
    return [(float(t[0]), float(y[0][0])) for t, y in zip(told.t_events, told.y_events, strict=True)]


@pytest.mark.parametrize(("speed_mps", "angle_deg"), [(16.5, 10.0), (19.5, 4.0)])
@pytest.mark.parametrize("highest", [1, 0])
def test_the_ball_is_met_on_its_flight(logbook, speed_mps, angle_deg, highest):
    """Straight down the court to 8 m, Ines in its way at 6 m: she goes to where it is 1.2 m high (2.0 m: overhand).

    The drag is the one likely for this pace, the height at contact the usual one of a jump float, 2.7 m.
    """
    drag = 0.35
    for _ in range(20):
        times = flown(speed_mps, angle_deg, 2.7, drag)
        drag = float(likely_drag(times[3][1] / times[3][0])[0])
    flight_s, way_m = times[3]
    high_m, low_m = (8.0 - (way_m - times[k][1]) for k in (highest, 2))
    passer_m = 6.0
    gap_m = max(high_m - passer_m, passer_m - low_m, 0.0)
    keep_settings(logbook, StudySettings(movement=Movement(0.25, 3.0, 0.5, 0.3, (2.0, 1.2)[highest])))
    alone = Formation("one", (Passer(3.0, passer_m, "Ines"),))
    ends = {"contact_point": FloorPoint(-1.5, 8.0 - way_m, 1e-4, 0.0, 1e-4), "formation_id": "one"}
    mark = {"contact": Mark(9.0, (1.0, 1.0), 1e-4, 1e-4), "landing": Mark(9.0 + flight_s, (1.0, 1.0), 1e-4, 1e-4)}
    logbook.put(formation_record("one", alone), landed("met", 3.0, 8.0, serve_type="jump float", **mark, **ends))
    met = serve_table(logbook).set_index("serve_id").loc["met"]
    assert met["floor_gap_m"] == pytest.approx(2.0)
    assert met["gap_m"] == pytest.approx(gap_m, abs=0.02)
    assert met["gap_m"] < 1.0
    assert (met["high_at_s"], met["low_at_s"]) == pytest.approx((times[highest][0], times[2][0]), abs=2e-3)


def test_reached_in_time_where_the_ball_can_be_met(logbook):
    """3 m to her side, so that it can be met nowhere nearer: 0.5 m + 3 m/s x (t - 0.25 s) make 2.3 m or 3.2 m, with t
    that of the lowest play, about 0.02 s before the landing."""
    alone = Formation("one", (Passer(6.0, 7.0, "Ines"),))
    ends = {"contact_point": FloorPoint(-1.5, -9.0, 1e-4, 0.0, 1e-4), "formation_id": "one"}
    logbook.put(
        formation_record("one", alone),
        landed("quick", 3.0, 7.3, contact=Mark(9.0, (1.0, 1.0)), landing=Mark(9.9, (1.0, 1.0)), **ends),
        landed("slow", 3.0, 7.3, contact=Mark(20.0, (1.0, 1.0)), landing=Mark(21.2, (1.0, 1.0)), **ends),
    )
    table = serve_table(logbook).set_index("serve_id")
    assert table.loc[["quick", "slow"], "gap_m"].tolist() == pytest.approx([3.0, 3.0], abs=0.01)
    assert table.loc[["quick", "slow"], "reached"].tolist() == [False, True]


def test_a_flight_that_cannot_be_tells_no_gap(logbook):
    """16 m in 8 s is a film in slow motion, not a serve: 7 km/h."""
    ends = {"contact_point": FloorPoint(0.0, -9.0, 1e-4, 0.0, 1e-4), "formation_id": "pair"}
    marks = {"contact": Mark(9.0, (1.0, 1.0)), "landing": Mark(17.0, (1.0, 1.0))}
    logbook.put(formation_record("pair", PAIR), landed("slow", 3.0, 7.0, **marks, **ends))
    slow = serve_table(logbook).set_index("serve_id").loc["slow"]
    assert (np.isnan(slow["gap_m"]), slow["way"], slow["reached"]) == (True, "", None)
    assert slow["floor_gap_m"] == pytest.approx(1.0)


def test_a_formation_comes_back_as_it_was_kept():
    assert formation_from(formation_record("pair", PAIR)) == PAIR
    ines = Player(id="p", name="Ines", number=3)
    assert formation_from(formation_record("pair", PAIR), [ines]) == PAIR, "a name alone is nobody who joins later"
    known = Formation("two", (Passer(3.0, 6.0, "Ines", player_id="p"), PAIR.passers[1]))
    renamed = dataclasses.replace(ines, name="Ines Maria")
    assert formation_from(formation_record("pair", known), [renamed]).passers[0].label == "Ines Maria"
    assert formation_from(formation_record("pair", known), []).passers[0].label == "Ines", "she left the roster"
    two = [ines, dataclasses.replace(ines, id="q", name="ines", number=8)]
    assert formation_from(formation_record("pair", known), two).passers[0].label == "3 Ines", "told apart by number"
    with pytest.raises(UserError, match="cannot be read"):
        formation_from(StoredFormation(id="x", name="torn", document="{"))


def paced(paces, dates=None, full=None, player="marit"):
    count = len(paces)
    return pd.DataFrame(
        {
            "player_id": [player] * count,
            "pace_mps": np.array(paces, dtype=float),
            "pace_high_mps": 1.05 * np.array(paces, dtype=float),
            "date": dates or ["2026-11-03"] * count,
            "full_pace": full or [False] * count,
        }
    )


def test_effort_is_over_the_ninetieth_percentile_of_the_year():
    """numpy.quantile of 10..20 at 0.9 is 19; a 60 m/s serve is impossible and counts for nothing."""
    found = effort_columns(paced([*range(10, 21), 60.0]))
    assert found["effort"][:11] == pytest.approx(np.arange(10, 21) / 19.0)
    assert np.isnan(found["effort"][11])
    assert set(found["effort_of"][:11]) == {FROM_YEAR}
    assert found["effort_high"][:11] == pytest.approx(found["effort"][:11] * 1.05)  # as far as the pace itself
    assert found["effort_low"][:11] == pytest.approx(found["effort"][:11] / 1.05)


@pytest.mark.parametrize("seed", range(6))
def test_the_ninetieth_percentile_is_numpys(seed):
    """Linear between neighbours, R's type 7 and numpy's own."""
    rng = np.random.default_rng(seed)
    paces = rng.uniform(9, 30, rng.integers(5, 40))
    found = effort_columns(paced(paces))
    assert found["effort"] == pytest.approx(paces / np.quantile(paces, 0.9))


def test_a_full_pace_series_goes_before_the_percentile_and_ages():
    dates = ["2025-01-10"] * 2 + ["2025-06-01"] + ["2026-11-03"] * 2
    found = effort_columns(paced([20.0, 25.0, 15.0, 15.0, 15.0], dates, [True, True, False, False, False]))
    assert found["effort"][:3] == pytest.approx([0.8, 1.0, 0.6])
    assert found["effort_of"][2] == FROM_SERIES
    both = 1.05 ** np.sqrt(2)  # the pace and the series' fastest are off apart from each other
    assert found["effort_high"][:3] == pytest.approx(found["effort"][:3] * both)
    assert np.isnan(found["effort"][3:]).all()  # the series is over a year old, and two serves are too few


def test_a_best_of_a_year_ago_to_the_day_counts_no_more():
    """The last year is 365 days long and ends with the serve's own: 2025-11-04 is in it, 2025-11-03 is not."""
    for first, told in (("2025-11-03", False), ("2025-11-04", True)):
        found = effort_columns(paced([25.0, 20.0], [first, "2026-11-03"], [True, False]))
        assert np.isfinite(found["effort"][1]) == told


def test_first_and_last_of_a_servers_practice(logbook):
    late = [landed(f"n{k:02d}", 3.0, 7.0, landing=Mark(100.0 + k)) for k in range(46)]
    logbook.put(*[dataclasses.replace(serve, player_id="noor") for serve in late])
    table = serve_table(logbook, "tuesday")
    turns = table.loc[table["player_id"] == "noor", "turn"].tolist()
    assert turns.count(FIRST) == turns.count(LAST) == 20
    assert turns[0] == FIRST
    assert turns[-1] == LAST


def test_third_of_the_end_line_served_from(logbook):
    """To end b the server's left is at x = -4.5; to end a it is at +4.5."""
    at: list[tuple[Half, float, str]] = [
        ("b", -4.0, "left third"),
        ("b", 0.5, "middle third"),
        ("a", -4.0, "right third"),
        ("a", 4.9, "left third"),
    ]
    for number, (half, x_m, _) in enumerate(at):
        place = FloorPoint(x_m, -9.3 if half == "b" else 9.3, 1e-4, 0.0, 1e-4)
        logbook.put(Serve(id=f"e{number}", clip_id="clip-1", served_to=half, contact_point=place, outcome="net"))
    table = serve_table(logbook).set_index("serve_id")
    assert [table.at[f"e{number}", "served_from"] for number in range(4)] == [third for _, _, third in at]


def test_a_team_keeps_its_settings(logbook):
    """1 mile per hour is 0.44704 m/s exactly."""
    assert settings_of(logbook) == StudySettings()
    keep_settings(logbook, StudySettings(pace_unit="mph", topspin_gate_mps=18.0))
    assert settings_of(logbook).topspin_gate_mps == 18.0
    assert 0.44704 * PER_MPS["mph"] == pytest.approx(1.0)
    with pytest.raises(UserError, match="Pace cannot be shown in 'knots'"):
        StudySettings(pace_unit="knots")
    with pytest.raises(UserError, match="played up to a height above"):
        StudySettings(movement=Movement(highest_m=0.2))
    with pytest.raises(UserError, match="settings of Study cannot be read"):
        StudySettings.from_text("[1")


def test_every_exported_column_is_there(logbook):
    assert set(EXPORT_COLUMNS) <= set(serve_table(logbook).columns)

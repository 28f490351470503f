"""Who serves whom: held to serves drawn one by one, and to what a coach can see without a computer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import Formation, Passer, preset
from serve_marker.court.reception import receive
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of
from serve_marker.study.match_day import court_cells, formations_to_meet, match_card, match_cells, named_aims
from serve_marker.study.match_day_words import (
    NO_CARD_WORDS,
    best_aim_words,
    match_card_sentence,
    passes_sentence,
    practise_sentence,
    promise_words,
)
from serve_marker.study.match_servers import MatchServer, landing_shares, match_servers
from serve_marker.study.pass_quality import usual_pass_quality
from serve_marker.study.settings import StudySettings
from serve_marker.study.usual_serve import UsualServe

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
AIMS = named_aims(COURT, SCHEME)
SETTINGS = StudySettings()
FLOAT = UsualServe(way_m=16.0, flight_s=1.0, from_x_m=4.5, serve_type="float", n=20)


def served(player, count, sd_m=0.8, net=0, aim=(1.5, 7.5), seed=1, date="2026-11-03", formation_id="f"):
    """Floats of one player at deep 1 that fly 16 m in a second, the last ``net`` of them into the net."""
    landed_m = np.random.default_rng(seed).normal(aim, sd_m, (count, 2))
    landed_m[count - net :] = np.nan
    way_m = landed_m - (4.5, -9.0)
    length_m = np.hypot(*way_m.T)
    rows = {
        "player_id": player,
        "server": f"{len(player)} {player}",
        "number": float(len(player)),
        "name": player,
        "aim": "deep 1",
        "aim_x_m": 1.5,
        "aim_y_m": 7.5,
        "aim_has_depth": True,
        "x_m": landed_m[:, 0],
        "y_m": landed_m[:, 1],
        "outcome": np.where(np.isnan(landed_m[:, 0]), "net", "floor"),
        "flight_s": length_m / 16.0,
        "course_x": way_m[:, 0] / length_m,
        "course_y": way_m[:, 1] / length_m,
        "pass_rating": np.nan,
        "demand": np.nan,
        "passer": "",
        "practice_id": [f"{date} {n % 4}" for n in range(count)],
    }
    constant = {"date": date, "season": "", "half": "b", "serve_type": "float", "formation_id": formation_id}
    constant |= {"court": "indoor", "verdict": "", "reception": "", "target_kind": "people"}
    return pd.DataFrame(rows).assign(**constant)


def team(*parts):
    table = pd.concat(parts, ignore_index=True)
    return table.assign(evening=codes_of(table, EVENING_COLUMNS))


def steady(sd_m=0.7, into_net=0.1, effective=1000.0, usual=FLOAT):
    """A server who has served every aim, so often that her scatter is known."""
    served_all = {aim.text: 100 for aim in AIMS}
    share = into_net * 1e6, (1 - into_net) * 1e6
    return MatchServer("7 Marit", 1000, effective, np.diag([sd_m**2] * 2), *share, usual, served_all)


def card_of(server, formation, quality=None, aims=AIMS):
    (cell,) = match_cells(server, [formation], aims, quality or usual_pass_quality(), COURT, SETTINGS)
    return cell


def test_what_an_aim_promises_is_what_serves_drawn_one_by_one_win():
    """300,000 serves at deep 1, all as fast, those with the lowest tenth of depths in the net."""
    formation, server = preset(3, "back", COURT), steady(into_net=0.1, usual=replace(FLOAT, sd=1e-6))
    chance = np.random.default_rng(4)
    away_m = chance.normal(0.0, 0.7, (300_000, 2))
    over = away_m[:, 1] > np.quantile(away_m[:, 1], 0.1)
    landed_m = away_m[over] + np.array([1.5, 7.5]) - (0.0, away_m[over, 1].mean())
    inside = ((landed_m >= 0) & (landed_m <= 9)).all(axis=1)
    landed_m = landed_m[inside]
    told = receive(landed_m, formation, COURT, 1.0, FLOAT.to(landed_m, COURT, SETTINGS.movement))
    quality = usual_pass_quality()
    won = quality.chance(told.demand, told.passer).sum() / len(away_m)
    assert card_of(server, formation, aims=AIMS[:1]).best.chance == pytest.approx(won, abs=0.004)


def test_some_of_her_serves_are_faster_than_usual():
    """One passer, all serves at one place: it is out of reach of the faster third, as an integral over paces says."""
    from scipy.stats import norm

    alone = Formation("one", (Passer(1.5, 4.0, "Ines"),))
    place_m = np.array([(3.15, 7.9)])
    shares = np.linspace(0.85, 1.15, 301)
    flown = [replace(FLOAT, flight_s=share).to(place_m, COURT, SETTINGS.movement) for share in shares]
    met = [receive(place_m, alone, COURT, 1.0, one, SETTINGS.movement).demand[0] for one in flown]
    told, often = FLOAT.shares(0, np.random.default_rng(0))
    coarse = float(often[0] @ (np.interp(told, shares, met) > 1.0))
    fine = float(np.sum(norm.pdf(shares, 1.0, FLOAT.sd) * (np.array(met) > 1.0)) * (shares[1] - shares[0]))
    assert 0.1 < fine < 0.9
    assert coarse == pytest.approx(fine, abs=0.2)


def test_landing_shares_are_those_of_the_normal_distribution():
    """Against scipy's rectangle of deep 1, two ways from the left."""
    from scipy.stats import multivariate_normal

    covariance_m2 = np.array([[1.0, 0.3], [0.3, 0.6]])
    cells_m = court_cells(COURT)
    inside = ((cells_m > (0, 6)) & (cells_m < (3, 9))).all(axis=1)
    shares = landing_shares(covariance_m2, 0.0, (1.5, 7.5), cells_m, 0.25)
    normal = multivariate_normal([1.5, 7.5], covariance_m2)
    expected = normal.cdf([3, 9], lower_limit=[0, 6])
    assert shares[inside].sum() == pytest.approx(expected, abs=0.003)


def test_a_wild_server_is_sent_to_the_middle_and_a_steady_one_into_the_open_corner():
    """One passer stands deep left: a steady server wins nearly all that go over the net away from her."""
    alone = Formation("one", (Passer(1.5, 7.0, "Ines"),))
    calm, wild = (card_of(steady(sd_m=sd_m), alone) for sd_m in (0.3, 2.2))
    assert calm.best.chance == pytest.approx(0.9, abs=0.01)
    assert {one.aim for one in (calm.best, *calm.others)} & {"deep 5", "short 4"}
    assert wild.best.aim in {"between 5-4", "between 6-3"}
    assert wild.best.chance < calm.best.chance - 0.1


def test_of_few_serves_less_is_told():
    """Far from the only passer nobody gets there at any pace: what is in doubt is the scatter."""
    at_deep_1 = Formation("one", (Passer(1.5, 7.0, "Ines"),))
    passes = replace(usual_pass_quality(), covariance=np.eye(2) * 1e-9)
    known, unknown = (card_of(steady(effective=effective), at_deep_1, passes) for effective in (5000.0, 5.0))
    assert unknown.best.high - unknown.best.low > 2 * (known.best.high - known.best.low)


def test_a_server_of_few_serves_scatters_as_the_team_does():
    table = team(served("Marit", 200, sd_m=1.0), served("Noor", 200, sd_m=1.0, seed=2), served("Ines", 4, sd_m=0.1))
    by_name = {server.words: server for server in match_servers(table, COURT, SCHEME)}
    assert np.sqrt(np.diag(by_name["5 Marit"].covariance_m2)) == pytest.approx([1.0, 1.0], abs=0.1)
    assert (np.sqrt(np.diag(by_name["4 Ines"].covariance_m2)) > 0.8).all()
    assert by_name["4 Ines"].usual.n == 4


def test_a_match_is_for_aims_that_were_served_and_practice_for_the_others():
    """All of the team serve at deep 1 alone, some of them at a point of their own in it."""
    table = team(served("Marit", 40), served("Noor", 40, seed=2).assign(aim="deep 1 at 8"))
    card = match_card(table, COURT, SCHEME, {}, SETTINGS)
    for (cell,) in card.cells:
        assert (cell.best.aim, cell.best.served, cell.others) == ("deep 1", 40, ())
        assert cell.untried is not None
        assert cell.untried.chance > cell.best.chance
    untried = {cell.untried.aim for (cell,) in card.cells}
    assert all(aim in practise_sentence(card) for aim in untried)
    both = team(served("Marit", 40), served("Marit", 40, aim=(4.5, 4.5), seed=3).assign(aim="between 6-3"))
    ((cell,),) = match_card(both, COURT, SCHEME, {}, SETTINGS).cells
    assert {cell.best.aim, *(one.aim for one in cell.others)} <= {"deep 1", "between 6-3"}


def test_serves_of_last_season_do_not_count():
    """After a summer of more than two months another season begins."""
    table = team(served("Marit", 40, date="2026-04-01", sd_m=2.0), served("Marit", 40, sd_m=0.5, seed=2))
    (server,) = match_card(table, COURT, SCHEME, {}, SETTINGS).servers
    assert server.n == 40
    assert (np.sqrt(np.diag(server.covariance_m2)) < 0.8).all()


def test_a_share_into_the_net_is_drawn_towards_the_team():
    """Half of Ines's four serves went into the net, of the others one in ten: hers is taken to be between."""
    table = team(served("Marit", 100, net=10), served("Ines", 6, net=2, seed=3))
    ines = next(server for server in match_servers(table, COURT, SCHEME) if server.words == "4 Ines")
    share = ines.into_net / (ines.into_net + ines.over_net)
    assert 12 / 106 < share < 2 / 6


def test_formations_are_the_newest_and_each_name_once():
    moved = Formation("rotation 1", (Passer(2.0, 6.0, "Ines"),))
    stood = {"a": Formation("rotation 1", (Passer(1.0, 6.0, "Ines"),)), "b": moved, "c": preset(2, "up", COURT)}
    table = team(
        served("Marit", 3, date="2026-10-01", formation_id="a"),
        served("Marit", 3, date="2026-11-01", formation_id="b"),
        served("Marit", 3, date="2026-10-15", formation_id="c"),
    )
    assert formations_to_meet(table, stood, COURT) == (moved, stood["c"])
    assert formations_to_meet(table, {}, COURT) == (preset(3, "up", COURT),)
    ahead = Formation("Saturday, rotation 1", (Passer(3.0, 6.0, "left back"),))
    assert formations_to_meet(table, stood | {"d": ahead}, COURT) == (ahead,), "what is to come"
    beach = court_named("beach")
    assert len(formations_to_meet(table[:0], {}, beach)[0].passers) == 2


def test_without_a_timed_serve_nobody_is_on_the_card():
    table = team(served("Marit", 20)).assign(flight_s=np.nan)
    card = match_card(table, COURT, SCHEME, {}, SETTINGS)
    assert not card.servers
    assert match_card_sentence(card) == NO_CARD_WORDS


def test_the_card_says_how_many_of_the_own_passes_it_rests_on():
    table = team(served("Marit", 40), served("Noor", 40, seed=2))
    card = match_card(table, COURT, SCHEME, {}, SETTINGS)
    assert passes_sentence(card).startswith("No pass is rated yet")
    rated = table.assign(pass_rating=2.0, demand=0.4, outcome="received", passer="Ines")
    card = match_card(rated, COURT, SCHEME, {}, SETTINGS)
    assert passes_sentence(card) == "Based on 80 rated passes of your own team."
    last_year = rated.assign(date="2025-04-01")
    card = match_card(pd.concat([last_year, table], ignore_index=True), COURT, SCHEME, {}, SETTINGS)
    assert passes_sentence(card).startswith("No pass is rated yet")
    few = match_card(pd.concat([rated[:6], table[6:]]), COURT, SCHEME, {}, SETTINGS)
    assert passes_sentence(few) == "Only 6 rated passes so far, so we lean on an ordinary passer."


def test_who_has_served_no_aim_is_told_what_to_try_and_nothing_else():
    table = team(served("Marit", 3), served("Noor", 40, seed=2))
    card = match_card(table, COURT, SCHEME, {}, SETTINGS)
    noor, marit = (cells[0] for cells in card.cells)
    assert noor.best is not None
    assert (marit.best, marit.others) == (None, ())
    assert (best_aim_words(marit), promise_words(marit)) == ("too few serves", "")
    assert "5" in practise_sentence(card)
    nobody = match_card(team(served("Marit", 3)), COURT, SCHEME, {}, SETTINGS)
    assert match_card_sentence(nobody) == "Nobody has served any aim five times this season."


def test_a_spot_counts_for_the_area_it_lies_in():
    table = team(served("Marit", 40).assign(aim="1.5,7.5,0.5"))
    ((cell,),) = match_card(table, COURT, SCHEME, {}, SETTINGS).cells
    assert cell.best is not None
    assert (cell.best.aim, cell.best.served) == ("deep 1", 40)


def test_serves_on_another_court_do_not_widen_the_scatter():
    beach = served("Marit", 40, sd_m=2.5, seed=2).assign(court="beach")
    (server,) = match_card(team(served("Marit", 40), beach), COURT, SCHEME, {}, SETTINGS).servers
    assert server.n == 40


def test_landings_all_alike_are_no_trouble():
    table = team(served("Marit", 6, sd_m=0.0))
    ((cell,),) = match_card(table, COURT, SCHEME, {}, SETTINGS).cells
    assert cell.best is not None
    assert 0 < cell.best.low <= cell.best.high <= 1

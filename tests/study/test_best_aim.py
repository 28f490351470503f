"""Where to aim: against brute force, with nets and unseen outs, and what is said of it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.errors import UserError
from serve_marker.study.best_aim import BestAim, best_aim, best_place
from serve_marker.study.best_aim_words import best_aim_more, best_aim_sentence, values_words
from serve_marker.study.serve_worth import CourtWorth, ServeWorth
from serve_marker.study.whole_scatter import net_cut_sd, whole_scatter
from serve_marker.study.worth_map import centre_beyond

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
AIM = parse_aim("deep 1", COURT, SCHEME)
NOWHERE = np.empty((0, 2))


def found(misses_m, into_net=0, unseen=0, worth=None) -> BestAim:
    assert AIM is not None
    scatter = whole_scatter(misses_m, into_net, np.tile(AIM.centre_m, (unseen, 1)), COURT)
    return best_place(scatter, AIM, worth or ServeWorth.of_aim("deep 1"), COURT, SCHEME)


def serves(n, spread_m, pull_m=(0.0, 0.0), seed=1):
    return np.random.default_rng(seed).multivariate_normal(pull_m, np.diag(np.square(spread_m)), n)


def test_places_of_a_court_are_worth_what_the_coach_says():
    worth = ServeWorth(
        on_court=1.0, net=-1.0, long=-2.0, wide=-3.0, places={"deep 1": 4.0, "zone 1": 5.0, "deep 6": 3.0}
    )
    places_m = [(1.0, 8.0), (1.0, 9.05), (4.5, 8.0), (8.0, 2.0), (1.0, 9.2), (-0.2, 4.0), (4.0, -0.5), (1.0, 5.0)]
    valued = CourtWorth.on(worth, COURT, SCHEME)(np.array(places_m))
    assert valued.tolist() == [5.0, 5.0, 3.0, 1.0, -2.0, -3.0, -1.0, 5.0]


def test_the_best_of_a_narrow_scatter_is_the_middle_of_what_is_worth_most():
    best = found(serves(60, (0.3, 0.3)), worth=ServeWorth(places={"2,8,0.6": 1.0}))
    assert best.best_m == pytest.approx((2.0, 8.0), abs=0.05)


def test_serves_all_at_one_place_are_no_trouble():
    best = found(np.tile((0.01, -0.02), (6, 1)) + serves(6, (1e-4, 1e-4)))
    assert best.best == pytest.approx(1.0, abs=0.01)
    assert best.now == pytest.approx(1.0, abs=0.01)


def test_a_wilder_server_keeps_farther_from_the_lines():
    depths_m = [found(serves(400, (spread_m, spread_m))).best_m[1] for spread_m in (0.4, 0.9, 1.6)]
    assert depths_m == sorted(depths_m, reverse=True)


@pytest.mark.parametrize(("seed", "long_m"), [*((seed, 0.0) for seed in range(12)), (12, 2.3)])
def test_the_worth_now_against_brute_force(seed, long_m):
    """Within three standard errors of serves drawn one by one, plus what the cells of 0.15 m smooth away.

    The last centre lies beyond the end line.
    """
    chance = np.random.default_rng(seed)
    spread_m, pull_m = chance.uniform(0.5, 1.6, 2), chance.uniform(-1.0, 1.0, 2) + np.array((0.0, long_m))
    best = found(serves(30, spread_m, pull_m, seed), into_net=int(chance.integers(0, 6)))
    scatter, cut_sd = best.scatter, net_cut_sd(best.scatter.into_net / best.scatter.n)
    drawn_m = chance.multivariate_normal((0.0, 0.0), scatter.covariance_m2, 200_000)
    in_net = drawn_m[:, 1] < cut_sd * np.sqrt(scatter.covariance_m2[1, 1])
    places_m = np.array(best.now_m) + drawn_m - centre_beyond(scatter.covariance_m2, cut_sd)
    worth = np.where(in_net, best.worth.net, CourtWorth.on(best.worth, COURT, SCHEME)(places_m))
    assert in_net.mean() == pytest.approx(scatter.into_net / scatter.n, abs=0.005)
    assert best.now == pytest.approx(worth.mean(), abs=3 * worth.std() / np.sqrt(len(worth)) + 0.004)
    assert best.best >= best.now - 1e-9


def test_serves_into_the_net_widen_the_scatter_as_if_they_had_been_seen():
    """200,000 serves: those short of a depth meet the net; what is left tells the whole scatter again."""
    whole_m2 = np.array([[0.8, 0.3], [0.3, 1.5]])
    all_m = np.random.default_rng(4).multivariate_normal((0.2, -0.1), whole_m2, 200_000)
    over = all_m[:, 1] > -1.6
    scatter = whole_scatter(all_m[over], int((~over).sum()), NOWHERE, COURT)
    assert scatter.covariance_m2 == pytest.approx(whole_m2, abs=0.02)
    assert scatter.pull_m == pytest.approx(all_m[over].mean(axis=0))


def test_outs_that_were_not_seen_widen_it_too():
    assert AIM is not None
    whole_m2 = np.diag([0.6, 0.9]) ** 2
    all_m = np.random.default_rng(5).multivariate_normal((0.0, 0.6), whole_m2, 20_000)
    at_m = all_m + AIM.centre_m
    out = (at_m[:, 0] < -0.065) | (at_m[:, 1] > 9.065)
    seen_m = all_m[~out]
    scatter = whole_scatter(
        seen_m[:2000], 0, np.tile(AIM.centre_m, (round(2000 * out.mean() / (1 - out.mean())), 1)), COURT
    )
    assert np.sqrt(np.diag(scatter.covariance_m2)) == pytest.approx([0.6, 0.9], abs=0.06)
    assert scatter.pull_m == pytest.approx([0.0, 0.6], abs=0.06)


def test_that_moving_gains_is_told_only_where_it_does():
    beside = found(serves(60, (0.8, 0.9), (0.0, 1.3)))
    assert beside.is_told
    assert 0 < beside.gain_low < beside.gain_high
    assert best_aim_sentence(beside, COURT).startswith("Best: 1.")
    assert "Moving there gains " in best_aim_sentence(beside, COURT)
    assert not found(serves(14, (0.8, 0.9), (0.0, 1.3))).is_told, "so few also send servers away who centre at the best"
    there = found(serves(60, (0.8, 0.9), np.array(beside.best_m) - (1.5, 7.5)))
    assert not there.is_told
    assert best_aim_sentence(there, COURT).endswith("Too early to say whether moving there gains anything.")


def test_what_else_is_said():
    best = found(serves(40, (0.8, 0.9)), into_net=3, unseen=1)
    (left_m, right_m), (near_m, far_m) = best.near_along()
    assert left_m <= best.best_m[0] <= right_m
    assert near_m <= best.best_m[1] <= far_m
    assert best_aim_more(best).endswith("Based on 40 landings, 3 into the net, 1 out unseen.")
    assert values_words(best).startswith("Deep 1 counts 1. Elsewhere in counts 0.5, into the net 0, long 0, wide 0.")


def table_of(aims, outcomes):
    n = len(aims)
    aim_m = [(1.5, 7.5) if aim else (np.nan, np.nan) for aim in aims]
    misses_m = serves(n, (0.8, 0.8))
    seen = np.array([outcome == "floor" for outcome in outcomes])
    columns = {
        "aim": aims,
        "outcome": outcomes,
        "verdict": np.where(seen, "in", ""),
        "aim_x_m": [x for x, _ in aim_m],
        "aim_y_m": [y for _, y in aim_m],
        "x_m": np.where(seen, 1.5 + misses_m[:, 0], np.nan),
        "y_m": np.where(seen, 7.5 + misses_m[:, 1], np.nan),
        "evening": np.arange(n) % 3,
    }
    return pd.DataFrame(columns)


def test_a_table_of_serves_is_counted_by_how_they_ended():
    table = table_of(["deep 1"] * 12 + [""] * 3, ["floor"] * 9 + ["net", "net", "out"] + ["floor"] * 3)
    scatter = best_aim(table, COURT, SCHEME).scatter
    assert (scatter.seen, scatter.into_net, scatter.unseen_out, scatter.n) == (9, 2, 1, 12)


def test_serves_at_another_aim_do_not_count():
    """Whoever pulls long at one aim need not do so at another."""
    table = table_of(["deep 1"] * 12 + ["deep 5"] * 9, ["floor"] * 21)
    assert best_aim(table, COURT, SCHEME).scatter.seen == 12
    assert best_aim(table, COURT, SCHEME, aim="Deep  5").scatter.seen == 9


def test_nothing_is_told_where_passers_took_many_balls_whose_place_is_unknown():
    table = table_of(["deep 1"] * 60, ["floor"] * 60)
    table["y_m"] += 1.5
    assert best_aim(table.assign(evening=range(60)), COURT, SCHEME).is_told
    taken = table.assign(evening=range(60), outcome=["floor"] * 50 + ["received"] * 10)
    taken.loc[50:, ["x_m", "y_m"]] = np.nan
    found = best_aim(taken, COURT, SCHEME)
    assert (found.scatter.seen, found.scatter.left_out, found.is_told) == (50, 10, False)
    assert best_aim_more(found).endswith("Based on 50 landings, 10 left out.")


@pytest.mark.parametrize(
    ("aims", "outcomes", "words"),
    [
        ([""] * 6, ["floor"] * 6, "None of these serves has an aim"),
        (["deep 1"] * 4, ["floor"] * 4, "4 landings at deep 1 so far. It takes 15 "),
    ],
)
def test_what_cannot_be_told_is_one_sentence(aims, outcomes, words):
    with pytest.raises(UserError, match=words):
        best_aim(table_of(aims, outcomes), COURT, SCHEME)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("deep 1", "no JSON"),
        ("[1]", "told by long, net, on_court, places, wide alone"),
        ('{"ace": 1}', "take the rest away"),
        ('{"net": "much"}', "must be a number"),
        ('{"places": {"deep 1": NaN}}', "is no JSON"),
        ('{"places": 3}', "must be a number"),
        ('{"places": {"": 1}}', "needs the name of an aim"),
    ],
)
def test_values_that_are_none_are_refused(text, words):
    with pytest.raises(UserError, match=words):
        ServeWorth.from_text(text)


def test_values_survive_their_text():
    import json

    worth = ServeWorth(1.0, -0.5, -1.0, -1.5, {"deep 1": 2.0, "seam 5-6": 3.0})
    assert ServeWorth.from_text(json.dumps(worth.to_dict())) == worth

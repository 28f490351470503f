import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest
from statsmodels.stats.proportion import proportion_confint

from serve_marker.court.areas import AREAS, DEPTH_BANDS, SEAMS
from serve_marker.study import rates
from serve_marker.study.sentences import aim_sentence
from tests.study.conftest import with_evenings


def serves(*rows):
    """Rows of (outcome, verdict, aim, aim_hit, area, depth_band, seam, missed), each of an evening of its own."""
    columns = ["outcome", "verdict", "aim", "aim_hit", "area", "depth_band", "seam", "missed"]
    table = pd.DataFrame(rows, columns=columns).astype({"aim_hit": object})
    table["practice_id"], table["player_id"] = [f"{place}" for place in range(len(rows))], "marit"
    table["x_m"] = [1.0 if row[4] else math.nan for row in rows]
    for column, names, place in (("areas_may", AREAS, 4), ("bands_may", DEPTH_BANDS, 5), ("seams_may", SEAMS, 6)):
        table[column] = np.array([bit(names, row[place]) for row in rows], dtype=int)
    table["seam_sure"] = [bool(row[6]) for row in rows]
    table["aim_surely"] = [row[0] == "target" or row[3] is True for row in rows]
    table["aim_may"] = [row[3] is True or (row[2] != "" and row[3] is None) for row in rows]
    return with_evenings(table)


def bit(names, name):
    return 1 << names.index(name) if name else 0


HIT = ("floor", "in", "deep 1", True, "deep 1", "deep", "", "")
OFF_AIM = ("floor", "in", "deep 1", False, "deep 6", "deep", "seam 6-1", "")
CLOSE = ("floor", "too close", "deep 1", True, "deep 1", "deep", "", "")
LONG = ("floor", "out", "deep 1", False, "deep 1", "deep", "", "long")
WIDE = ("floor", "out", "deep 1", False, "between 1-2", "between", "", "wide")
NET = ("net", "", "deep 1", None, "", "", "", "")
FAULT = ("fault", "", "deep 1", None, "", "", "", "")
UNSEEN = ("out", "", "deep 1", None, "", "", "", "")
RECEIVED = ("received", "", "deep 1", None, "", "", "", "")
TARGET = ("target", "", "", None, "", "", "", "")
UNPLACED = ("floor", "", "deep 1", None, "", "", "", "")
EVERYTHING = (HIT, OFF_AIM, CLOSE, LONG, WIDE, NET, FAULT, UNSEEN, RECEIVED, TARGET, UNPLACED)


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0000, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_gives_newcombes_table_one(hits, n, low, high):
    """R. G. Newcombe, Statistics in Medicine 17:857 (1998), Table I, method 3."""
    assert rates.wilson(hits, n) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [(7, 10, 0.396778, 0.892209), (18, 20, 0.698966, 0.972134), (10, 10, 0.722467, 1.0)],
)
def test_wilson_of_a_practice(hits, n, low, high):
    """Computed with statsmodels and scipy."""
    assert rates.wilson(hits, n) == pytest.approx((low, high), abs=5e-7)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_equals_statsmodels(hits_of_n):
    hits, n = hits_of_n
    assert rates.wilson(hits, n) == pytest.approx(proportion_confint(hits, n, method="wilson"), abs=1e-12)
    assert rates.wilson(hits, n) == pytest.approx(binomtest(hits, n).proportion_ci(0.95, "wilson"), abs=1e-12)


def test_a_serve_that_struck_a_target_at_a_known_place_is_on_the_map():
    on_mat = ("target", "in", "deep 1", True, "deep 1", "deep", "seam 6-1", "")
    table = serves(on_mat, HIT, TARGET)

    assert rates.landed_mask(table).tolist() == [True, True, False]
    assert rates.area_rates(table)["deep 1"].hits == 2
    assert rates.depth_distribution(table)["deep"].n == 2
    assert rates.seam_hits(table)["seam 6-1"].hits == 1


def test_a_rate_without_attempts_tells_nothing():
    empty = rates.rate(0, 0)
    assert math.isnan(empty.share)
    assert math.isnan(empty.low)
    assert not empty.enough


def test_a_rate_refuses_more_hits_than_attempts():
    with pytest.raises(ValueError, match="0 <= hits <= most <= n"):
        rates.rate(3, 2)


def test_in_counts_floor_landings_received_and_struck_targets_over_every_attempt():
    found = rates.in_rate(serves(*EVERYTHING))
    assert (found.hits, found.most, found.n) == (4, 6, 11)


def test_too_close_widens_the_interval_at_both_ends():
    found = rates.in_rate(serves(HIT, HIT, CLOSE, CLOSE, NET))
    assert found.low == pytest.approx(rates.wilson(2, 5)[0])
    assert found.high == pytest.approx(rates.wilson(4, 5)[1])


def test_aim_rate_counts_aimed_attempts_and_struck_targets():
    found = rates.aim_rate(serves(*EVERYTHING))
    assert (found.hits, found.n) == (2, 11)
    assert found.most == 5, "too close in the aim, received and unplaced may have hit"


def test_serves_without_an_aim_are_no_attempts_at_one():
    unaimed = ("floor", "in", "", None, "deep 1", "deep", "", "")
    assert rates.aim_rate(serves(unaimed, HIT)).n == 1


def test_a_received_ball_that_would_have_gone_out_has_not_surely_hit_its_aim():
    """Its place lies beyond the line by the aim, which it is surely in as far as the aim's own borders go."""
    table = serves(("received", "out", "deep 1", False, "deep 1", "deep", "", "long"), *[NET] * 4)
    table.loc[0, ["aim_surely", "aim_may"]] = True
    assert (rates.aim_rate(table).hits, rates.aim_rate(table).n) == (0, 5)


def test_a_ball_out_long_has_not_hit_the_area_inside_the_line():
    assert rates.area_rates(serves(LONG))["deep 1"].most == 0


def test_areas_and_seams_count_over_every_attempt():
    table = serves(*EVERYTHING)
    areas = rates.area_rates(table)
    assert list(areas)[:3] == ["deep 1", "deep 6", "deep 5"]
    assert (areas["deep 1"].hits, areas["deep 1"].most, areas["deep 1"].n) == (1, 2, 11)
    assert rates.seam_hits(table)["seam 6-1"].hits == 1


def test_depth_is_shared_out_over_landings_not_called_out():
    found = rates.depth_distribution(serves(*EVERYTHING))
    assert {band: share.hits for band, share in found.items()} == {"short": 0, "between": 0, "deep": 3}
    assert {share.n for share in found.values()} == {3}


def test_each_attempt_is_counted_once():
    found = rates.outcome_counts(serves(*EVERYTHING))
    assert (found.net, found.fault, found.long, found.wide, found.out_unseen) == (1, 1, 1, 1, 1)
    assert (found.too_close, found.unplaced, found.received, found.target, found.good) == (1, 1, 1, 1, 4)
    ended = found.net + found.fault + found.long + found.wide + found.out_unseen + found.too_close + found.unplaced
    assert ended + found.good == found.n == 11


def test_an_empty_choice_has_no_rate_and_no_counts():
    empty = serves()
    assert rates.in_rate(empty).n == 0
    assert rates.outcome_counts(empty).n == 0
    assert rates.depth_distribution(empty)["deep"].n == 0


def test_landings_that_may_lie_in_another_area_are_maybes():
    """Twenty at deep 1: eleven surely in it, two whose error reaches deep 6, seven surely in deep 6."""
    table = serves(*[HIT] * 11, *[HIT] * 2, *[OFF_AIM] * 7)
    table.loc[[11, 12], "areas_may"] = bit(AREAS, "deep 1") | bit(AREAS, "deep 6")
    table.loc[[11, 12], "aim_surely"] = False

    areas = rates.area_rates(table)
    assert (areas["deep 1"].hits, areas["deep 1"].most) == (11, 13)
    assert (areas["deep 6"].hits, areas["deep 6"].most) == (7, 9)
    aimed = rates.aim_rate(table)
    assert (aimed.hits, aimed.most, aimed.n) == (11, 13, 20)
    assert (aimed.low, aimed.high) == (rates.wilson(11, 20)[0], rates.wilson(13, 20)[1])


@pytest.mark.parametrize("near", [2, 5, 12, 50, 400])
def test_the_count_lies_within_its_ends(near):
    """Of ``near`` landings by a border each is inside with even chance: scipy's binomial, 95 of 100 at least."""
    table = serves(*[HIT] * near, *[OFF_AIM] * near)
    both = bit(AREAS, "deep 1") | bit(AREAS, "deep 6")
    half = near // 2
    table.loc[[*range(half), *range(near, 2 * near - half)], "areas_may"] = both
    found = rates.area_rates(table)["deep 1"]

    sure = near - half
    truly = binom(near, 0.5)
    assert truly.cdf(found.most - sure) - truly.cdf(found.hits - sure - 1) >= 0.95
    assert found.most - found.hits <= max(2 * 1.96 * math.sqrt(near) / 2 + 2, near)


@pytest.mark.parametrize(("n", "enough"), [(4, False), (5, True)])
def test_as_many_serves_are_enough_as_the_words_ask_for(n, enough):
    """The sentence asks for one more serve after four; five are enough."""
    hits = serves(*[HIT] * n).assign(
        aim_x_m=1.5, aim_y_m=7.5, aim_has_depth=True, x_m=1.5, y_m=np.linspace(7.0, 8.0, n)
    )
    assert ("One more serve and we can say" in aim_sentence(hits)) is not enough
    assert rates.rate(n, n).enough is enough

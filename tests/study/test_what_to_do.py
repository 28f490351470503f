"""The sentence on top of a server's page: serves made by hand, what holds first, and the number it stands on."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2
from statsmodels.stats.proportion import proportion_confint

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.errors import UserError
from serve_marker.study.climb import climbs
from serve_marker.study.climb_words import rounded_serves
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of
from serve_marker.study.ladder import LadderStep, usual_ladder
from serve_marker.study.settings import StudySettings
from serve_marker.study.what_to_do import what_to_do

COURT = court_named("indoor")
SCHEME = default_scheme(COURT)
LADDER = usual_ladder(COURT)
UNTIMED = tuple(LadderStep(step.name, step.aims, least_effort=0.0) for step in LADDER[:1])
FAST = LadderStep("fast", serve_types=("jump topspin",), mastery=0.5, not_enough=0.25, least_pace_mps=19.0)
CENTRES_M = {"deep 1": (1.5, 7.5), "deep 5": (7.5, 7.5), "seam 5-6": (6.0, 7.5), "1.5,7.5,0.5": (1.5, 7.5)}
ENDINGS = {"net": ("net", "", ""), "long": ("floor", "out", "long"), "wide": ("floor", "out", "wide")}


def scattered(count, spread_m, pull_m=(0.0, 0.0)):
    """Places about the aim whose deviation along each axis is ``spread_m`` to the last digit, divisor n - 1."""
    at = np.array([NormalDist().inv_cdf((k + 0.5) / count) for k in range(count)])
    both = np.column_stack([at, np.random.default_rng(1).permutation(at)])
    return both / both.std(axis=0, ddof=1) * spread_m + pull_m


def serves(misses_m=(), aim="deep 1", pace_mps=math.nan, serve_type="float", **endings):
    """One evening of one server: landings at ``misses_m`` from the aim, and so many that ended otherwise."""
    misses_m = np.reshape(np.asarray(misses_m, dtype=float), (-1, 2))
    ended = [("floor", "in", "")] * len(misses_m)
    ended += [ENDINGS[how] for how, count in endings.items() for _ in range(count)]
    centre_m, has_aim = np.array(CENTRES_M.get(aim, (4.5, 4.5))), aim != ""
    places_m = np.vstack([centre_m + misses_m, np.full((len(ended) - len(misses_m), 2), np.nan)])
    hits = (np.abs(places_m - centre_m) <= 1.5).all(axis=1) & has_aim
    table = pd.DataFrame(ended, columns=["outcome", "verdict", "missed"])
    table = table.assign(
        aim=aim,
        aim_hit=hits,
        aim_surely=hits,
        aim_may=hits,
        aim_has_depth=not aim.startswith("seam"),
        aim_x_m=centre_m[0] if has_aim else np.nan,
        aim_y_m=centre_m[1] if has_aim else np.nan,
        x_m=places_m[:, 0],
        y_m=places_m[:, 1],
        serve_type=serve_type,
        pace_mps=pace_mps,
        pace_low_mps=np.asarray(pace_mps) - 0.5,
        pace_high_mps=np.asarray(pace_mps) + 0.5,
        net_clearance_m=np.nan,
        net_clearance_high_m=np.nan,
        effort=1.0,
        target_kind="none",
    )
    return together(table)


def together(*tables):
    table = pd.concat(tables, ignore_index=True).assign(
        player_id="marit", server="7 Marit", name="Marit", number=7.0, practice_id="p", date="2026-11-03"
    )
    table["evening"] = codes_of(table, EVENING_COLUMNS)
    table.attrs["rho"] = {"rate": 0.0, "place": 0.0, "pace": 0.0}
    return table


def told(table, ladder=None, **settings):
    (climb,) = climbs(table, ladder) if ladder is not None and len(table) else (None,)
    return what_to_do(table, COURT, SCHEME, StudySettings(**settings), climb)


STEADY = scattered(24, 0.6)


def moved(right_m, long_m, of=STEADY):
    return of + np.array([right_m, long_m])


CASES = {
    "nothing served": (serves(), None, ""),
    "one serve": (serves(STEADY[:1]), LADDER, "4 more serves will tell what to do."),
    "four serves": (serves(net=4), LADDER, "1 more serve will tell what to do."),
    "errors, mostly of one kind": (
        serves(STEADY, net=9, long=4),
        LADDER,
        "First get it in: 13 of 37 lost, 9 in the net.",
    ),
    "errors of every kind": (
        serves(STEADY, net=5, long=4, wide=4),
        LADDER,
        "First get it in: 13 of 37 lost.",
    ),
    "errors before a pull": (serves(STEADY + 0.6, long=13), LADDER, "First get it in: 13 of 37 long."),
    "few errors are no ground": (serves(STEADY, net=5), UNTIMED, "Next: pass deep 1."),
    "pull to the right": (serves(moved(0.6, 0.0)), LADDER, "Move your eyes 0.6 m left."),
    "pull left and long": (serves(moved(-0.6, 0.5)), LADDER, "Move your eyes 0.6 m right and 0.5 m nearer."),
    "pull short, without a ladder": (serves(moved(0.0, -0.7)), None, "Move your eyes 0.7 m deeper."),
    "a pull of less than a ball": (serves(moved(0.15, 0.0, STEADY / 20)), None, ""),
    "a seam has no depth": (serves(moved(0.0, -2.0), aim="seam 5-6"), None, ""),
    "the pull of one aim of two": (
        together(serves(moved(0.6, 0.0)), serves(STEADY[:9], aim="deep 5")),
        None,
        "At deep 1, move your eyes 0.6 m left.",
    ),
    "no pull of few landings": (serves(moved(0.6, 0.0, STEADY[:4]), net=1), None, ""),
    "too wide": (serves(scattered(48, 1.3)), LADDER, "Right place, too wide: 1.3 m; deep 1 needs 1.0."),
    "too wide for half a spot": (
        serves(scattered(48, 0.9), aim="1.5,7.5,0.5"),
        None,
        "Right place, too wide: 0.9 m; the spot needs 0.5.",
    ),
    "wide enough for half an area": (serves(scattered(48, 1.3)), None, ""),
    "not told to be too wide": (serves(scattered(10, 1.2)), UNTIMED, "Next: pass deep 1."),
    "too slow": (
        serves(STEADY, pace_mps=[18.0] * 22 + [20.0] * 2, serve_type="jump topspin"),
        (FAST,),
        "Hit it harder: 2 of 24 reached 68 km/h.",
    ),
    "fast enough, as far as can be told": (
        serves(STEADY, pace_mps=[18.0] * 14 + [20.0] * 10, serve_type="jump topspin"),
        (FAST,),
        "Next: pass fast.",
    ),
    "another type is not asked to be fast": (serves(STEADY, pace_mps=18.0), (FAST,), "Next: pass fast."),
    "no ladder and no pull": (serves(STEADY), None, ""),
}


@pytest.mark.parametrize("name", CASES)
def test_the_first_that_holds_is_said(name):
    table, ladder, expected = CASES[name]
    found = told(table, ladder)
    assert found.sentence.partition(", about")[0].rstrip(".") == expected.rstrip(".")
    assert len(found.sentence.split()) <= 14
    assert bool(found.grounds) == bool(expected)


def test_errors_count_where_their_whole_interval_lies_above_the_limit():
    """Wilson's interval of 13 of 37 by statsmodels: 21.8 to 51.2 %."""
    table = serves(STEADY, net=9, long=4)
    low, high = proportion_confint(13, 37, method="wilson")
    assert (round(100 * low, 1), round(100 * high, 1)) == (21.8, 51.2)
    assert f"about {100 * low:.0f} to {100 * high:.0f} % would be. The limit is 15 %." in told(table).grounds
    assert "9 in the net, 4 long" in told(table).grounds
    assert told(table, most_errors=0.21).sentence.startswith("First get it in")
    assert told(table, most_errors=0.22).sentence == ""


def test_a_pull_stands_on_its_interval_and_its_n():
    """The mean of 24 with deviation 0.6 m: Student's t at 1.25 % either side, two directions told together."""
    from scipy.stats import t

    half_m = t.ppf(1 - 0.0125, 23) * 0.6 / math.sqrt(24)
    expected = (
        f"Pull at deep 1: 0.6 m right ({0.6 - half_m:.1f} to {0.6 + half_m:.1f}). Based on 24 of 24 balls over the net."
    )
    assert told(serves(moved(0.6, 0.0))).grounds == expected


def test_a_spread_stands_on_its_interval_and_its_n():
    """Deviation 1.3 m along two axes of 48: chi-square with 94 degrees of freedom."""
    low_m, high_m = (1.3 * math.sqrt(94 / chi2.ppf(share, 94)) for share in (0.975, 0.025))
    found = told(serves(scattered(48, 1.3)), LADDER).grounds
    assert f"1.3 m along each axis ({low_m:.1f} to {high_m:.1f}). Based on 48 of 48 balls over the net." in found


def test_a_step_passed_asks_for_no_closer_spread():
    """An evening within the area and one of 1.3 m: deep 1 is passed, so nothing is asked there; the seam is next."""
    good = [serves(scattered(40, 0.5)).assign(practice_id=day, date=day) for day in ("2026-10-06", "2026-10-13")]
    ladder = (UNTIMED[0], LadderStep("seam 5-6", ("seam 5-6",), not_enough=0.2, mastery=0.38, least_effort=0.0))
    everything = pd.concat(good, ignore_index=True)
    everything["evening"] = codes_of(everything, EVENING_COLUMNS)
    everything.attrs["rho"] = {"rate": 0.0, "place": 0.0}
    (climb,) = climbs(everything, ladder)
    assert climb.steps[0].passed_on
    found = what_to_do(serves(scattered(48, 1.3)), COURT, SCHEME, StudySettings(), climb)
    assert found.sentence == "Next: pass seam 5-6."


def test_the_next_step_tells_about_how_many_serves_it_lacks():
    table = serves(STEADY)
    (climb,) = climbs(table, UNTIMED)
    lacking = rounded_serves(climb.steps[0].next_aim.lacking)
    assert told(table, UNTIMED).sentence == f"Next: pass deep 1, about {lacking} more serves."
    assert told(table, UNTIMED).grounds.startswith("7 Marit has passed no step yet.")


def test_the_teams_own_gate_holds_for_whoever_is_on_no_ladder():
    slow = serves(STEADY, pace_mps=18.0, serve_type="jump topspin")
    assert told(slow, topspin_gate_mps=19.0, pace_unit="m/s").sentence == "Hit it harder: 0 of 24 reached 19.0 m/s."
    assert told(slow, LADDER, topspin_gate_mps=19.0).sentence.startswith("Next"), "a coach's ladder without a gate"


@pytest.mark.parametrize("most_errors", [-0.1, 1.1, math.nan])
def test_a_limit_for_errors_is_a_share(most_errors):
    with pytest.raises(UserError, match="between 0 and 100 %"):
        StudySettings(most_errors=most_errors)

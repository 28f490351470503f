"""The demo's season without film, against the spread it is written from (by scipy) and its own truth."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import read_marks, view_from_text, view_to_text
from serve_marker.demo import SAMPLES
from serve_marker.demo_season.attempts import DrawnServes
from serve_marker.demo_season.flights import DrawnFlights
from serve_marker.demo_season.practices import add_season, players_of, served
from serve_marker.demo_season.scenario import SCENARIO_FILE, SeasonScenario, read_season
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.records import Gym, Serve, StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.study.climb import climbs
from serve_marker.study.ladder import usual_ladder
from serve_marker.study.pace_limits import impossible_mask
from serve_marker.study.plan import suggested_blocks
from serve_marker.study.serve_columns import serve_table

FOLDER = Path(__file__).resolve().parents[1] / "sample_clips"
SEASON = read_season(FOLDER / SCENARIO_FILE)
ELLIPSE_95_SQUARED = 5.991
"""95 % of a chi-square distribution with two degrees of freedom (any statistical table)."""
BALL_REACH_M = 0.065
"""A ball touches a line with its disc, not with a point (see court/line_calls.py)."""


class Drawn(NamedTuple):
    """One evening: its serves as marked and placed, and the truth they were made from."""

    serves: list[Serve]
    attempts: DrawnServes
    flights: DrawnFlights


def view_named(name: str) -> View:
    sheet = read_marks(FOLDER / f"{name}.marks.json")
    return fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, sheet.traces).view


def logbook_of(season: SeasonScenario, path: Path) -> Logbook:
    book = Logbook.create(path, team="Tidewater")
    views = {name: view_to_text(view_named(name)) for name in SAMPLES}
    stored = (StoredView(id=name, gym_id="g", name=name, made_on="", document=text) for name, text in views.items())
    book.put(Gym(id="g", name="Harbour hall"), *stored, *players_of(season))
    add_season(book, season, path.parent)
    return book


def contents(book: Logbook) -> list[Serve]:
    """The serves with names in place of ids, which are fresh each time."""
    names = {one.id: one.name for records in (book.players(), book.formations()) for one in records}
    names |= {clip.id: Path(clip.path).name for clip in book.clips()}
    plain = [
        replace(
            serve,
            id="",
            clip_id=names[serve.clip_id],
            player_id=names[serve.player_id or ""],
            passer_id=names.get(serve.passer_id or ""),
            formation_id=names.get(serve.formation_id or ""),
        )
        for serve in book.serves()
    ]
    return sorted(plain, key=lambda serve: (serve.clip_id, serve.moment_s))


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    with logbook_of(SEASON, tmp_path_factory.mktemp("season") / "tidewater.logbook") as made:
        yield made


@pytest.fixture(scope="module")
def table(book):
    return serve_table(book)


@pytest.fixture(scope="module")
def evenings(book) -> list[Drawn]:
    views = {view.name: view_from_text(view.document) for view in book.views()}
    common = Serve(id="", clip_id="")
    records = book.players(), book.formations()
    return [Drawn(*served(SEASON, evening, views[evening.view], common, *records)) for evening in SEASON.evenings]


def test_the_same_seed_makes_the_same_season_and_another_seed_another(book, tmp_path):
    short = replace(SEASON, evenings=SEASON.evenings[-2:])
    made = [
        logbook_of(season, tmp_path / f"{number}.logbook")
        for number, season in enumerate((short, short, replace(short, seed=SEASON.seed + 1)))
    ]
    first, second, other = map(contents, made)
    for each in made:
        each.close()
    assert first == second
    assert [serve.contact for serve in first] != [serve.contact for serve in other]


def test_the_season_holds_what_is_promised(table):
    size = table.groupby("date").size()
    newest = table[table["date"] == table["date"].max()]
    assert len(size) == 12
    assert min(size.index) >= "2026-09-01"
    assert (size.iloc[-2:] >= 120).all()
    assert newest["server"].nunique() == table["server"].nunique() == 10
    assert set(table["target_kind"]) == {"none", "mats", "upright", "people"}
    assert set(table["serve_type"]) == {"float", "jump float", "jump topspin"}
    assert {"deep 1", "seam 5-6", "deep 5", "deep 6"} < set(table["aim"])
    at_passers = table[table["target_kind"] == "people"]
    assert (at_passers["formation"] != "").all()
    assert (table.loc[table["target_kind"] != "people", "outcome"] != "received").all()
    assert set(table["outcome"]) == {"floor", "net", "received", "target", "out"}
    received = at_passers[at_passers["outcome"] == "received"]
    assert set(received["pass_rating"]) == {0, 1, 2, 3}
    assert (received["passer"] != received["name"]).all()


def test_passes_are_the_worse_the_further_the_passer_has_to_go(table):
    received = table[(table["outcome"] == "received") & table["gap_m"].notna()]
    near = received["gap_m"] < received["gap_m"].median()
    assert received.loc[near, "pass_rating"].mean() > received.loc[~near, "pass_rating"].mean()


def test_nothing_of_the_season_is_a_flight_nobody_serves(table):
    assert not impossible_mask(table["pace_mps"].to_numpy(dtype=float)).any()
    assert not (table["net_clearance_high_m"] < 0).any()
    landed = table[table["outcome"].isin(("floor", "received"))]
    assert landed["pace_mps"].notna().mean() > 0.98


def test_landings_and_paces_hold_their_truth_in_95_of_100(evenings, table):
    inside, fast = [], []
    paces = table.set_index(["date", "contact_s"])[["pace_low_mps", "pace_high_mps"]]
    for evening, (serves, _, flights) in zip(SEASON.evenings, evenings, strict=True):
        true_mps = np.hypot(*(flights.landing_m - flights.contact_m).T) / flights.flight_s
        for k, serve in enumerate(serves):
            point = serve.landing_point
            if serve.outcome == "floor" and point is not None and serve.contact is not None:
                off_m = np.array([point.x_m, point.y_m]) - flights.landing_m[k]
                cov_m2 = np.array([[point.cov_xx_m2, point.cov_xy_m2], [point.cov_xy_m2, point.cov_yy_m2]])
                inside.append(off_m @ np.linalg.solve(cov_m2, off_m) < ELLIPSE_95_SQUARED)
                low_mps, high_mps = paces.loc[(evening.date, serve.contact.time_s)]
                fast.append(low_mps <= true_mps[k] <= high_mps)
    assert len(inside) > 700
    assert np.mean(inside) >= 0.95
    assert np.mean(fast) >= 0.95


def test_deep_1_is_hit_as_often_as_the_written_spread_says(evenings, table):
    """By server within three deviations, and all together within two."""
    drills = table[(table["aim"] == "deep 1") & (table["target_kind"] != "people")]
    hits = Counter(drills.loc[(drills["aim_hit"] == True) | (drills["outcome"] == "target"), "name"])  # noqa: E712
    low, high = (-BALL_REACH_M, 6.0), (3.0, 9.0 + BALL_REACH_M)
    centre = np.array([1.5, 7.5])
    expected: Counter[str] = Counter()
    variance: Counter[str] = Counter()
    for evening, (_, attempts, _) in zip(SEASON.evenings, evenings, strict=True):
        over = SEASON.over_at(evening)
        asked = [k for k, block in enumerate(attempts.blocks) if block.aim == "deep 1" and not block.passers]
        turns = Counter(attempts.spreads[k] for k in asked)
        for spread, count in turns.items():
            first, last = (np.array(part) for part in spread.spread_m)
            net = spread.into_net[0] + over * (spread.into_net[1] - spread.into_net[0])
            cov_m2 = np.diag((first + over * (last - first)) ** 2)
            within = multivariate_normal(centre + spread.pull_m, cov_m2).cdf(high, lower_limit=low)
            share = (1 - net) * within
            expected[spread.server] += count * share
            variance[spread.server] += count * share * (1 - share) * (1 + (count - 1) * SEASON.evening_share)
    off = {name: (hits[name] - expected[name]) / variance[name] ** 0.5 for name in expected}
    assert len(off) == 10
    assert all(abs(deviations) < 3 for deviations in off.values()), off
    assert abs(sum(hits.values()) - sum(expected.values())) < 2 * sum(variance.values()) ** 0.5


def test_servers_stand_on_the_ladder_everywhere_and_the_plan_follows(table):
    steps = usual_ladder(view_named(SAMPLES[0]).court)
    found = climbs(table, steps)
    at_aims = [one.at_aims[0] for climb in found for one in climb.steps[:2]]
    assert {one.passed for one in at_aims} == {True, False}
    assert any(one.not_yet for one in at_aims)
    assert any(not one.passed and not one.not_yet and 0 < one.lacking < 40 for one in at_aims)
    blocks = suggested_blocks(found, "2026-11-17")
    assert len(blocks) >= 3
    assert all(block.reason for block in blocks)


def test_clips_without_film_say_so_and_stand_after_the_filmed_ones(book):
    names = [Path(clip.path).name for clip in book.clips()]
    assert all(name.startswith("without film, invented") for name in names)
    assert not any(Path(clip.path).exists() for clip in book.clips())
    assert min(map(by_name, names)) > max(by_name(f"{sample}.mp4") for sample in SAMPLES)

"""Likely hits and landings among all that is heard: worked by hand, as properties, and in rendered halls."""

from __future__ import annotations

import json
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.video.clip import open_clip
from serve_marker.video.likely_serves import (
    LONGEST_FLIGHT_S,
    SHORTEST_FLIGHT_S,
    LikelyServe,
    lag_s,
    likely_serves,
    rebounds,
    stops_s,
)
from serve_marker.video.sound import loudness
from serve_marker.video.sudden_sounds import Spikes, find_spikes

hall = runpy.run_path(str(Path(__file__).resolve().parents[1] / "hall_sound.py"), run_name="hall_sound")
WINDOW_S = 0.005


def heard(*sounds: tuple[float, float], rise_s: float = 0.0) -> Spikes:
    """Spikes at these times [s] and levels [dB]."""
    times_s, level_db = np.array(sorted(sounds)).T
    return Spikes(times_s, level_db, np.full(len(times_s), rise_s))


SERVES = tuple((10.0 * k, 10.0 * k + 1.2) for k in range(1, 6))
SERVED = tuple((time_s, level_db) for hit, landing in SERVES for time_s, level_db in ((hit, -25.0), (landing, -18.0)))


@pytest.mark.parametrize(
    ("what", "others"),
    [
        ("nothing else", ()),
        # e = 0.75 from 0.8 s: 0.8, 0.6, 0.45 s after each other, 2.5 dB softer each.
        (
            "rebounds after each landing",
            tuple((end + after, -18.0 - soft) for _, end in SERVES for after, soft in ((0.8, 3), (1.4, 6), (1.85, 9))),
        ),
        ("the server's dribbles", tuple((hit - back, -38.0) for hit, _ in SERVES for back in (2.6, 2.0, 1.4))),
        (
            "a ball that bounces beside the court",
            tuple((24.0 + at, -38.0 - soft) for at, soft in ((0.0, 0), (1.0, 3), (1.75, 6), (2.31, 9), (2.73, 12))),
        ),
    ],
)
def test_serves_are_told_from(what: str, others: tuple[tuple[float, float], ...]) -> None:
    found = likely_serves(heard(*SERVED, *others))
    assert [(serve.hit_s, serve.landing_s) for serve in found] == list(SERVES), what


def test_a_hit_as_soft_as_the_rebound_before_it_is_none() -> None:
    bounced = tuple((31.2 + after, -18.0 - soft) for after, soft in ((0.8, 3), (1.4, 6), (1.85, 9)))
    assert 32.0 not in [serve.hit_s for serve in likely_serves(heard(*SERVED, *bounced))]


@pytest.mark.parametrize("flight_s", [0.45, 2.6])
def test_what_flies_too_short_or_too_long_is_no_serve(flight_s: float) -> None:
    assert likely_serves(heard((1.0, -20.0), (1.0 + flight_s, -20.0))) == ()


def test_nothing_is_told_of_silence_or_of_one_sound() -> None:
    assert likely_serves(Spikes(np.zeros(0), np.zeros(0), np.zeros(0))) == ()
    assert likely_serves(heard((1.0, -20.0))) == ()


def test_slow_motion_flies_longer_on_the_clip() -> None:
    slow = heard(*((8 * time_s, level_db) for time_s, level_db in SERVED))
    assert likely_serves(slow) == ()
    found = likely_serves(slow, time_scale=1 / 8)
    assert [serve.hit_s for serve in found] == [8 * hit for hit, _ in SERVES]


def test_where_a_serve_is_due_less_is_enough() -> None:
    soft = ((60.0, -36.0), (61.2, -27.0))
    after = tuple((20.0 + time_s, level_db) for time_s, level_db in SERVED[-4:])
    found = [serve.hit_s for serve in likely_serves(heard(*SERVED, *soft, *after[2:]))]
    assert found == [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0]
    assert 60.0 not in [serve.hit_s for serve in likely_serves(heard(*SERVED, *soft))]


@pytest.mark.parametrize(("at_s", "level_db"), [(60.0, -25.0), (61.2, -18.0)])
def test_where_a_serve_is_due_one_end_alone_is_enough(at_s: float, level_db: float) -> None:
    # All others fly 1.2 s, so the end that is not heard is looked for 1.2 s away.
    after = tuple((20.0 + time_s, level_db) for time_s, level_db in SERVED[-2:])
    found = likely_serves(heard(*SERVED, (at_s, level_db), *after))
    assert [(serve.hit_s, serve.landing_s) for serve in found[-2:]] == [
        (pytest.approx(60.0), pytest.approx(61.2)),
        (70.0, 71.2),
    ]


def test_what_was_marked_tells_how_loud_the_others_are() -> None:
    # Two drills in one hall, as loud as each other on the whole; one serve marked tells which of them is the coach's.
    beside = tuple((10.0 * k + at_s, level_db) for k in range(1, 6) for at_s, level_db in ((0.5, -35.0), (1.9, -10.0)))
    spikes = heard(*SERVED, *beside)
    (contact_s, landing_s), *others = SERVES
    found = likely_serves(spikes, 1.0, [contact_s - 0.03], [landing_s - 0.01])
    assert [(serve.hit_s, serve.landing_s) for serve in found] == [(contact_s, landing_s), *others]
    other = likely_serves(spikes, 1.0, [10.5], [11.9])
    assert [(serve.hit_s, serve.landing_s) for serve in other] == [
        (10.0 * k + 0.5, 10.0 * k + 1.9) for k in range(1, 6)
    ]


def test_a_bouncing_ball_is_known_by_its_shrinking_intervals() -> None:
    # 1.0 s, then 0.7 and 0.49 s: three intervals in one ratio, 0.7. Even steps are no bounces.
    first, later = rebounds(np.array([0.0, 1.0, 1.7, 2.19]), np.array([-10.0, -13.0, -16.0, -19.0]))
    assert (first[0], later.tolist()) == (1.0, [0.0, 1.0, 1.0, 1.0])
    for times_s, levels_db in (([0, 1, 2, 3], [-10, -13, -16, -19]), ([0, 1, 1.7, 2.19], [-19, -16, -13, -10])):
        told = rebounds(np.array(times_s, dtype=float), np.array(levels_db, dtype=float))
        assert not np.any(told)


sounds = st.lists(
    st.tuples(st.integers(0, 6000), st.floats(-70, 0), st.booleans()), max_size=40, unique_by=lambda s: s[0]
)


@given(sounds)
def test_serves_come_one_after_the_other_and_fly_as_serves_do(drawn: list[tuple[int, float, bool]]) -> None:
    drawn = sorted(drawn)
    times_s = np.array([at * WINDOW_S for at, _, _ in drawn])
    spikes = Spikes(times_s, np.array([db for _, db, _ in drawn]), np.array([0.02 * slow for _, _, slow in drawn]))
    found = likely_serves(spikes)
    moments_s = [moment for serve in found for moment in (serve.hit_s, serve.landing_s)]
    assert moments_s == sorted(set(moments_s))
    for serve in found:
        assert {serve.hit_s, serve.landing_s} & set(times_s.tolist()) or np.isclose(times_s, serve.landing_s).any()
        assert SHORTEST_FLIGHT_S - 1e-9 <= serve.landing_s - serve.hit_s <= LONGEST_FLIGHT_S + 1e-9


def test_how_late_sound_comes_is_the_median_of_what_was_marked() -> None:
    # 0.06, 0.07 and 0.02 s late; what has no likely hit within 0.3 s tells nothing.
    assert lag_s([1.06, 2.07, 3.02, 9.0], [1.0, 2.0, 3.0, 8.0]) == pytest.approx(0.06)
    assert lag_s([], [1.0]) == lag_s([1.0], []) == 0.0


def test_marks_stand_in_place_of_what_was_heard_near_them() -> None:
    likely = (LikelyServe(1.05, 2.03), LikelyServe(5.05, 6.03))
    assert stops_s(likely, [], []).tolist() == [1.05, 2.03, 5.05, 6.03]
    assert stops_s(likely, [1.0], [2.0]).tolist() == pytest.approx([1.0, 2.0, 5.0, 6.0])
    assert stops_s(likely, [3.5], []).tolist() == pytest.approx([1.05, 2.03, 3.5, 5.05, 6.03])


def figures(truth: dict[str, Any], spikes: Spikes, heard_true: bool) -> tuple[float, float]:
    """Share of true hits found, and false ones per serve; ``heard_true``: sound comes without delay."""
    camera_m = np.array(truth["segments"][0]["camera"]["position"])
    delay_s = 0.0 if heard_true else 1 / hall["SOUND_MPS"]
    hits_s = np.array(
        [
            serve["contact_time"] + delay_s * float(np.linalg.norm(np.array(serve["contact_pos"]) - camera_m))
            for serve in truth["serves"]
        ]
    )
    found_s = np.array([serve.hit_s for serve in likely_serves(spikes)])
    near = np.abs(hits_s[:, None] - found_s[None]) < 0.05
    return float(near.any(axis=1).mean()), float((~near.any(axis=0)).sum() / len(hits_s))


def levels(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Times and sharp levels as `loudness` takes them from a film with these samples."""
    size = round(hall["RATE_HZ"] * WINDOW_S)
    blocks = samples[: len(samples) // size * size].reshape(-1, size)
    power = (np.diff(blocks, axis=1) ** 2).mean(axis=1)
    return (np.arange(len(blocks)) + 0.5) * WINDOW_S, 10 * np.log10(np.maximum(power, 1e-9))


@pytest.mark.parametrize("noise", hall["NOISES"])
def test_most_hits_are_found_in_rendered_halls(noise: str, true_clips: list[dict[str, Any]]) -> None:
    # Over six seeds and six clips: 0.79, 0.71 and 0.79 found, 0.18, 0.33 and 0.15 false ones per serve.
    share, false = np.mean(
        [
            figures(truth, find_spikes(*levels(hall["sound_of"](truth, noise, 5))), heard_true=False)
            for truth in true_clips[:2]
        ],
        axis=0,
    )
    assert share > 0.6
    assert false < 0.3


def test_all_hits_of_a_clip_rendered_by_others_are_found(shared_clips: Path) -> None:
    sound = loudness(open_clip(shared_clips / "low-corner-120.mov"))
    truth = json.loads((shared_clips / "low-corner-120.truth.json").read_text(encoding="utf-8"))
    assert sound is not None
    assert figures(truth, sound.spikes, heard_true=True) == (1.0, 0.0)

"""Marking by ear: B goes from likely hit to likely landing; what is marked, offered and jumped to on the way."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
films = runpy.run_path(str(Path(__file__).with_name("film_sound.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
RATE = coach_at_work["RATE"]
HITS_S, LANDINGS_S = (0.6, 3.2), (1.7, 4.4)
REBOUNDS_S = (2.3, 2.75, 3.0875)
STOPS = [round(at_s * RATE) for hit_s, landing_s in zip(HITS_S, LANDINGS_S, strict=True) for at_s in (hit_s, landing_s)]
SERVER_M, LANDING_M = (2.0, 8.7), (1.0, -6.0)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of the bare court on which two serves are heard, the first with rebounds."""
    folder = tmp_path_factory.mktemp("film")
    coach_at_work["film_court"](folder / "silent.mp4")
    gain_of = dict.fromkeys(HITS_S, 0.3) | dict.fromkeys(LANDINGS_S, 1.0)
    gain_of |= dict(zip(REBOUNDS_S, (0.25, 0.18, 0.13), strict=True))
    times_s = sorted(gain_of)
    return Path(
        films["with_claps"](
            folder / "silent.mp4", folder / "tuesday.mp4", times_s, gains=[gain_of[time_s] for time_s in times_s]
        )
    )


@pytest.fixture
def coach(coach_at_mark):
    coach_at_mark.wait(lambda: not coach_at_mark.window.busy)
    return coach_at_mark


def test_b_goes_from_likely_hit_to_likely_landing_and_back(coach):
    assert coach.window.page.sound.accessibleDescription() == "2 likely serves among 7 sudden sounds"
    visited = []
    for _ in STOPS:
        coach.key(Qt.Key.Key_B)
        visited.append(coach.workspace.frame)
    assert visited == pytest.approx(STOPS, abs=1)
    coach.key(Qt.Key.Key_B, SHIFT)
    assert coach.workspace.frame == visited[-2]


def test_every_sound_stays_reachable(coach):
    coach.step_to(STOPS[1])
    visited = []
    for _ in REBOUNDS_S:
        coach.key(Qt.Key.Key_Period)
        visited.append(coach.workspace.frame)
    assert visited == pytest.approx([round(at_s * RATE) for at_s in REBOUNDS_S], abs=1)


def test_beyond_the_last_likely_serve_b_goes_to_any_sound(coach):
    coach.step_to(STOPS[3] + 3)
    coach.key(Qt.Key.Key_B)
    assert coach.said[-1] == "No hit or bounce is heard after this frame."


def test_what_was_marked_stands_in_place_of_what_was_heard(coach):
    coach.key(Qt.Key.Key_B)
    coach.step_to(STOPS[0] - 2)
    coach.key(Qt.Key.Key_H)
    coach.key(Qt.Key.Key_B)
    assert coach.workspace.frame == pytest.approx(STOPS[1], abs=1)
    # The first hit was heard two frames late, so the second is looked for two frames earlier.
    coach.key(Qt.Key.Key_B)
    assert coach.workspace.frame == pytest.approx(STOPS[2] - 2, abs=1)


def test_likely_hits_and_landings_differ_on_the_strip(coach):
    sound, x_of_time = coach.window.page.sound, coach.window.page.time_bar.x_of_time
    drawn = sound.grab().toImage()
    background = drawn.pixelColor(round(x_of_time(0.3)), 6)

    def differs(at_s: float, y: int, aside: float = 0.0) -> bool:
        return bool(drawn.pixelColor(round(x_of_time(at_s) + aside), y) != background)

    assert differs(HITS_S[0], 6)
    assert differs(LANDINGS_S[0], 6)
    # A hit stands on its tip, a landing is round: beside the middle only the landing still is.
    assert not differs(HITS_S[0], 6, aside=2.5)
    assert not differs(REBOUNDS_S[2], 6)

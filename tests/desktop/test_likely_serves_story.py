"""Marking by ear: B goes from likely hit to likely landing; what is marked, offered and jumped to on the way."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings, Qt

from serve_marker.desktop.jump_on import JumpOn

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
films = runpy.run_path(str(Path(__file__).with_name("film_sound.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
RATE = coach_at_work["RATE"]
HITS_S, LANDINGS_S = (0.6, 3.2), (1.7, 4.4)
REBOUNDS_S = (2.3, 2.75, 3.0875)
LAST_S = 4.8
STOPS = [round(at_s * RATE) for hit_s, landing_s in zip(HITS_S, LANDINGS_S, strict=True) for at_s in (hit_s, landing_s)]
SERVER_M, LANDING_M = (2.0, 8.7), (1.0, -6.0)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of the bare court on which two serves are heard, the first with rebounds."""
    folder = tmp_path_factory.mktemp("film")
    coach_at_work["film_court"](folder / "silent.mp4")
    gain_of = dict.fromkeys(HITS_S, 0.3) | dict.fromkeys(LANDINGS_S, 1.0)
    gain_of |= dict(zip(REBOUNDS_S, (0.25, 0.18, 0.13), strict=True)) | {LAST_S: 0.2}
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
    assert coach.window.page.sound.accessibleDescription() == "2 likely serves among 8 sudden sounds"
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
    assert coach.workspace.frame == pytest.approx(round(LAST_S * RATE), abs=1)
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


def mark_serve(coach):
    """B to the likely hit, the server's place by hand; B to the likely landing, a click."""
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    coach.click_film(*seen_at(*SERVER_M), CTRL)
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    coach.click_film(*seen_at(*LANDING_M))
    coach.wait(lambda: not coach.window.busy)


def test_the_film_jumps_on_after_a_landing_where_that_is_set(coach):
    coach.key(Qt.Key.Key_F4)
    assert coach.said[-1] == "After a serve the film goes on to the next likely hit."
    mark_serve(coach)
    assert coach.workspace.frame == pytest.approx(STOPS[2], abs=1)
    assert len(coach.workspace.serves) == 1
    coach.key(Qt.Key.Key_B, SHIFT)
    assert coach.workspace.frame == pytest.approx(STOPS[1], abs=1)


def test_the_setting_is_kept_for_the_next_time(coach):
    settings = QSettings(str(coach.folder / "settings.ini"), QSettings.Format.IniFormat)
    assert not JumpOn(coach.workspace, settings).on
    coach.key(Qt.Key.Key_F4)
    settings.sync()
    assert JumpOn(coach.workspace, settings).on


def test_the_film_stays_after_a_landing_otherwise_and_after_the_setting_is_taken_back(coach):
    mark_serve(coach)
    assert coach.workspace.frame == pytest.approx(STOPS[1], abs=1)
    coach.key(Qt.Key.Key_F4)
    coach.key(Qt.Key.Key_F4)
    assert coach.said[-1] == "After a serve the film stays."
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_N)
    assert coach.workspace.frame == pytest.approx(STOPS[2], abs=1)


def test_a_serve_that_ends_otherwise_goes_on_too_but_a_chosen_one_does_not(coach):
    coach.key(Qt.Key.Key_F4)
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_N)
    assert coach.workspace.frame == pytest.approx(STOPS[2], abs=1)
    coach.key(Qt.Key.Key_Left, CTRL)
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_F)
    assert coach.workspace.serves[0].outcome == "fault"
    assert coach.workspace.frame == pytest.approx(STOPS[0], abs=1)


def offers(coach):
    """What the picture offers to take."""
    return [item.text for item in coach.picture._items if getattr(item, "text", "").startswith("Hit from here")]


@pytest.fixture
def coach_of_one_server(coach):
    coach.type("7", enter=True)
    coach.key(Qt.Key.Key_Escape)
    mark_serve(coach)
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    return coach


def test_the_servers_last_place_is_offered_and_taken_by_the_same_key(coach_of_one_server):
    coach = coach_of_one_server
    assert offers(coach) == []
    coach.key(Qt.Key.Key_H)
    first, second = coach.workspace.serves
    assert offers(coach) == ["Hit from here, as last time: H again"]
    assert (second.contact.pixel, second.contact_point) == (None, None)
    coach.key(Qt.Key.Key_H)
    first, second = coach.workspace.serves
    assert second.contact.pixel == pytest.approx(first.contact.pixel, abs=0.01)
    assert second.contact_point.y_m == pytest.approx(first.contact_point.y_m, abs=0.01)
    assert offers(coach) == []
    assert coach.said[-1] == "Hit from the same place as last time; now mark how the serve ended."
    coach.key(Qt.Key.Key_H)
    assert coach.said[-1] == "This contact is marked already."
    assert coach.workspace.serves[1] == second
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.workspace.serves[1].contact.pixel is None


def test_the_offer_goes_with_its_frame_and_never_counts_by_itself(coach_of_one_server):
    coach = coach_of_one_server
    coach.key(Qt.Key.Key_H)
    coach.key(Qt.Key.Key_Right)
    coach.wait(lambda: not coach.window.busy)
    assert offers(coach) == []
    coach.key(Qt.Key.Key_H)
    assert coach.workspace.serves[1].contact.pixel is None
    assert len(offers(coach)) == 1
    coach.key(Qt.Key.Key_B)
    coach.wait(lambda: not coach.window.busy)
    coach.click_film(*seen_at(*LANDING_M))
    assert coach.workspace.serves[1].contact_point is None
    assert len(coach.workspace.serves) == 2


def test_another_servers_place_is_not_offered(coach_of_one_server):
    coach = coach_of_one_server
    coach.type("9", enter=True)
    coach.key(Qt.Key.Key_Escape)
    coach.key(Qt.Key.Key_H)
    assert offers(coach) == []

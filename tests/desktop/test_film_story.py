"""The film through the window: sound, damage, slow motion, playing back, dragging, files of one practice, faults."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QInputDialog

from serve_marker.desktop.app import let_work
from serve_marker.desktop.dialogs.capture_rate import CaptureRateDialog
from serve_marker.desktop.session import film_library
from serve_marker.logbook.store import Logbook
from serve_marker.study.serve_columns import serve_table

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
films = runpy.run_path(str(Path(__file__).with_name("film_sound.py")))
seen_at, CTRL, SHIFT = (coach_at_work[name] for name in ("seen_at", "CTRL", "SHIFT"))
RATE, FRAMES = coach_at_work["RATE"], coach_at_work["FRAMES"]
CLAPS_S = (1.0, 1.5, 3.2)
CLAP_FRAMES = [round(clap_s * RATE) for clap_s in CLAPS_S]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture
def loud(filmed, tmp_path) -> Path:
    return Path(films["with_claps"](filmed, tmp_path / "loud.mp4", CLAPS_S))


def begin(coach, clip: Path) -> None:
    coach.begin(clip, coach.folder / "team.logbook")
    coach.key(Qt.Key.Key_2, CTRL)


def test_keys_jump_from_sound_to_sound_and_back(coach, loud):
    begin(coach, loud)
    sound = coach.window.page.sound
    assert sound.isVisible()
    assert sound.accessibleDescription().endswith("among 3 sudden sounds")
    visited = []
    for _ in CLAPS_S:
        coach.key(Qt.Key.Key_Period)
        visited.append(coach.workspace.frame)
    assert visited == pytest.approx(CLAP_FRAMES, abs=1)
    coach.key(Qt.Key.Key_Period)
    assert coach.said[-1] == "No hit or bounce is heard after this frame."
    coach.key(Qt.Key.Key_Comma)
    coach.key(Qt.Key.Key_Comma)
    assert coach.workspace.frame == visited[0]


def test_a_click_on_the_strip_goes_there(coach, loud):
    begin(coach, loud)
    page = coach.window.page
    coach.click(page.sound, QPoint(round(page.time_bar.x_of_time(CLAPS_S[2])), 20))
    assert coach.workspace.frame == pytest.approx(CLAP_FRAMES[2], abs=1)


@pytest.mark.parametrize("size", [(1280, 720), (2560, 1440)])
def test_the_strip_leaves_the_picture_its_room(coach, loud, size):
    begin(coach, loud)
    coach.window.resize(*size)
    coach.wait(lambda: coach.window.page.width() == size[0])
    assert coach.window.page.sound.isVisible()
    assert coach.picture.width() * coach.picture.height() >= 0.6 * size[0] * size[1]


def test_a_clip_without_sound_lacks_the_strip_and_says_so(coach, filmed):
    begin(coach, filmed)
    assert not coach.window.page.sound.isVisible()
    coach.key(Qt.Key.Key_B)
    assert coach.said[-1] == "This clip has no sound to find hits by."


def test_damage_is_told_once_and_marked_on_the_time_bar(coach, loud):
    films["spoil_packet"](loud, 40)
    begin(coach, loud)
    page = coach.window.page
    page.damage._wait.start(0)
    coach.wait(lambda: any("is damaged at frames" in said for said in coach.said))
    coach.wait(lambda: page.damage._process is None)
    assert sum("is damaged at frames" in said for said in coach.said) == 1
    (stretch,) = page.time_bar._damaged
    assert stretch[0] == 40
    coach.workspace.set_frame(41)
    assert page.time_bar.accessibleDescription().endswith("damaged here")
    coach.workspace.set_frame(30)
    assert "damaged" not in page.time_bar.accessibleDescription()


def test_a_whole_film_is_searched_without_a_word(coach, loud):
    begin(coach, loud)
    page = coach.window.page
    said = len(coach.said)
    page.damage._wait.start(0)
    coach.wait(lambda: page.damage._process is not None)
    coach.wait(lambda: page.damage._process is None)
    assert coach.said[said:] == []
    assert page.time_bar._damaged == ()


def timed_serve(coach, contact: int, landing: int) -> None:
    coach.step_to(contact)
    coach.picture.set_cursor_px(seen_at(0.0, -9.0))
    coach.key(Qt.Key.Key_Return, CTRL)
    coach.step_to(landing)
    coach.click_film(*seen_at(0.0, 7.0))


def pace_mps(coach) -> float:
    return float(serve_table(coach.workspace.logbook)["pace_mps"].iloc[0])


def test_a_contact_marked_too_late_is_asked_about(coach, filmed):
    """16 m in 20 frames at 30 a second, from 2.4 m up: the ball would cross at 1.7 m, half a metre under the tape."""
    begin(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    timed_serve(coach, 110, 130)
    assert coach.said[-1].endswith("It would have gone through the net: is the contact marked too late?")
    timed_serve(coach, 40, 72)
    assert "through the net" not in coach.said[-1]


def test_slow_motion_is_asked_about_where_no_serve_is_so_slow_and_all_times_follow(coach, filmed):
    begin(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    timed_serve(coach, 10, 130)
    # 16 m in 120 frames at 30 a second are 4 m/s; at 120 a second they are 16 m/s.
    assert pace_mps(coach) == pytest.approx(4.0, abs=0.3)
    assert "slower than any serve: is it slow motion, filmed at 120?" in coach.said[-1]
    before = coach.workspace.serves[0]
    coach.key(Qt.Key.Key_M, CTRL)
    dialog = coach.dialog(CaptureRateDialog)
    assert dialog.field.value() == 120.0
    coach.key(Qt.Key.Key_Return)
    coach.wait(lambda: coach.workspace.clip_entry.filmed_at_fps == 120.0)
    coach.face_window()
    assert pace_mps(coach) == pytest.approx(16.0, abs=1.2)
    after = coach.workspace.serves[0]
    assert after.landing == before.landing
    assert after.landing_point.error_m < before.landing_point.error_m
    assert coach.window.page.time_bar.position_text().startswith("0:01.083  frame 130")
    with Logbook.open(coach.folder / "team.logbook") as book:
        assert book.clips()[0].filmed_at_fps == 120.0
        assert book.serves()[0] == after
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.workspace.clip_entry.filmed_at_fps is None
    assert coach.workspace.serves[0] == before
    coach.key(Qt.Key.Key_Z, CTRL | SHIFT)
    assert (coach.workspace.time_scale, coach.workspace.serves[0]) == (pytest.approx(1 / 4), after)


def test_a_hit_left_alone_by_slow_motion_is_asked_about_and_joined_once_the_rate_is_said(coach, filmed):
    begin(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    # 130 frames at 30 a second are 4.3 s, which no serve flies; filmed at 120 a second they are 1.1 s.
    timed_serve(coach, 10, 140)
    assert len(coach.workspace.serves) == 2
    assert "Hit and landing are 4.3 s apart, too long for one serve. Is it slow motion?" in coach.said[-1]
    coach.key(Qt.Key.Key_Z, CTRL)
    coach.key(Qt.Key.Key_M, CTRL)
    coach.dialog(CaptureRateDialog)
    coach.type("120")
    coach.face_window()
    coach.click_film(*seen_at(0.0, 7.0))
    (serve,) = coach.workspace.serves
    assert serve.contact is not None
    assert serve.landing is not None
    assert pace_mps(coach) == pytest.approx(16.0 / (130 / 120), abs=1.2)


def test_a_landing_marked_first_in_slow_motion_is_asked_about_and_joined_once_the_rate_is_said(coach, filmed):
    begin(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    coach.step_to(140)
    coach.click_film(*seen_at(0.0, 7.0))
    (landed,) = coach.workspace.serves
    coach.step_to(10)
    coach.click_film(*seen_at(0.0, -9.0), CTRL)
    assert len(coach.workspace.serves) == 2
    assert "Hit and landing are 4.3 s apart, too long for one serve. Is it slow motion?" in coach.said[-1]
    coach.key(Qt.Key.Key_Z, CTRL)
    assert coach.workspace.serves == [landed]
    coach.key(Qt.Key.Key_M, CTRL)
    coach.dialog(CaptureRateDialog)
    coach.type("120")
    coach.face_window()
    coach.click_film(*seen_at(0.0, -9.0), CTRL)
    (serve,) = coach.workspace.serves
    assert (serve.id, serve.landing) == (landed.id, landed.landing)
    assert pace_mps(coach) == pytest.approx(16.0 / (130 / 120), abs=1.2)


def test_a_rate_the_camera_wrote_down_is_told_and_offered(coach, filmed, tmp_path):
    begin(coach, films["with_claps"](filmed, tmp_path / "slow.mp4", (), {"com.android.capture.fps": "240.0"}))
    assert any("is slow motion: filmed at 240" in said for said in coach.said)
    coach.key(Qt.Key.Key_M, CTRL)
    assert coach.dialog(CaptureRateDialog).field.value() == 240.0
    coach.key(Qt.Key.Key_Return)
    coach.face_window()
    assert coach.workspace.time_scale == pytest.approx(30 / 240, rel=0.02)
    assert coach.said[-1] == "The clip runs 8.0 times slower than life."


def test_the_live_error_under_the_pointer_follows_the_rate(coach, filmed):
    begin(coach, filmed)
    coach.key(Qt.Key.Key_1, CTRL)
    coach.make_view()
    coach.step_to(20)
    judged = coach.window.page.judgements
    slow = judged.here(*seen_at(0.0, 7.0)).cov_half_m2
    coach.key(Qt.Key.Key_M, CTRL)
    coach.dialog(CaptureRateDialog)
    coach.type("240")
    coach.face_window()
    assert coach.workspace.clip_entry.filmed_at_fps == 240.0
    assert judged.here(*seen_at(0.0, 7.0)).cov_half_m2[1][1] < slow[1][1] / 2


class Clock:
    """Stands in for the player's clock and is moved by hand."""

    def __init__(self):
        self.ms = 0

    def start(self):
        self.ms = 0

    def elapsed(self):
        return self.ms


def test_playing_backward_comes_to_the_first_frame_in_its_time(coach, filmed, monkeypatch):
    begin(coach, filmed)
    coach.step_to(40)
    player, clock = coach.window.page.player, Clock()
    seen: list[int] = []
    monkeypatch.setattr(player, "_clock", clock)
    coach.workspace.frame_changed.connect(seen.append)
    coach.key(Qt.Key.Key_Space, SHIFT)
    for clock.ms, frame in ((510, 24), (1010, 9), (1260, 2)):
        coach.wait(lambda frame=frame: coach.workspace.frame == frame)
        assert player.playing
    clock.ms = 10_000
    coach.wait(lambda: not player.playing)
    assert seen == [24, 9, 2, 0]


def test_a_drag_shows_near_key_frames_and_the_exact_frame_on_rest(coach, filmed, monkeypatch):
    begin(coach, filmed)
    page = coach.window.page
    asked, request = [], page.frames.request

    def noted(*wish):
        asked.append(wish)
        request(*wish)

    monkeypatch.setattr(page.frames, "request", noted)
    bar = page.time_bar
    y = bar.height() - 19
    QTest.mousePress(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(100, y))
    for x in range(120, 400, 40):
        QTest.mouseMove(bar, QPoint(x, y))
    assert all(dragging for _index, _size, dragging in asked[1:])
    QTest.mouseRelease(bar, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(380, y))
    assert asked[-1][2] is False
    coach.wait(lambda: page.frames.shown_index == coach.workspace.frame)
    assert coach.workspace.frame == bar.frame_at(360)


def test_files_of_one_practice_follow_each_other(coach, filmed, tmp_path):
    parts = [tmp_path / f"serves {number}.mp4" for number in (9, 10, 11)]
    for number, part in enumerate(parts):
        part.write_bytes(filmed.read_bytes() + b"\0" * number)
    coach.window.workspace.new_logbook(coach.folder / "team.logbook")
    coach.window.books.take(parts[1], parts[2], parts[0])
    coach.agree_to_practice()
    coach.wait(lambda: len(coach.workspace.clips()) == 3 and not coach.window.busy)
    coach.key(Qt.Key.Key_2, CTRL)
    assert [Path(entry.path).name for entry in coach.workspace.clips()] == [part.name for part in parts]
    assert coach.workspace.clip.path == parts[0]
    coach.key(Qt.Key.Key_End)
    coach.key(Qt.Key.Key_Right)
    assert "goes on with serves 10.mp4" in coach.said[-1]
    for part in parts[1:]:
        coach.key(Qt.Key.Key_F3)
        coach.wait(lambda part=part: coach.workspace.clip.path == part)
    coach.key(Qt.Key.Key_F3)
    assert coach.said[-1] == "This practice has no later clip."
    coach.key(Qt.Key.Key_F3, SHIFT)
    coach.wait(lambda: coach.workspace.clip.path == parts[1])


def test_a_card_pulled_out_is_one_sentence_and_nothing_is_lost(coach, filmed, tmp_path, monkeypatch):
    clip = tmp_path / "card.mp4"
    clip.write_bytes(filmed.read_bytes())
    begin(coach, clip)
    coach.click_film(300, 200)
    marked = list(coach.workspace.serves)
    clip.unlink()
    for asked in (lambda: coach.window.page.frames.set_cache_bytes(2**26), lambda: coach.key(Qt.Key.Key_End)):
        said = len(coach.said)
        asked()
        coach.wait(lambda said=said: len(coach.said) > said)
        let_work(300)
        assert len(coach.said) == said + 1
        assert coach.said[-1] == "card.mp4 is not there. Check the name, or plug in the disk it is on."
    assert coach.workspace.serves == marked
    clip.write_bytes(filmed.read_bytes())
    coach.key(Qt.Key.Key_Left)
    coach.wait(lambda: coach.window.page.frames.shown_index == FRAMES - 2)


def test_a_long_clip_shows_its_first_picture_while_its_times_are_read_once(coach, filmed, monkeypatch):
    monkeypatch.setattr(film_library, "LONG_S", 1.0)
    page, glances = coach.window.page, []
    coach.window.opening.glanced.connect(lambda _glance: glances.append(page.loading.isVisible()))
    begin(coach, filmed)
    assert glances == [True]
    assert not page.loading.isVisible()
    (kept,) = (coach.folder / "team clips").iterdir()
    assert kept.suffix == ".times"
    assert page.shown_index == 0


def test_damage_of_a_long_clip_is_searched_once(coach, loud, monkeypatch):
    monkeypatch.setattr(film_library, "LONG_S", 1.0)
    films["spoil_packet"](loud, 40)
    begin(coach, loud)
    page, found = coach.window.page, []
    page.damage.found.connect(lambda stretches, _said: found.append(stretches))
    for content in (None, "[[oops"):
        kept = next((coach.folder / "team clips").glob("*.times")).with_suffix(".damage")
        if content is not None:
            kept.write_text(content)
        page.damage._wait.start(0)
        coach.wait(lambda: page.damage._process is not None)
        coach.wait(lambda: page.damage._process is None)
        assert kept.read_text().startswith("[[40, ")
    page.damage._wait.start(0)
    coach.wait(lambda: len(found) == 3)
    assert found[0] == found[1] == found[2]
    assert page.damage._process is None


def test_no_click_counts_while_another_clip_is_being_opened(coach, filmed):
    begin(coach, filmed)
    page = coach.window.page
    from serve_marker.video.glance import glance

    coach.window._show_glance(glance(filmed))
    coach.key(Qt.Key.Key_N)
    assert coach.workspace.serves == []
    assert coach.said[-1].startswith("No picture is shown yet")
    assert "Reading the times of all frames of tuesday.mp4" in page.loading.accessibleDescription()
    coach.window.opening.settled.emit()
    coach.key(Qt.Key.Key_N)
    assert len(coach.workspace.serves) == 1


def test_memory_for_frames_is_a_setting_that_stays(coach, filmed):
    begin(coach, filmed)
    coach.key(Qt.Key.Key_F9)
    dialog = coach.dialog(QInputDialog)
    assert dialog.intValue() == 256
    dialog.setIntValue(512)
    coach.key(Qt.Key.Key_Return)
    coach.face_window()
    coach.wait(lambda: coach.said[-1] == "Frames may take 512 MB.")
    assert coach.window.page.frames._worker._plan.cache_bytes == 512 * 2**20
    coach.wait(lambda: not coach.window.busy)
    coach.key(Qt.Key.Key_N)
    assert len(coach.workspace.serves) == 1, "the picture stays, and a key still means what it shows"
    again = coach_at_work["Coach"](coach.folder)
    assert again.window.page.frames._cache_bytes == 512 * 2**20
    again.leave()

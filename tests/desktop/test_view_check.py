"""A clip from a known place asks for one yes; a camera moved within a clip brings a second view."""

from __future__ import annotations

import runpy
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import cv2
import numpy as np
import pytest
from PySide6.QtCore import Qt

from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import read_marks
from serve_marker.court.dimensions import landmarks
from serve_marker.desktop.setup import view_compare as view_comparing
from serve_marker.logbook.records import StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.marking.view_check import ClipCheck, ClipSegment
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.frames import FrameReader

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL, SHIFT = coach_at_work["CTRL"], coach_at_work["SHIFT"]

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
SIZE = (640, 360)
"""The sample clips are filmed again at half their size."""
SHEET = read_marks(SAMPLES / "winter-stand.marks.json")
MARKS = {name: ((x - 0.5) / 2, (y - 0.5) / 2) for name, (x, y) in SHEET.marks.items()}
FOCAL_PX = 820.0 / 2
"""winter-stand's camera, from its truth file."""
RATE, SECONDS, BUMP_S = 8, 6, 3.2
SWAYING_S = 9
LOOKED_S = 300.0

SHUTTER_M = 0.25
"""What a landing is moved by where a floor point is clicked instead of a ball as seen."""


def turn(yaw_deg: float, pitch_deg: float = 0.0):
    """How pixels move when the camera turns about its own place: K R K^-1."""
    rotation, _ = cv2.Rodrigues(np.radians([pitch_deg, yaw_deg, 0.0]))
    lens = np.array([[FOCAL_PX, 0, (SIZE[0] - 1) / 2], [0, FOCAL_PX, (SIZE[1] - 1) / 2], [0, 0, 1]])
    return lens @ rotation @ np.linalg.inv(lens)


def moved(matrix, pixel):
    x, y, w = matrix @ (*pixel, 1.0)
    return float(x / w), float(y / w)


def film(source: str, path: Path, motion, from_s: float = 0.0, seconds: int = 2) -> Path:
    """Film a sample clip again, at a few frames a second, with a camera turned as ``motion`` tells for each time."""
    with FrameReader(open_clip(SAMPLES / source)) as reader, av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=RATE)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, RATE)
        stream.options = {"preset": "ultrafast", "crf": "12"}
        for k in range(RATE * seconds):
            picture = reader.scaled(reader.clip.frame_at(from_s + k / RATE), *SIZE)
            turned = cv2.warpPerspective(picture, motion(k / RATE), SIZE, borderMode=cv2.BORDER_REPLICATE)
            frame = av.VideoFrame.from_ndarray(turned.astype(np.uint8), format="rgb24")
            frame.pts = k
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


@pytest.fixture(scope="module")
def tuesday(tmp_path_factory) -> Path:
    """A clip whose camera is knocked."""
    folder = tmp_path_factory.mktemp("film")
    return film(
        "winter-stand.mp4",
        folder / "tuesday.mp4",
        lambda s: turn(0.9, 0.4) if s > BUMP_S else np.eye(3),
        seconds=SECONDS,
    )


@pytest.fixture
def coach(qapp, tmp_path, tuesday):
    made = coach_at_work["Coach"](tmp_path)
    made.begin(tuesday, tmp_path / "team.logbook")
    made.wait(lambda: made.window.page.background.picture is not None, seconds=LOOKED_S)
    for name in landmarks(SHEET.court):
        if name in MARKS:
            made.click_film(*MARKS[name], SHIFT)
        else:
            made.key(Qt.Key.Key_K)
    assert made.workspace.view is not None
    yield made
    made.leave()


def book_of(coach):
    with Logbook.open(coach.folder / "team.logbook") as book:
        return book.serves(), book.views(), book.clips()


def compare(coach) -> None:
    coach.key(Qt.Key.Key_U, CTRL | SHIFT)


def open_film(coach, path):
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(path)
    coach.agree_to_practice()
    coach.wait(lambda: coach.workspace.clip is not None and coach.workspace.clip.path == path)


def asked(coach) -> str:
    coach.wait(lambda: coach.window.page.checking.question is not None, seconds=LOOKED_S)
    bar = coach.window.page.question
    assert bar.isVisible()
    return str(bar.words.text())


def landed(coach, frame: int, pixel):
    coach.step_to(frame)
    coach.click_film(*pixel)
    return next(serve for serve in book_of(coach)[0] if serve.id == coach.workspace.selection[0])


def test_after_a_knock_the_second_view_places_what_is_marked(coach):
    page = coach.window.page
    first_id = coach.workspace.view_id
    place_m = np.array([[1.5, -6.0]])
    (pixel,) = coach.workspace.view.project(place_m)
    coach.key(Qt.Key.Key_2, CTRL)
    early = landed(coach, 40, moved(turn(0.9, 0.4), pixel))
    assert np.hypot(early.landing_point.x_m - 1.5, early.landing_point.y_m + 6.0) > 0.2
    compare(coach)
    words = asked(coach)
    assert "The camera was moved at 0:03." in words
    assert ", turned a little. " in words
    coach.step_to(0)
    coach.click(page.question.show_it)
    assert coach.workspace.now_s == pytest.approx(BUMP_S + 0.3, abs=0.3)
    (shown_px,) = page.checking.proposed().project(place_m)
    assert shown_px == pytest.approx(moved(turn(0.9, 0.4), pixel), abs=1.5)
    coach.click(page.question.yes)
    assert not page.question.isVisible()

    late = landed(coach, 42, moved(turn(0.9, 0.4), pixel))
    assert (late.landing_point.x_m, late.landing_point.y_m) == pytest.approx((1.5, -6.0), abs=SHUTTER_M)
    before = landed(coach, 10, pixel)
    assert (before.landing_point.x_m, before.landing_point.y_m) == pytest.approx((1.5, -6.0), abs=SHUTTER_M)
    assert before.view_id == first_id
    assert late.view_id != first_id
    mended = next(serve for serve in book_of(coach)[0] if serve.id == early.id)
    assert mended.view_id == late.view_id
    assert mended.landing_point.x_m == pytest.approx(1.5, abs=SHUTTER_M)

    coach.step_to(42)
    compare(coach)
    coach.wait(lambda: coach.said[-1].startswith("Nothing new"), seconds=LOOKED_S)
    assert page.checking.question is None

    for _ in range(3):
        coach.key(Qt.Key.Key_Z, CTRL)
    serves, views, _ = book_of(coach)
    assert serves == [early]
    assert [view.id for view in views] == [first_id]


def test_last_weeks_place_is_known_again_and_taken_with_one_key(coach, tmp_path):
    first_id = coach.workspace.view_id
    thursday = film("winter-stand.mp4", tmp_path / "thursday.mp4", lambda s: turn(1.4), from_s=14.0)
    open_film(coach, thursday)
    assert coach.workspace.view is None
    assert ", turned a little. " in asked(coach)
    setup = coach.window.page.setup_pane
    assert setup.quality.text() == "Answer above. After a no, mark four landmarks."
    coach.key(Qt.Key.Key_Y, CTRL)
    assert "A click is good to" in setup.quality.text()
    view = cast("View", coach.workspace.view)
    places_m = np.array([place[:2] for place in landmarks(SHEET.court).values()])
    truth = [moved(turn(1.4), MARKS[name]) for name in landmarks(SHEET.court)]
    assert np.median(np.hypot(*(view.project(places_m) - truth).T)) < 1.5
    _, views, clips = book_of(coach)
    assert [clip.view_id for clip in clips] == [first_id, coach.workspace.view_id]
    assert len(views) == 2
    making = coach.window.page._making
    assert [making.free_name(name) for name in ("Camera 2", "Court 2")] == ["Camera 3", "Court 2"]
    compare(coach)
    coach.wait(lambda: coach.said[-1].startswith("The camera stood still all through"), seconds=LOOKED_S)
    assert coach.window.page.checking.question is None
    coach.key(Qt.Key.Key_Z, CTRL)
    _, views, clips = book_of(coach)
    assert [clip.view_id for clip in clips] == [first_id, None]
    assert len(views) == 1


def test_the_next_clip_of_the_evening_takes_the_view_without_a_question(coach, tmp_path):
    coach.key(Qt.Key.Key_2, CTRL)
    first_id = coach.workspace.view_id
    later = film("winter-stand.mp4", tmp_path / "tuesday-later.mp4", lambda s: np.eye(3), from_s=14.0)
    open_film(coach, later)
    assert coach.workspace.view is None
    coach.wait(lambda: coach.workspace.view is not None, seconds=LOOKED_S)
    assert coach.window.page.checking.question is None
    assert coach.window.step == "mark"
    assert coach.said[-1].startswith("Same place as another clip of this practice. ")
    _, _, clips = book_of(coach)
    assert [clip.view_id for clip in clips] == [first_id, first_id]
    coach.key(Qt.Key.Key_Z, CTRL)
    _, _, clips = book_of(coach)
    assert [clip.view_id for clip in clips] == [first_id, None]


def test_a_clip_that_begins_elsewhere_is_offered_what_holds_later(coach, tmp_path):
    first_id = coach.workspace.view_id
    wednesday = film(
        "winter-stand.mp4",
        tmp_path / "wednesday.mp4",
        lambda s: turn(1.4) if s > BUMP_S else turn(-45.0),
        from_s=14.0,
        seconds=SECONDS,
    )
    open_film(coach, wednesday)
    words = asked(coach)
    assert words.startswith("From 0:03.")
    assert ", turned a little. " in words
    assert "Before that, the lines do not fit" in words
    page = coach.window.page
    coach.click(page.question.show_it)
    assert coach.workspace.now_s == pytest.approx(BUMP_S + 0.3, abs=0.3)
    coach.key(Qt.Key.Key_Y, CTRL)
    assert coach.workspace.view_id not in (None, first_id)
    corner = landmarks(SHEET.court)["end-b/left"][:2]
    (shown_px,) = coach.workspace.view.project(np.array([corner]))
    assert shown_px == pytest.approx(moved(turn(1.4), MARKS["end-b/left"]), abs=2.5)
    coach.step_to(0)
    assert coach.workspace.view is None
    coach.key(Qt.Key.Key_Z, CTRL)
    _, views, clips = book_of(coach)
    assert [view.id for view in views] == [first_id]
    assert [clip.view_id for clip in clips] == [first_id, None]


def test_a_clip_in_a_swaying_hand_is_refused_with_a_sentence(coach, tmp_path):
    """The hand sways by a degree, faster than the film is looked through, so that no two looks agree."""
    first_id = coach.workspace.view_id
    in_hand = film(
        "winter-stand.mp4",
        tmp_path / "in-hand.mp4",
        lambda s: turn(1.0 * np.sin(1.9 * s), 0.5 * np.sin(1.3 * s + 1)),
        from_s=14.0,
        seconds=SWAYING_S,
    )
    open_film(coach, in_hand)
    words = asked(coach)
    assert words.startswith("The camera sways throughout in-hand.mp4: the court wanders by ")
    assert "No view holds. Film from a tripod, or lay the camera down." in words
    page = coach.window.page
    assert (page.question.yes.isVisible(), page.question.no.text()) == (False, "I see")
    coach.click(page.question.no)
    assert not page.question.isVisible()
    assert coach.workspace.view is None
    assert [clip.view_id for clip in book_of(coach)[2]] == [first_id, None]


def test_another_place_is_said_and_nothing_is_taken_over(coach, tmp_path):
    elsewhere = film("autumn-gallery.mp4", tmp_path / "elsewhere.mp4", lambda s: np.eye(3))
    coach.key(Qt.Key.Key_I, CTRL)
    coach.answer_file(elsewhere)
    coach.agree_to_practice()
    coach.wait(lambda: coach.said[-1].startswith("This is not the place"), seconds=LOOKED_S)
    assert coach.workspace.view is None
    assert coach.window.page.checking.question is None


def test_a_camera_moved_unseen_gets_a_new_view_by_hand(coach):
    first_id = coach.workspace.view_id
    coach.step_to(26)
    coach.key(Qt.Key.Key_M, CTRL | SHIFT)
    assert coach.workspace.view is None
    coach.wait(lambda: coach.window.page.background.picture is not None, seconds=LOOKED_S)
    for name in list(landmarks(SHEET.court))[:4]:
        coach.click_film(*moved(turn(0.9, 0.4), MARKS[name]), SHIFT)
    second_id = coach.workspace.view_id
    assert second_id not in (None, first_id)
    coach.step_to(10)
    assert coach.workspace.view_id == first_id
    coach.step_to(30)
    assert coach.workspace.view_id == second_id


def test_of_two_views_of_one_place_the_nearer_is_taken(monkeypatch):
    """After a knock the newest view is of the knocked camera; a clip from where it stood before is the older one's.

    Only the nearest is held against the whole clip, which takes long.
    """
    shifts_px = {"knocked": 15.0, "elsewhere": None, "before": 0.0, "never asked": 0.0}
    stored = [StoredView(id=name, gym_id="g", name=name, made_on="2026-11-03", document=name) for name in shifts_px]

    whole = []

    def at_once(name, *_others):
        assert name != "never asked" or shifts_px[name]
        return float("inf") if shifts_px[name] is None else shifts_px[name]

    def checked(name, *_others):
        whole.append(name)
        shift_px = shifts_px[name]
        first = ClipSegment(0.0, 9.0, 0.0, shift_px or 0.0, name, np.zeros((2, 2), dtype=np.uint8))
        return ClipCheck(shift_px is not None, (first,), ())

    monkeypatch.setattr(view_comparing, "view_from_text", lambda document: document)
    monkeypatch.setattr(view_comparing, "reference_of", lambda document: None)
    monkeypatch.setattr(view_comparing, "check_clip", checked)
    monkeypatch.setattr(view_comparing, "shift_at_once_px", at_once)
    clip = cast("Clip", None)
    found = view_comparing.compared(stored, clip, False, lambda done, total: None)
    assert found is not None
    assert found[0].name == "before"
    shifts_px["before"] = shifts_px["never asked"] = 20.0
    found = view_comparing.compared(stored, clip, False, lambda done, total: None)
    assert found is not None
    assert found[0].name == "knocked"
    assert whole == ["before", "knocked"]

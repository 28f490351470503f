"""Clips of our own whose camera is turned by known angles: bumped once, swaying, another place, none."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import load_view, read_marks, save_view
from serve_marker.court.dimensions import Floats, landmarks
from serve_marker.errors import UserError
from serve_marker.marking.view_check import ClipCheck, answer_of, check_clip, shift_at_once_px
from serve_marker.marking.view_reference import reference_of, with_reference
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

SAMPLES = Path(__file__).resolve().parents[1] / "sample_clips"
SIZE = (960, 540)
"""The sample clips are filmed again at three quarters of their size."""
SHARE = 960 / 1280
FOCAL_PX = 820.0 * SHARE
"""winter-stand's camera, from its truth file."""
RATE = 8
SECONDS = 6
BUMP_S = 3.2


def turn(yaw_deg: float, pitch_deg: float, roll_deg: float) -> Floats:
    """How pixels move when the camera turns about its own place: K R K^-1."""
    rotation, _ = cv2.Rodrigues(np.radians([pitch_deg, yaw_deg, roll_deg]))
    lens = np.array([[FOCAL_PX, 0, (SIZE[0] - 1) / 2], [0, FOCAL_PX, (SIZE[1] - 1) / 2], [0, 0, 1]])
    return np.asarray(lens @ rotation @ np.linalg.inv(lens))


def pictures_of(source: str, seconds: int) -> list[NDArray[np.uint8]]:
    with FrameReader(open_clip(SAMPLES / source)) as reader:
        return [reader.scaled(reader.clip.frame_at(k / RATE), *SIZE) for k in range(RATE * seconds)]


def film(path: Path, pictures: list[NDArray[np.uint8]], motion: Callable[[float], Floats]) -> Path:
    with av.open(str(path), "w") as out:
        stream: Any = out.add_stream("libx264", rate=RATE)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, RATE)
        stream.options = {"preset": "ultrafast", "crf": "23"}
        for k, picture in enumerate(pictures):
            moved = cv2.warpPerspective(picture, motion(k / RATE), SIZE, borderMode=cv2.BORDER_REPLICATE)
            frame = av.VideoFrame.from_ndarray(np.asarray(moved, dtype=np.uint8), format="rgb24")
            frame.pts = k
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


@pytest.fixture(scope="module")
def pictures() -> list[NDArray[np.uint8]]:
    return pictures_of("winter-stand.mp4", SECONDS)


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("film") / "elsewhere.mp4"
    return film(path, pictures_of("autumn-gallery.mp4", 2), lambda time_s: np.eye(3))


@pytest.fixture(scope="module")
def view() -> View:
    sheet = read_marks(SAMPLES / "winter-stand.marks.json")
    marks = {name: ((x + 0.5) * SHARE - 0.5, (y + 0.5) * SHARE - 0.5) for name, (x, y) in sheet.marks.items()}
    return fit_view(marks, sheet.court, SIZE, sheet.net_height_m).view


@pytest.fixture
def filmed(tmp_path: Path, pictures: list[NDArray[np.uint8]]) -> Callable[[Callable[[float], Floats]], Path]:
    return lambda motion: film(tmp_path / "moved.mp4", pictures, motion)


def checked(path: Path, view: View) -> ClipCheck:
    return check_clip(view, open_clip(path))


def test_a_bump_is_found_and_the_lines_follow(
    filmed: Callable[[Callable[[float], Floats]], Path], view: View, tmp_path: Path
) -> None:
    bump = turn(1.1, -0.6, 0.4)

    found = checked(filmed(lambda time_s: bump if time_s >= BUMP_S else np.eye(3)), view)

    assert found.same_place
    assert [segment.view is not None for segment in found.segments] == [True, True]
    before, after = found.segments
    assert before.view is view
    assert after.from_s == pytest.approx(BUMP_S, abs=0.2)
    assert after.turned_deg == pytest.approx(np.linalg.norm([1.1, -0.6, 0.4]), abs=0.2)
    assert after.view is not None
    floor = np.array([place[:2] for place in landmarks(view.court).values()])
    pixels = view.project(floor)
    shown = ((pixels > 40) & (pixels < np.array(SIZE) - 40)).all(axis=1)
    seen_after = cv2.perspectiveTransform(pixels[shown][None], bump)[0]
    located, _ = after.view.locate(seen_after)
    off_m = np.hypot(*(located - floor[shown]).T)
    assert np.median(off_m) < 0.06

    answer = answer_of(found, tmp_path / "view.json", tmp_path / "out")

    assert [row["view"] for row in answer["stretches"]] == [
        str(tmp_path / "view.json"),
        str(tmp_path / "out" / "view-2.json"),
    ]
    written = Path(answer["stretches"][1]["view"])
    assert load_view(written).homography == pytest.approx(after.view.homography)
    assert reference_of(written.read_text(encoding="utf-8")) is not None
    assert "0:03." in answer["warnings"][0]


def test_a_still_clip_has_one_stretch(filmed: Callable[[Callable[[float], Floats]], Path], view: View) -> None:
    found = checked(filmed(lambda time_s: np.eye(3)), view)

    assert (found.same_place, len(found.segments), found.warnings) == (True, 1, ())


def test_a_hand_on_the_camera_at_first_does_not_hide_the_place(
    filmed: Callable[[Callable[[float], Floats]], Path], view: View
) -> None:
    """The film begins while the camera is still being let go of: a degree off for 0.7 s."""
    found = checked(filmed(lambda time_s: turn(1.0, -0.5, 0.0) if time_s < 0.7 else np.eye(3)), view)

    assert found.same_place
    held, rest = found.segments
    assert rest.from_s == pytest.approx(0.7, abs=0.2)
    assert (rest.view is view, rest.shifted_px) == (True, 0.0)
    assert held.view is None or held.turned_deg == pytest.approx(np.hypot(1.0, 0.5), abs=0.2)
    assert "0:00." in found.warnings[0]


@pytest.mark.parametrize("first", [True, False], ids=["the beginning", "the rest"])
def test_a_part_filmed_elsewhere_has_no_view(
    filmed: Callable[[Callable[[float], Floats]], Path], view: View, first: bool
) -> None:
    """The camera looks at the wall beside the court before it is turned to the court, or after."""
    wall = turn(-45.0, 0.0, 0.0)
    found = checked(filmed(lambda time_s: wall if (time_s < BUMP_S) == first else np.eye(3)), view)

    assert found.same_place
    assert [segment.view is view for segment in found.segments] == [not first, first]
    assert found.segments[1].from_s == pytest.approx(BUMP_S, abs=0.2)
    part = "beginning" if first else "rest"
    assert found.warnings == (
        f"The camera moved at 0:{found.segments[1].from_s:04.1f}, and the lines could not be re-aligned. "
        f"Make a new view for the {part} of the clip.",
    )


def test_sway_is_refused_with_a_sentence(filmed: Callable[[Callable[[float], Floats]], Path], view: View) -> None:
    found = checked(filmed(lambda time_s: turn(0.7 * np.sin(1.9 * time_s), 0.4 * np.sin(1.3 * time_s + 1), 0.0)), view)

    assert [segment.view for segment in found.segments] == [None]
    assert any(words in found.warnings[-1] for words in ("sways throughout", "Make a new view"))


def test_with_its_picture_a_view_follows_a_camera_put_back_a_little_off(
    filmed: Callable[[Callable[[float], Floats]], Path], view: View, pictures: list[NDArray[np.uint8]]
) -> None:
    off = turn(-0.9, 0.5, 0.0)

    found = check_clip(view, open_clip(filmed(lambda time_s: off)), reference_of(with_reference("{}", pictures[0])))

    (whole,) = found.segments
    assert found.same_place
    assert whole.view is not None
    assert whole.turned_deg == pytest.approx(np.hypot(0.9, 0.5), abs=0.2)
    assert "Since the view was made the camera turned" in found.warnings[0]
    floor = np.array([(-4.5, -3.0), (4.5, -3.0), (4.5, 3.0), (-4.5, 3.0), (0.0, 6.0)])
    moved = cv2.perspectiveTransform(view.project(floor)[None], off)[0]
    assert np.hypot(*(whole.view.project(floor) - moved).T).max() < 1.0


@pytest.mark.parametrize("with_picture", [True, False])
def test_another_place_is_told(
    view: View, pictures: list[NDArray[np.uint8]], elsewhere: Path, with_picture: bool
) -> None:
    reference = reference_of(with_reference("{}", pictures[0])) if with_picture else None

    found = check_clip(view, open_clip(elsewhere), reference)

    assert not found.same_place
    assert found.segments[0].view is None
    assert "Make a new view" in found.warnings[0]


def test_how_far_the_court_has_shifted_is_told_at_once(
    filmed: Callable[[Callable[[float], Floats]], Path],
    view: View,
    pictures: list[NDArray[np.uint8]],
    elsewhere: Path,
) -> None:
    """A turn by an angle a shifts the middle of a picture by f tan a."""
    reference = reference_of(with_reference("{}", pictures[0]))
    turned_deg = 0.9
    shifted = open_clip(filmed(lambda time_s: turn(turned_deg, 0.0, 0.0)))

    told_px = shift_at_once_px(view, shifted, reference)

    assert told_px == pytest.approx(FOCAL_PX * np.tan(np.radians(turned_deg)), rel=0.3)
    assert shift_at_once_px(view, open_clip(elsewhere), reference) == float("inf")


def test_a_clip_of_another_size_is_refused(view: View) -> None:
    with pytest.raises(UserError, match=r"Make a new view\."):
        check_clip(view, open_clip(SAMPLES / "winter-stand.mp4"))


def test_a_picture_kept_with_a_view_survives_the_file(view: View, tmp_path: Path) -> None:
    with FrameReader(open_clip(SAMPLES / "winter-stand.mp4")) as reader:
        picture = reader.frame(0)
    path = tmp_path / "view.json"
    save_view(view, path)
    text = path.read_text(encoding="utf-8")

    assert reference_of(text) is None
    kept = reference_of(with_reference(text, picture))

    assert kept is not None
    assert kept.shape == (720, 1280)
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    assert np.abs(kept.astype(float) - grey).mean() < 3
    with pytest.raises(UserError, match="damaged"):
        reference_of(json.dumps({"reference": "no picture"}))

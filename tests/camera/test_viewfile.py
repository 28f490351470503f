"""MARKS.json and VIEW.json: what goes in comes out, and wrong files are told in one sentence."""

from __future__ import annotations

import json
import os
from dataclasses import replace

import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import load_view, read_marks, save_view, view_from_text, view_to_text
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.errors import UserError

COURT = court_named("indoor")


@pytest.fixture
def view(camera_named):
    camera = camera_named("stand")
    return fit_view(camera.marks(landmarks(COURT)), COURT, camera.size, 2.24, {"left": ((1.0, 2.0),)}).view


@pytest.fixture
def good(camera_named):
    camera = camera_named("stand")
    marks = {name: list(pixel) for name, pixel in camera.marks(landmarks(COURT)).items()}
    return {"court": "indoor", "image_size": list(camera.size), "net_height_m": 2.24, "marks": marks}


def test_a_view_survives_its_file(view, tmp_path):
    save_view(view, tmp_path / "view.json")
    again = load_view(tmp_path / "view.json")
    np.testing.assert_array_equal(again.homography, view.homography)
    np.testing.assert_array_equal(again.homography_cov, view.homography_cov)
    for name in ("court", "image_size", "net_height_m", "marks", "traces", "rms_px", "misfit_sd_px"):
        assert getattr(again, name) == getattr(view, name)
    assert again.camera_position_m == view.camera_position_m
    assert view_to_text(again) == view_to_text(view)
    assert [path.name for path in tmp_path.iterdir()] == ["view.json"]


def test_where_landmarks_were_clicked_survives(view, tmp_path):
    """A view without clicks is written as ever, and reads as before."""
    (name, (x_px, y_px)), *_ = view.marks.items()
    moved = replace(view, clicked={name: (x_px + 1.5, y_px - 0.25)}, crossing_misfit_sd_px=0.4)
    save_view(moved, tmp_path / "view.json")
    again = load_view(tmp_path / "view.json")
    assert (again.clicked, again.crossing_misfit_sd_px) == (moved.clicked, 0.4)
    assert [json.loads(view_to_text(one))["version"] for one in (view, moved)] == [2, 3]
    assert view_from_text(view_to_text(view)).clicked == {}


def test_marks_may_say_where_they_were_clicked(good, tmp_path):
    name = next(iter(good["marks"]))
    path = tmp_path / "marks.json"
    path.write_text(json.dumps(good | {"clicked": {name: [3, 4.5]}}))
    assert read_marks(path).clicked == {name: (3.0, 4.5)}
    path.write_text(json.dumps(good | {"clicked": {"here": [3, 4]}}))
    with pytest.raises(UserError, match="is clicked but no mark"):
        read_marks(path)


def test_a_view_without_a_camera_place_survives(view):
    assert view_from_text(view_to_text(replace(view, camera_position_m=None))).camera_position_m is None


def test_newer_version_is_refused(view):
    plain = json.loads(view_to_text(view)) | {"version": 4}
    with pytest.raises(UserError, match="newer Serve Marker"):
        view_from_text(json.dumps(plain))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"version": None}, "not a view file"),
        ({"version": True}, "not a view file"),
        ({"homography": [[1, 2], [3, 4]]}, "homography"),
        ({"homography": "x"}, "homography"),
        ({"homography_cov": [[1.0] * 9] * 8 + [[None] * 9]}, "homography_cov"),
        ({"image_size": [0, 10]}, "image_size"),
        ({"image_size": [1920.5, 10]}, "image_size"),
        ({"rms_px": -1}, "rms_px"),
        ({"court": 3}, "court"),
        ({"camera_position_m": [1, 2]}, "camera_position_m"),
        ({"marks": []}, "marks"),
        ({"homography": [[1e308, 0, 0]] * 3}, "1e.308 is no number of a film"),
        ({"focal_px": 10**400}, "is no number of a film"),
    ],
)
def test_damaged_views(view, change, words):
    with pytest.raises(UserError, match=words):
        view_from_text(json.dumps(json.loads(view_to_text(view)) | change))


@pytest.mark.parametrize("text", ["[" * 100_000, '{"marks":' * 100_000 + "1" + "}" * 100_000])
def test_deep_nesting_is_one_sentence(tmp_path, text):
    path = tmp_path / "marks.json"
    path.write_text(text)
    for read in (read_marks, load_view):
        with pytest.raises(UserError, match=r"^marks\.json cannot be used: nested too deeply; check the file\.$"):
            read(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "view.json")
    with pytest.raises(UserError, match=r"view\.json is not a file; check the name"):
        load_view(tmp_path / "view.json")


def test_marks_file(good, tmp_path):
    path = tmp_path / "marks.json"
    (left, right) = (np.array(good["marks"][f"end-b/{side}"]) for side in ("left", "right"))
    trace = [tuple(left + share * (right - left)) for share in (0.25, 0.5)]
    path.write_text(json.dumps(good | {"traces": {"end-b": trace}}))
    marks = read_marks(path)
    assert marks.court == COURT
    assert marks.image_size == (1920, 1080)
    assert marks.traces == {"end-b": tuple(trace)}
    assert fit_view(marks.marks, marks.court, marks.image_size, marks.net_height_m, marks.traces).warnings == []


def test_marks_file_with_a_court_of_its_own(good, tmp_path):
    path = tmp_path / "marks.json"
    path.write_text(json.dumps(good | {"court": {"length_m": 14, "width_m": 7}}))
    assert read_marks(path).court.half_width_m == 3.5


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"court": "tennis"}, "'tennis'.*indoor"),
        ({"court": {"length_m": "long", "width_m": 9}}, "length_m"),
        ({"court": None}, "court"),
        ({"image_size": "big"}, "image_size"),
        ({"net_height_m": None}, "net_height_m"),
        ({"net_height_m": 22.4}, "net_height_m"),
        ({"net_height_m": True}, "net_height_m"),
        ({"marks": [[1, 2]]}, "marks"),
        ({"marks": {"end-a/left": [1]}}, "end-a/left"),
        ({"marks": {"end-a/left": ["1", 2]}}, "end-a/left"),
        (
            {"marks": {"end-a/left": [float("nan"), 2]}},
            r"marks\.json cannot be used: NaN is no number of a film; check",
        ),
        ({"marks": {"end-a/left": [1e308, 2]}}, r"marks\.json cannot be used: 1e\+308 is no number of a film"),
        ({"marks": {"end-a/left": [10**400, 2]}}, r"marks\.json cannot be used: 1000000000000"),
        ({"image_size": [10**300, 10]}, r"marks\.json cannot be used"),
        ({"traces": {"end-c": []}}, "end-c"),
        ({"traces": {"left": [[-50, 2]]}}, "leaves the picture"),
        ({"traces": {"left": 5}}, "left"),
    ],
)
def test_wrong_marks_files(good, change, words, tmp_path):
    path = tmp_path / "marks.json"
    path.write_text(json.dumps(good | change))
    with pytest.raises(UserError, match=words) as refusal:
        read_marks(path)
    assert str(refusal.value).endswith(".")


@pytest.mark.parametrize("content", [b"", b"{", b"[1, 2]", b"\xff\xfe\x00", b"[" * 100000])
def test_no_json_at_all(content, tmp_path):
    path = tmp_path / "marks.json"
    path.write_bytes(content)
    with pytest.raises(UserError, match=r"marks\.json"):
        read_marks(path)


def test_missing_file_and_folder(view, tmp_path):
    with pytest.raises(UserError, match="check the name"):
        read_marks(tmp_path / "none.json")
    with pytest.raises(UserError, match="check the name"):
        load_view(tmp_path)
    with pytest.raises(UserError, match="another place"):
        save_view(view, tmp_path / "none" / "view.json")

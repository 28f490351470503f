"""The shipped sample clips against their own truth, read with PyAV and projected with OpenCV."""

from __future__ import annotations

import ast
import csv
import json
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

FOLDER = Path(__file__).resolve().parents[1] / "sample_clips"
CLIPS = ("autumn-gallery", "winter-stand")


def truth_of(clip: str) -> dict[str, Any]:
    truth: dict[str, Any] = json.loads((FOLDER / f"{clip}.truth.json").read_text(encoding="utf-8"))
    return truth


def packets_of(clip: str) -> tuple[np.ndarray, list[int]]:
    """Presentation times [s] from the first frame, in order, and the presentation indices of key frames."""
    with av.open(str(FOLDER / f"{clip}.mp4")) as container:
        stream = container.streams.video[0]
        packets = [(packet.pts, packet.is_keyframe) for packet in container.demux(stream) if packet.pts is not None]
        base = stream.time_base
    assert base is not None
    packets.sort()
    times = np.array([float((pts - packets[0][0]) * base) for pts, _ in packets])
    return times, [k for k, (_, key) in enumerate(packets) if key]


def seen_at(truth: dict[str, Any], points_m: list[list[float]]) -> np.ndarray:
    camera = truth["camera"]
    turn, _ = cv2.Rodrigues(np.array(camera["R"]))
    pixels, _ = cv2.projectPoints(np.array(points_m), turn, np.array(camera["t"]), np.array(camera["K"]), None)
    return np.asarray(pixels).reshape(-1, 2)


@pytest.mark.parametrize("clip", CLIPS)
def test_times_are_those_of_the_file(clip: str) -> None:
    times, _ = packets_of(clip)
    np.testing.assert_allclose(times, truth_of(clip)["times_s"], rtol=0, atol=2e-5)


def test_every_frame_decodes_and_has_the_stated_size() -> None:
    truth = truth_of("autumn-gallery")
    with av.open(str(FOLDER / truth["file"])) as container:
        sizes = Counter((frame.width, frame.height) for frame in container.decode(video=0))
    assert sizes == {tuple(truth["image_size"]): len(truth["times_s"])}


def test_both_files_together_stay_small() -> None:
    assert sum((FOLDER / f"{clip}.mp4").stat().st_size for clip in CLIPS) < 6_000_000


def test_steady_clip_has_far_key_frames_and_b_frames() -> None:
    times, keys = packets_of("autumn-gallery")
    assert keys == list(range(0, len(times), 250))
    np.testing.assert_allclose(np.diff(times), 1 / 30, atol=1e-6)
    with av.open(str(FOLDER / "autumn-gallery.mp4")) as container:
        stored = [packet.pts for packet in container.demux(video=0) if packet.pts is not None]
    assert stored != sorted(stored), "with B-frames packets are not stored in the order they are shown"


def test_uneven_clip_jitters_and_loses_runs() -> None:
    steps = np.diff(packets_of("winter-stand")[0])
    assert 0.0155 < np.median(steps) < 0.0178
    assert steps[steps < 0.025].std() > 0.0004
    assert (steps > 0.045).sum() >= 5
    assert steps.max() < 0.08


@pytest.mark.parametrize("clip", CLIPS)
def test_enough_serves_by_enough_servers_with_mixed_ends(clip: str) -> None:
    serves = truth_of(clip)["serves"]
    by_server = Counter(serve["server"] for serve in serves)
    assert len(serves) >= 8
    assert len([number for number, count in by_server.items() if count >= 2]) >= 2
    outcomes = Counter(serve["outcome"] for serve in serves)
    assert outcomes["net"] == 1
    assert outcomes["received" if clip == "winter-stand" else "target"] >= 1
    margins = [serve["margin_m"] for serve in serves if serve["in_out"] == "out"]
    assert any(-0.3 < margin < -0.065 for margin in margins)
    assert any(margin < -0.8 for margin in margins)


def test_the_practices_are_a_month_apart() -> None:
    first, second = (date.fromisoformat(truth_of(clip)["date"]) for clip in CLIPS)
    assert 25 <= (second - first).days <= 40


@pytest.mark.parametrize("clip", CLIPS)
def test_landings_and_landmarks_project_to_their_pixels(clip: str) -> None:
    truth = truth_of(clip)
    landed = [serve for serve in truth["serves"] if serve["landing_px"]]
    places = [[*serve["landing_xy_m"], 0.0] for serve in landed] + [
        [*serve["contact_xyz_m"][:2], 0.0] for serve in landed
    ]
    pixels = [serve["landing_px"] for serve in landed] + [serve["contact_floor_px"] for serve in landed]
    np.testing.assert_allclose(seen_at(truth, places), pixels, atol=0.05)
    # FIVB Official Volleyball Rules 2025-2028: 1.1 (18 x 9 m), 1.3.4 (attack line 3 m), 2.1.1 (net 2.24 m women)
    lines = {"end-a": -9.0, "attack-a": -3.0, "centre": 0.0, "attack-b": 3.0, "end-b": 9.0}
    corners = [name.split("/") for name in truth["landmarks_px"]]
    floor = [[-4.5 if side == "left" else 4.5, lines[line], 0.0] for line, side in corners]
    np.testing.assert_allclose(seen_at(truth, floor), list(truth["landmarks_px"].values()), atol=0.01)
    tops = [[-4.5 if name.endswith("left") else 4.5, 0.0, 2.24] for name in truth["net_top_px"]]
    np.testing.assert_allclose(seen_at(truth, tops), list(truth["net_top_px"].values()), atol=0.01)
    inside = np.array(pixels + list(truth["landmarks_px"].values()))
    assert (inside >= 0).all()
    assert (inside < truth["image_size"]).all()


@pytest.mark.parametrize("clip", CLIPS)
def test_serves_agree_with_themselves(clip: str) -> None:
    truth = truth_of(clip)
    times = np.array(truth["times_s"])
    for serve in truth["serves"]:
        assert serve["contact_frame"] == np.argmin(np.abs(times - serve["contact_time_s"]))
        if serve["landing_px"] is None:
            continue
        assert serve["landing_frame"] == np.argmin(np.abs(times - serve["landing_time_s"]))
        x_m, y_m = serve["landing_xy_m"]
        assert serve["half_xy_m"] == pytest.approx([4.5 - x_m, -y_m], abs=2e-6)
        margin = min(4.5 - abs(x_m), 9 + y_m)
        assert serve["margin_m"] == pytest.approx(margin, abs=1e-4)
        assert serve["in_out"] == ("in" if margin >= -0.065 else "out")
        way_m = np.hypot(x_m - serve["contact_xyz_m"][0], y_m - serve["contact_xyz_m"][1])
        duration_s = serve["landing_time_s"] - serve["contact_time_s"]
        assert serve["pace_mps"] == pytest.approx(way_m / duration_s, abs=1e-3)
        assert 6 < serve["pace_mps"] < 28
        frames, _, rows_px = np.array(serve["ball_px"]).T
        assert list(frames) == list(range(serve["landing_frame"] - 3, serve["landing_frame"] + 4))
        assert rows_px[0] < serve["landing_px"][1]


@pytest.mark.parametrize("clip", CLIPS)
def test_marks_are_the_truth_to_a_tenth_of_a_pixel(clip: str) -> None:
    truth = truth_of(clip)
    marks = json.loads((FOLDER / f"{clip}.marks.json").read_text(encoding="utf-8"))
    assert marks["image_size"] == truth["image_size"]
    assert len(marks["marks"]) >= 6
    for name, pixel in marks["marks"].items():
        assert pixel == pytest.approx(truth["landmarks_px"][name], abs=0.0501)
    with (FOLDER / f"{clip}.marks.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(truth["serves"])
    for row, serve in zip(rows, truth["serves"], strict=True):
        assert (row["server"], row["aim"], row["outcome"]) == (serve["name"], serve["aim"], serve["outcome"])
        assert int(row["contact_frame"]) == serve["contact_frame"]
        if serve["landing_px"] is None:
            assert row["landing_frame"] == row["landing_x_px"] == row["landing_y_px"] == ""
        else:
            assert int(row["landing_frame"]) == serve["landing_frame"]
            clicked = [float(row["landing_x_px"]), float(row["landing_y_px"])]
            assert clicked == pytest.approx(serve["landing_px"], abs=0.0501)


@pytest.mark.parametrize("clip", CLIPS)
def test_the_ball_is_to_be_seen_where_it_lands(clip: str) -> None:
    truth = truth_of(clip)
    first = next(serve for serve in truth["serves"] if serve["landing_px"])
    wanted = {first["landing_frame"], first["landing_frame"] - 45}
    pictures = []
    with av.open(str(FOLDER / truth["file"])) as container:
        for k, frame in enumerate(container.decode(video=0)):
            if k in wanted:
                pictures.append(frame.to_ndarray(format="rgb24").astype(float))
            if k > max(wanted):
                break
    x_px, y_px = np.round(first["landing_px"]).astype(int)
    ball = (slice(y_px - 14, y_px - 2), slice(x_px - 6, x_px + 6))
    changed = np.abs(pictures[1] - pictures[0]).max(axis=-1)
    assert changed[ball].mean() > 40
    assert changed[600:700, 1150:1270].mean() < 12


def test_render_scripts_stand_alone() -> None:
    allowed = {
        "__future__",
        "collections",
        "csv",
        "dataclasses",
        "fractions",
        "json",
        "pathlib",
        "sys",
        "time",
        "typing",
    }
    allowed |= {"av", "cv2", "numpy", "sample_clips"}
    scripts = sorted(FOLDER.glob("*.py"))
    assert len(scripts) >= 8
    for script in scripts:
        source = script.read_text(encoding="utf-8")
        assert source.count("\n") < 400
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            else:
                continue
            assert {name.split(".")[0] for name in names} <= allowed, f"{script.name} imports {names}"

"""What `clip info` tells, and the search for damage in a process of its own."""

from __future__ import annotations

import json
import runpy
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.damage_process import read_search_line, search_command

torture = runpy.run_path(str(Path(__file__).with_name("torture.py")))
KEYS = {"x264-params": "keyint=10:min-keyint=10:scenecut=0"}


@pytest.fixture
def damaged(tmp_path: Path, make_clip: Callable[..., Path]) -> Path:
    whole = make_clip(tmp_path / "serves.mp4", 30, group=10, options=KEYS, sound=True)
    return Path(torture["spoilt_at"](whole, 13))


def told(*words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "serve_marker", "clip", "info", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=True)


def test_json_holds_the_contract_and_everything_else(damaged: Path) -> None:
    answer = json.loads(told(damaged, "--json").stdout)
    contract = {"frames", "duration_s", "width", "height", "rotation_deg", "codec", "variable_rate", "keyframes"}
    assert contract <= set(answer)
    assert (answer["frames"], answer["keyframes"], answer["sound"], answer["mirrored"]) == (30, 3, True, False)
    assert (answer["filmed_at_fps"], answer["high_dynamic_range"]) == (None, False)
    assert answer["shown_fps"] == pytest.approx(30, rel=0.01)
    assert answer["damaged"] == [{"first": 13, "last": 19, "why": "packets are damaged"}]
    assert "serves.mp4 is damaged at frames 13-19" in answer["warnings"][-1]


def test_words_say_the_same_and_progress_goes_to_stderr(damaged: Path) -> None:
    done = told(damaged)
    assert "damaged: first 13, last 19" in done.stdout
    assert "sound: yes" in done.stdout
    assert "search for damage: " in done.stderr
    assert "damaged: none" in told(damaged, "--quick").stdout


def test_hdr_hidden_frames_and_late_starts_are_told(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    hdr = make_clip(tmp_path / "hdr.mov", 5, codec="libx265", pixel_format="yuv420p10le", options=torture["HDR"])
    assert open_clip(hdr).high_dynamic_range
    late = open_clip(make_clip(tmp_path / "late.mkv", stamps=[1200 + 20 * k for k in range(5)]))
    assert late.starts_s == pytest.approx(2.0)
    trimmed = open_clip(torture["trimmed"](make_clip(tmp_path / "t.mp4", 30, options={"sc_threshold": "0"}), 17))
    assert (trimmed.hidden_frames, trimmed.frame_count) == (5, 13)


def search(path: Path, table: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(search_command(path, table), capture_output=True, text=True, check=False)


def test_the_search_apart_finds_the_same_and_tells_how_far_it_is(damaged: Path, tmp_path: Path) -> None:
    *parts, found = map(read_search_line, search(damaged, tmp_path / "kept.times").stdout.splitlines())
    assert found == scan_damage(open_clip(damaged))
    assert (tmp_path / "kept.times").exists()
    assert all(isinstance(part, int) and 0 <= part <= 1000 for part in parts)


def test_the_search_apart_of_a_vanished_clip_ends_with_a_sentence(damaged: Path) -> None:
    damaged.unlink()
    done = search(damaged)
    assert done.returncode == 1
    assert done.stderr.startswith("serves.mp4 is not there")
    assert done.stdout.splitlines() in ([], ["0"])

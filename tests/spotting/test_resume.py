"""Work broken off goes on where it was, and tells the same; several clips in one call."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from serve_marker.camera.view.viewfile import save_view, view_to_text
from serve_marker.cli import app
from serve_marker.logbook.records import Mark, Serve
from serve_marker.spotting import spot as spotting
from serve_marker.spotting.candidates import frames_looked_at
from serve_marker.spotting.confidence import NO_TOSS, Doubt, confidence_of
from serve_marker.spotting.found_so_far import FoundSoFar, ProgressFile
from serve_marker.spotting.proposals import Proposal
from serve_marker.spotting.spot import spot
from serve_marker.video.clip import open_clip
from serve_marker.video.progress import Cancelled
from tests.spotting.films import beginning_of_gallery, gallery_view

FRAMES = 170


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return beginning_of_gallery(tmp_path_factory.mktemp("film") / "gallery.mp4", FRAMES)


def shorten_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks so short that the film has two."""
    monkeypatch.setattr(spotting, "BLOCK_S", 4.6)
    monkeypatch.setattr(spotting, "OVERLAP_S", 3.6)
    monkeypatch.setattr(spotting, "BORDER_S", 0.5)


def rows(proposals: list[Proposal]) -> list[dict[str, object]]:
    return [one.to_dict() for one in proposals]


def test_work_broken_off_between_blocks_goes_on_and_tells_the_same(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shorten_blocks(monkeypatch)
    clip, view, kept_in = open_clip(film), gallery_view(), tmp_path / "found.json.part"
    told: list[Proposal] = []
    whole = spot(clip, view, on_proposal=told.append)

    with pytest.raises(Cancelled):
        spot(clip, view, cancelled=kept_in.exists, kept_in=kept_in)
    kept = ProgressFile(kept_in, clip, view).read()
    again = spot(clip, view, kept_in=kept_in)

    assert kept.from_frame > 0
    assert not kept.is_all
    assert len(whole) == 2
    assert rows(again) == rows(whole)
    assert {one.contact_s for one in whole} <= {one.contact_s for one in told}
    assert ProgressFile(kept_in, clip, view).read().is_all


def test_what_was_found_of_another_view_or_is_cut_off_does_not_count(film: Path, tmp_path: Path) -> None:
    clip, view, kept_in = open_clip(film), gallery_view(), tmp_path / "found.part"
    doubt = Doubt("the toss is not seen", NO_TOSS)
    ends = np.array([0.1, -7.0]), np.eye(2) * 0.01
    ball = Mark(2.2, (310.5, 402.0), on_ball=True)
    marked = Serve(
        id="", clip_id="", landing=ball, contact=Mark(1.0, None), film_marks=(ball, replace(ball, time_s=2.3))
    )
    flight_m = np.array([[0.0, 9.3, 2.4], [0.1, -7.0, 0.1]])
    sure = confidence_of([doubt])
    one = Proposal(1.0, 2.2, *ends, "a", "floor", 13.0, float("nan"), sure, (doubt,), flight_m, view, marked)
    kept = ProgressFile(kept_in, clip, view)
    kept.write(FoundSoFar(0, 90, (one,)))

    (same,) = kept.read().proposals
    assert str(same.to_dict()) == str(one.to_dict())
    assert same.marked == one.marked
    assert same.flight_m == pytest.approx(one.flight_m)
    assert view_to_text(same.view) == view_to_text(one.view)
    assert kept.read().from_frame == 90
    assert ProgressFile(kept_in, clip, replace(view, rms_px=9.0)).read() == FoundSoFar()
    kept_in.write_text(kept_in.read_text(encoding="utf-8")[:-20], encoding="utf-8")
    assert kept.read() == FoundSoFar()
    assert [path.name for path in tmp_path.iterdir()] == ["found.part"]


def test_a_run_killed_leaves_no_half_written_file(film: Path, tmp_path: Path) -> None:
    view, out = tmp_path / "view.json", tmp_path / "found.json"
    save_view(gallery_view(), view)
    for sent in (signal.SIGINT, signal.SIGKILL):
        run = subprocess.Popen(
            [sys.executable, "-m", "serve_marker", "spot", str(film), "--view", str(view), "-o", str(out)],
            stderr=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
        )
        assert run.stderr is not None
        os.read(run.stderr.fileno(), 1)
        time.sleep(0.2)
        run.send_signal(sent)
        run.communicate()
        assert run.returncode in (130, -sent)
        assert not out.exists()
        assert {path.name for path in tmp_path.iterdir()} <= {"view.json", "found.json.part"}


def test_several_clips_have_a_file_each_and_the_same_name_twice_is_refused(film: Path, tmp_path: Path) -> None:
    view, out, other = tmp_path / "view.json", tmp_path / "found", tmp_path / "other.mp4"
    save_view(gallery_view(), view)
    beginning_of_gallery(other, 60)

    run = CliRunner().invoke(app, ["spot", str(film), str(other), "--view", str(view), "-o", str(out), "--json"])

    assert run.exit_code == 0, run.output
    answers = json.loads(run.stdout)["clips"]
    assert [row["clip"] for row in answers] == [str(film), str(other)]
    assert [len(row["serves"]) for row in answers] == [2, 0]
    assert sorted(path.name for path in out.iterdir()) == ["gallery.proposals.json", "other.proposals.json"]
    for name, answer in zip(("gallery", "other"), answers, strict=True):
        assert json.loads((out / f"{name}.proposals.json").read_text(encoding="utf-8")) == answer
    twice = CliRunner().invoke(app, ["spot", str(film), str(film), "--view", str(view), "-o", str(out)])
    assert "same name" in str(twice.exception)


@pytest.mark.parametrize("fps", [24.0, 30.0, 59.94, 120.0])
def test_frames_are_looked_at_about_thirty_times_a_second_and_alike_from_any_of_them_on(fps: float) -> None:
    times_s = np.arange(400) / fps + np.random.default_rng(1).uniform(-0.1, 0.1, 400) / fps

    frames = frames_looked_at(times_s, 0, 399)

    assert len(frames) / times_s[-1] == pytest.approx(min(fps, 30.0), rel=0.2)
    assert frames_looked_at(times_s, int(frames[50]), 399).tolist() == frames[50:].tolist()

"""The whole way from film to proposals, by the function and by the command line."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from serve_marker.camera.view.viewfile import save_view
from serve_marker.cli import app
from serve_marker.errors import UserError
from serve_marker.spotting.candidates import Look
from serve_marker.spotting.confidence import confidence_of
from serve_marker.spotting.proposals import Proposal
from serve_marker.spotting.spot import blocks_of, spot
from serve_marker.video.clip import open_clip
from serve_marker.video.progress import Cancelled
from tests.spotting.films import beginning_of_gallery, gallery_truth, gallery_view
from tests.truths import SHARED_CLIPS

FRAMES = 170


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return beginning_of_gallery(tmp_path_factory.mktemp("film") / "gallery.mp4", FRAMES)


@pytest.fixture(scope="module")
def answer(film: Path) -> dict[str, Any]:
    view, out = film.with_name("view.json"), film.with_name("proposals.json")
    save_view(gallery_view(), view)

    run = CliRunner().invoke(app, ["spot", str(film), "--view", str(view), "-o", str(out), "--json"])

    assert run.exit_code == 0, run.output
    told: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    assert json.loads(run.stdout) == told
    assert "spot: 1000 of 1000" in run.stderr
    return told


def test_the_serves_of_the_film_are_proposed_and_nothing_else(answer: dict[str, Any]) -> None:
    true = [serve for serve in gallery_truth()["serves"] if (serve["landing_time_s"] or np.inf) < FRAMES / 30 - 0.2]

    assert len(true) == 2
    landed_s = [serve["landing_time_s"] for serve in true]
    assert [row["landing_s"] for row in answer["serves"]] == pytest.approx(landed_s, abs=0.1)
    for row in answer["serves"]:
        assert row["served_to"] == "a"
        assert row["outcome"] == "floor"
        assert 0.3 <= row["confidence"] <= 1
        assert bool(row["why"]) == (row["confidence"] < confidence_of([]))


def test_confident_proposals_are_right_within_their_errors(answer: dict[str, Any]) -> None:
    confident = [row for row in answer["serves"] if row["confidence"] >= 0.9]

    assert confident
    for row in confident:
        true = min(gallery_truth()["serves"], key=lambda serve: abs(serve["contact_time_s"] - row["contact_s"]))
        off_m = np.array([row["x_m"], row["y_m"]]) - true["landing_xy_m"]
        assert off_m @ np.linalg.solve(np.array(row["cov_m2"]), off_m) < 9.21  # 99 % of 2 degrees of freedom
        assert row["pace_mps"] == pytest.approx(true["pace_mps"], rel=0.03)
        if "rebound" not in row["why"]:
            assert np.hypot(*off_m) < 0.12  # what the project aims at where a pixel is under 0.06 m: p90
            assert row["landing_s"] == pytest.approx(true["landing_time_s"], abs=0.3 / 30)
        if "toss" not in row["why"]:
            assert row["contact_s"] == pytest.approx(true["contact_time_s"], abs=0.35 / 30)


def test_every_serve_lies_whole_in_the_block_that_tells_it() -> None:
    times_s = np.arange(0, 100, 1 / 30)
    looks = [Look(k, time_s, np.zeros((0, 2)), np.zeros(0)) for k, time_s in enumerate(times_s.tolist())]

    blocks = list(blocks_of(looks))

    for end_s in np.arange(3.5, 99, 0.25):
        told = next(block for block, until_s in blocks if end_s <= until_s)
        assert told[0].time_s <= end_s - 3.0
        assert told[-1].time_s >= min(end_s + 0.4, times_s[-1])
    assert max(len(block) for block, _ in blocks) <= 30 * 31


def test_work_that_is_cancelled_stops(film: Path) -> None:
    with pytest.raises(Cancelled):
        spot(open_clip(film), gallery_view(), cancelled=lambda: True)


def test_a_serve_is_told_as_it_is_found_with_its_flight_and_the_marks_a_click_would_leave(film: Path) -> None:
    told: list[Proposal] = []

    with pytest.raises(Cancelled):
        spot(open_clip(film), gallery_view(), cancelled=lambda: bool(told), on_proposal=told.append)

    (one,) = told
    true = min(gallery_truth()["serves"], key=lambda serve: abs(serve["landing_time_s"] or np.inf) - one.landing_s)
    contact, landing = one.marked.contact, one.marked.landing
    assert contact is not None
    assert landing is not None
    assert contact.time_s == pytest.approx(one.contact_s, abs=0.5 / 30 + 0.1)
    assert landing.time_s == pytest.approx(true["landing_time_s"], abs=0.1)
    assert one.flight_m[-1, :2] == pytest.approx(one.xy_m, abs=0.3)
    assert one.flight_m[:, 2].max() > 2.24  # over the net
    seen_px = one.view.project(one.flight_m)
    assert seen_px[-1] == pytest.approx(landing.pixel, abs=30.0)


def test_a_view_without_the_cameras_place_is_refused_in_a_sentence(film: Path) -> None:
    nowhere = replace(gallery_view(), camera_position_m=None)

    with pytest.raises(UserError, match="does not tell where the camera stood"):
        spot(open_clip(film), nowhere)


def test_a_clip_of_another_size_is_refused_in_a_sentence(film: Path) -> None:
    other = replace(gallery_view(), image_size=(1920, 1080))

    with pytest.raises(UserError, match="1280 × 720 but the view was made for 1920 × 1080"):
        spot(open_clip(film), other)


def test_files_that_are_not_there_or_not_to_be_written_are_refused(film: Path) -> None:
    view = film.with_name("view.json")
    save_view(gallery_view(), view)
    for arguments, words in (
        ([str(film.with_name("none.mp4")), "--view", str(view)], "is not there"),
        ([str(film), "--view", str(film.with_name("none.json"))], "cannot be read"),
        ([str(film), "--view", str(view), "-o", str(film.with_name("out.txt"))], "does not end in .json"),
        ([str(film), "--view", str(view), "-o", str(view)], "is the file being read"),
    ):
        run = CliRunner().invoke(app, ["spot", *arguments])
        assert isinstance(run.exception, UserError)
        assert words in str(run.exception)


@pytest.mark.skipif(not SHARED_CLIPS.exists(), reason="the shared clips are not beside the project")
def test_a_clip_rendered_by_others_is_spotted() -> None:
    from tests.benchmarks.spotting import Tally, fitted_view
    from tests.benchmarks.views import true_clips

    clip = next(one for one in true_clips(SHARED_CLIPS) if one.name == "portrait-30")
    film = open_clip(SHARED_CLIPS / clip.truth["file"])

    tally = Tally()
    tally.add(clip, film, spot(film, fitted_view(clip)))

    assert tally.found["floor"] >= 4
    assert max(tally.false, default=0.0) < 0.9
    assert np.median(tally.landing_m) < 0.12

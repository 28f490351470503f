"""From Find serves to a team sheet on the sample clip filmed from the gallery, by real keys; nothing is made up."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.serving_end import ServingEndDialog
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.share.pane import SharePane
from serve_marker.logbook.records import Player
from tests.spotting.films import RATE, beginning_of_gallery, gallery_truth, gallery_view

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
CTRL = coach_at_work["CTRL"]
FRAMES = 170
SEARCH_S = 240.0

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


@pytest.fixture(scope="module")
def gallery_film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return beginning_of_gallery(tmp_path_factory.mktemp("film") / "gallery.mp4", FRAMES)


def truly_ended() -> list[dict[str, Any]]:
    """The true serves that have come down well before the film ends."""
    last_s = FRAMES / RATE - 0.2
    return [serve for serve in gallery_truth()["serves"] if (serve["landing_time_s"] or np.inf) < last_s]


def test_from_find_serves_to_a_team_sheet(coach, gallery_film, film_sharpens):
    coach.begin(gallery_film, coach.folder / "team.logbook")
    making = coach.window.page._making
    coach.wait(lambda: making.seen() is not None)
    making.move(dict(gallery_view().marks))
    players = gallery_truth()["players"]
    RosterEditor(coach.workspace).put_players(
        [Player(id=one["name"], name=one["name"], number=one["number"]) for one in players]
    )
    coach.key(Qt.Key.Key_2, CTRL)
    coach.key(Qt.Key.Key_E)
    coach.click(coach.turn.order)
    coach.type(" ".join(str(one["number"]) for one in players))

    coach.key(Qt.Key.Key_F, CTRL)
    coach.dialog(ServingEndDialog)
    coach.key(Qt.Key.Key_Return)
    coach.face_window()
    page, entered = coach.window.page, len(truly_ended())
    for count in range(1, entered + 1):
        coach.wait(lambda: page.review.shown is not None, SEARCH_S)
        coach.key(Qt.Key.Key_K)
        assert len(coach.stored_serves()) == count
    coach.wait(lambda: coach.said[-1].startswith(f"{entered} serves, {entered} actions, "), SEARCH_S)
    coach.wait(lambda: not page.touches.busy)

    for serve, true in zip(coach.stored_serves(), truly_ended(), strict=True):
        off_m = np.array([serve.landing_point.x_m, serve.landing_point.y_m]) - true["landing_xy_m"]
        assert np.hypot(*off_m) < 0.25  # what the project aims at where a pixel is coarse: p90
        assert coach.workspace.players[serve.player_id].name == true["name"]
        assert serve.film_marks, "what the film shows is kept beside the mark"
    coach.key(Qt.Key.Key_4, CTRL)
    coach.wait(lambda: not coach.window.busy)
    share = coach.window.findChild(SharePane)
    share._open_folder = lambda folder: None
    coach.click(share.make_button)
    coach.wait(lambda: not share.busy)
    (sheet,) = coach.folder.rglob("*.pdf")
    words = "".join(one.extract_text() for one in PdfReader(sheet).pages)
    assert all(true["name"] in words for true in truly_ended())

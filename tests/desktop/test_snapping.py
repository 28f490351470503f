"""A landmark moves to its crossing only from where it was measured: what the coach put elsewhere meanwhile stays."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
from PySide6.QtCore import QObject

from serve_marker.camera.picture.snap import Snapped
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.setup import snapping

if TYPE_CHECKING:
    from serve_marker.desktop.session.view_editor import ViewEditor

CLICKED_PX, CROSSING_PX, ELSEWHERE_PX = (100.0, 50.0), (102.0, 51.0), (300.0, 200.0)


class Landmarks(QObject):
    """The landmarks of a view that is being made, where the coach put them."""

    def __init__(self):
        super().__init__()
        self.px = {"end-b/left": CLICKED_PX, "end-b/right": CLICKED_PX}

    def marked(self):
        return dict(self.px)

    def move(self, moved_px):
        self.px |= moved_px


@pytest.fixture
def workspace(qapp):
    made = Workspace()
    yield made
    made.close()


def test_a_landmark_put_elsewhere_while_it_is_measured_stays_there(workspace, qtbot, monkeypatch):
    going_on = threading.Event()

    def measured(frame, clicked_px, view):
        going_on.wait(60)
        return {name: Snapped(CLICKED_PX, CROSSING_PX, 1.0) for name in clicked_px}

    monkeypatch.setattr(snapping, "snap_all", measured)
    landmarks = Landmarks()
    moving = snapping.Snapping(workspace, cast("ViewEditor", landmarks), lambda: np.zeros((9, 16, 3), np.uint8))
    workspace.view = object()
    moving._waiting = dict(landmarks.px)
    moving.measure()
    landmarks.px["end-b/left"] = ELSEWHERE_PX
    going_on.set()
    qtbot.waitUntil(lambda: not moving.busy, timeout=60_000)
    moving.close()
    assert landmarks.px == {"end-b/left": ELSEWHERE_PX, "end-b/right": CROSSING_PX}

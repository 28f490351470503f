"""PySide6 6.12.0 on Python 3.11 lost a reference to None at each overridden void virtual and died after 5,000."""

from __future__ import annotations

import gc
import importlib.metadata
import sys

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.desktop.film.frame_view import FrameView
from serve_marker.desktop.film.timeline import Timeline
from serve_marker.desktop.mark.half_court import HalfCourt

REPAINTS = 1500


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal since Python 3.12")
@pytest.mark.parametrize("kind", [FrameView, Timeline, HalfCourt])
def test_repaints_cost_no_references_to_none(dressed, qtbot, kind):
    widget = kind()
    qtbot.addWidget(widget)
    if isinstance(widget, Timeline):
        widget.set_clip(np.arange(100) / 30)
    if isinstance(widget, HalfCourt):
        court = court_named("indoor")
        widget.set_court(court, default_scheme(court))
    widget.resize(320, 340)
    widget.show()
    widget.repaint()
    gc.collect()
    before = sys.getrefcount(None)
    for _ in range(REPAINTS):
        widget.repaint()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    assert sys.getrefcount(None) > before - REPAINTS / 3


def test_only_the_headless_opencv_is_installed():
    """The plain wheel points Qt at its own plugins on import."""
    installed = {(found.metadata["Name"] or "").lower() for found in importlib.metadata.distributions()}
    assert "opencv-python-headless" in installed
    assert not installed & {"opencv-python", "opencv-contrib-python"}

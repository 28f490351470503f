"""The window's tests run without a display and leave nothing alive."""

from __future__ import annotations

import gc
import runpy
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import Shiboken

from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.desktop.session import touch_finder
from serve_marker.desktop.session.roster_editor import RosterEditor
from serve_marker.desktop.widgets.theme import apply_text_scale, apply_theme
from serve_marker.logbook.records import Player

coach_at_work = runpy.run_path(str(Path(__file__).with_name("coach.py")))
OTHERS_THREADS = ("MainThread", "pydevd", "raw_input")
DEAF_WORK_S = 60.0
"""Work that cannot be told to stop may outlive its window, but it ends."""


def address_of(widget: QWidget) -> int:
    """Where Qt keeps a widget. Kept instead of the widget: one of Qt's own, as a tool tip, goes without telling Python.

    What Python still holds of it then stands for whatever Qt puts in its place, and crashes when that goes.
    """
    return int(Shiboken.getCppPointer(widget)[0])


@pytest.fixture(autouse=True)
def nothing_left_alive(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail with the name of any thread, timer or top-level widget a test left alive.

    pytest-qt closes what was given to ``qtbot.addWidget`` in a hook that runs before fixtures end.
    """
    threads_before = set(threading.enumerate())
    app = QApplication.instance()
    widgets_before = (
        {address_of(widget) for widget in app.topLevelWidgets()} if isinstance(app, QApplication) else set()
    )
    yield
    app = QApplication.instance()
    others = [thread for thread in threading.enumerate() if thread not in threads_before]
    ours = [thread for thread in others if not thread.name.startswith(OTHERS_THREADS)]
    for thread in ours:
        thread.join(DEAF_WORK_S)
    alive = [f"thread {thread.name}" for thread in ours if thread.is_alive()]
    if isinstance(app, QApplication):
        left = [widget for widget in app.topLevelWidgets() if address_of(widget) not in widgets_before]
        alive += [
            f"timer of {type(widget).__name__} {widget.accessibleName()}"
            for widget in left
            for timer in widget.findChildren(QTimer)
            if timer.isActive() and not timer.isSingleShot()
        ]
        alive += [f"widget {type(widget).__name__}" for widget in left if widget.isVisible()]
    gc.collect(1)
    assert not alive, f"left alive by {request.node.name}: {', '.join(alive)}"


@pytest.fixture(autouse=True)
def caches_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """What a test leaves among the computer's caches is nobody else's."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("caches")))


@pytest.fixture(autouse=True)
def clicks_stand(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is looked for on film, but in the stories that are about it: most films here show no ball."""
    if "film_sharpens" not in request.fixturenames:
        monkeypatch.setattr(touch_finder, "sharpened", lambda serve, *_: serve)


@pytest.fixture
def film_sharpens() -> None:
    """Landings and contacts clicked are looked for on film, as in the program."""


@pytest.fixture
def dressed(qapp: QApplication) -> Iterator[QApplication]:
    """The application in the light look, with fonts."""
    apply_text_scale(qapp, 1.0)
    apply_theme(qapp, "light")
    yield qapp
    apply_theme(qapp, "light")


@pytest.fixture
def film() -> NDArray[np.uint8]:
    """A picture (90, 160, 3) whose red tells the column and green the row."""
    rows, columns = np.mgrid[0:90, 0:160]
    return np.dstack([columns, rows, np.full_like(rows, 40)]).astype(np.uint8)


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of the bare court."""
    clip = tmp_path_factory.mktemp("film") / "tuesday.mp4"
    coach_at_work["film_court"](clip)
    return clip


@pytest.fixture
def coach(qapp: QApplication, tmp_path: Path) -> Iterator[Any]:
    """A coach at an empty window; modules that begin further on put one of those below in its place."""
    made = coach_at_work["Coach"](tmp_path)
    yield made
    made.leave()


@pytest.fixture
def coach_at_setup(qapp: QApplication, tmp_path: Path, filmed: Path) -> Iterator[Any]:
    """A coach whose film is open, without a view."""
    made = coach_at_work["Coach"](tmp_path)
    made.begin(filmed, tmp_path / "team.logbook")
    yield made
    made.leave()


@pytest.fixture
def coach_at_mark(coach_at_setup: Any) -> Any:
    """A coach whose view was made in one step, and who goes on to mark."""
    making, places_m = coach_at_setup.window.page._making, landmarks(COURTS["indoor"])
    coach_at_setup.wait(lambda: making.seen() is not None)
    making.move({name: coach_at_work["seen_at"](*place_m) for name, place_m in places_m.items()})
    coach_at_setup.key(Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    return coach_at_setup


@pytest.fixture
def coach_of_three(coach_at_mark: Any) -> Any:
    """A coach for whom Ines (7), Marit (4) and Noor (12) serve in this order."""
    squad = {"Ines": 7, "Marit": 4, "Noor": 12}
    RosterEditor(coach_at_mark.workspace).put_players(
        [Player(id=name.lower(), name=name, number=number) for name, number in squad.items()]
    )
    coach_at_mark.click(coach_at_mark.turn.order)
    coach_at_mark.type("7 4 12")
    return coach_at_mark

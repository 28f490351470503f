"""What every test may use: the program run as a person would run it, and the clips at hand."""

from __future__ import annotations

import io
import os
import runpy
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import pytest
from hypothesis import settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
cv2.setNumThreads(1)  # two tests run at a time already

ROOT = Path(__file__).resolve().parents[1]

TRUTHS = runpy.run_path(str(Path(__file__).with_name("truths.py")))["truths"]()

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest stories first, so that one worker does not end on them alone."""
    items.sort(key=lambda item: "desktop/test_view_check" not in item.nodeid)


@dataclass(frozen=True)
class Answer:
    """What a command printed and how it ended."""

    code: int
    out: str
    err: str


@pytest.fixture(scope="session")
def run() -> Callable[..., Answer]:
    """Return a function that runs one command line in this process, exactly as the installed program does."""
    from serve_marker.cli import main

    def run_command(*words: object) -> Answer:
        out, err = io.StringIO(), io.StringIO()
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
            patch.setattr(sys, "argv", ["serve-marker", *map(str, words)])
            with pytest.raises(SystemExit) as ended:
                main()
        return Answer(int(ended.value.code or 0), out.getvalue(), err.getvalue())

    return run_command


@pytest.fixture(scope="session")
def in_time() -> Callable[..., Any]:
    """Return a function that calls another one, and fails where its answer does not come within a minute."""

    def call(function: Callable[..., Any], *args: object) -> Any:
        answer: Future[Any] = Future()

        def work() -> None:
            try:
                answer.set_result(function(*args))
            except Exception as error:  # noqa: BLE001 - told to whoever waits
                answer.set_exception(error)

        threading.Thread(target=work, daemon=True).start()
        return answer.result(timeout=60)

    return call


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    """Return a named pipe that nobody writes to: opening it to read waits for ever."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    path = tmp_path / "pipe.mp4"
    os.mkfifo(path)
    return path


@pytest.fixture(scope="session")
def sample_clips() -> Path:
    """Return the folder of the project's own sample clips."""
    return ROOT / "sample_clips"


@pytest.fixture(scope="session")
def shared_clips() -> Path:
    """Return the folder of rendered clips beside the project; tests that need it skip where it is absent."""
    folder = ROOT.parent / "shared" / "clips"
    if not folder.is_dir():
        pytest.skip("the rendered clips that lie beside the project are not here")
    return folder


@pytest.fixture(scope="session", params=TRUTHS)
def true_clip(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Return one rendered clip's truth (`tests/truths.py`)."""
    return dict(TRUTHS[request.param])


@pytest.fixture(scope="session")
def true_clips() -> list[dict[str, Any]]:
    """Return the truth of every rendered clip at hand."""
    return list(TRUTHS.values())

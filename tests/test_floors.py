"""The floors of the design, held by a test: who imports whom, where Qt lives, how long a file may be."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "serve_marker"
LONGEST_FILE = 400
FLOORS = {
    "errors": 0,
    "court": 1,
    "camera": 2,
    "video": 2,
    "flight": 2,
    "logbook": 2,
    "marking": 3,
    "study": 4,
    "report": 5,
    "desktop": 6,
    "demo": 6,
    "cli": 6,
    "__main__": 7,
}
SAME_FLOOR_ALLOWED = {("cli", "desktop"), ("cli", "demo"), ("demo", "desktop")}
QT = {"PySide6", "shiboken6", "PyQt5", "PyQt6", "qtpy"}


def imports_of(source: str) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
            if node.module == "serve_marker":
                found.update(f"serve_marker.{alias.name}" for alias in node.names)
    return found


def breaches(place: str, source: str) -> list[str]:
    """Return what is wrong with one file of the part ``place`` (a folder or a module of the package)."""
    wrong = []
    for name in sorted(imports_of(source)):
        parts = name.split(".")
        if name.startswith("."):
            wrong.append(f"{place}: relative import {name}")
        if parts[0] in QT and place != "desktop":
            wrong.append(f"{place}: Qt outside desktop: {name}")
        if parts[0] == "serve_marker" and len(parts) > 1 and parts[1] != "__version__":
            other = parts[1]
            sideways = other != place and (place, other) not in SAME_FLOOR_ALLOWED
            if FLOORS[other] > FLOORS[place] or (FLOORS[other] == FLOORS[place] and sideways):
                wrong.append(f"{place}: imports {name}, which is not below it")
    lines = source.count("\n")
    if lines > LONGEST_FILE:
        wrong.append(f"{place}: {lines} lines, more than {LONGEST_FILE}")
    return wrong


def source_files() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p != PACKAGE / "__init__.py")


@pytest.mark.parametrize("path", source_files(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_every_file_keeps_to_its_floor(path: Path) -> None:
    place = path.relative_to(PACKAGE).parts[0].removesuffix(".py")

    assert breaches(place, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("place", "source", "expected"),
    [
        ("court", "from serve_marker.camera.view.view import View", "not below it"),
        ("camera", "import serve_marker.video.clip", "not below it"),
        ("marking", "from serve_marker import study", "not below it"),
        ("study", "from serve_marker.report.charts import court_chart", "not below it"),
        ("report", "from PySide6.QtGui import QImage", "Qt outside desktop"),
        ("video", "def show():\n    import qtpy.QtWidgets", "Qt outside desktop"),
        ("logbook", "from .store import Logbook", "relative import"),
        ("report", "\n" * (LONGEST_FILE + 1), "lines, more than"),
    ],
)
def test_a_deliberate_breach_is_caught(place: str, source: str, expected: str) -> None:
    found = breaches(place, source)

    assert len(found) == 1
    assert expected in found[0]


def test_test_files_and_scripts_are_short_too() -> None:
    others = [p for folder in ("tests", "sample_clips", "docs") for p in (ROOT / folder).rglob("*.py")]
    too_long = [p.name for p in others if p.read_text(encoding="utf-8").count("\n") > LONGEST_FILE]

    assert too_long == []


def test_the_command_line_starts_without_heavy_libraries() -> None:
    code = "import sys, serve_marker.cli; print(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()

    heavy = {"PySide6", "pandas", "matplotlib", "scipy", "cv2", "av", "numpy", "shapely"}
    assert heavy.isdisjoint(loaded)


def test_only_the_headless_opencv_is_installed() -> None:
    from importlib.metadata import distributions

    names = {d.metadata["Name"].lower() for d in distributions()}

    assert "opencv-python-headless" in names
    assert "opencv-python" not in names, "the plain wheel points Qt at its own plugins on import"

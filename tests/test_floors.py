"""The floors and rooms of the design, held by a test: who imports whom, where Qt lives, how long a file may be."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections import defaultdict
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "serve_marker"
LONGEST_FILE = 400
LONGEST_IN_DESKTOP = 500
FLOORS = {
    "errors": 0,
    "plain_json": 0,
    "printable": 0,
    "confidence_level": 0,
    "court": 1,
    "camera": 2,
    "video": 2,
    "flight": 2,
    "logbook": 2,
    "marking": 3,
    "study": 4,
    "spotting": 4,
    "report": 5,
    "cli_printout": 5,
    "cli_named": 6,
    "cli_proposals": 6,
    "cli_keeping": 6,
    "cli_moving": 6,
    "cli_sharing": 6,
    "demo_season": 5,
    "desktop": 6,
    "demo": 6,
    "cli": 6,
    "__main__": 7,
}
SAME_FLOOR_ALLOWED = {
    *(("plain_json", "errors"), ("demo", "desktop")),
    *(("cli", below) for below in ("cli_named", "cli_proposals", "cli_keeping", "cli_moving", "cli_sharing")),
    *(("cli", below) for below in ("desktop", "demo")),
    ("cli_keeping", "cli_named"),
    ("cli_moving", "cli_named"),
    *(("cli_sharing", below) for below in ("cli_named", "desktop")),
}
ROOMS = {
    "camera": {"view": 0, "fitting": 1, "picture": 1},
    "desktop": {"widgets": 0, "session": 1, "film": 2, "dialogs": 2, "setup": 3, "mark": 3, "study": 3, "share": 3},
}
"""The rooms of a folder by height; files of the folder itself stand above them all."""
QT = {"PySide6", "shiboken6", "PyQt5", "PyQt6", "qtpy"}


def imports_of(source: str) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
            if (node.module or "").startswith("serve_marker"):
                found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return found


def height_in_folder(folder: str, parts: list[str]) -> tuple[str, int]:
    """Return the room of a module of a folder with rooms, "" for the folder's own files, and the room's height."""
    rooms = ROOMS[folder]
    room = parts[0] if parts and parts[0] in rooms else ""
    return room, rooms.get(room, max(rooms.values()) + 1)


def breaches(place: str, source: str) -> list[str]:
    """Return what is wrong with one file; ``place`` is its path in the package, as ``desktop/mark/pane.py``."""
    wrong = []
    folder, *inner = place.removesuffix(".py").split("/")
    for name in sorted(imports_of(source)):
        parts = name.split(".")
        if name.startswith("."):
            wrong.append(f"{place}: relative import {name}")
        if parts[0] in QT and folder != "desktop":
            wrong.append(f"{place}: Qt outside desktop: {name}")
        if parts[:2] == ["PySide6", "QtWidgets"] and place.startswith("desktop/session/"):
            wrong.append(f"{place}: the session knows no widget")
        if parts[0] == "serve_marker" and len(parts) > 1 and parts[1] in FLOORS:
            other = parts[1]
            sideways = other != folder and (folder, other) not in SAME_FLOOR_ALLOWED
            if FLOORS[other] > FLOORS[folder] or (FLOORS[other] == FLOORS[folder] and sideways):
                wrong.append(f"{place}: imports {name}, which is not below it")
            if other == folder and folder in ROOMS and len(parts) > 2:
                here, height = height_in_folder(folder, inner)
                there, its_height = height_in_folder(folder, parts[2:])
                if here != there and its_height >= height:
                    wrong.append(f"{place}: imports {name}, whose room is not below")
    lines = source.count("\n")
    longest = LONGEST_IN_DESKTOP if folder == "desktop" else LONGEST_FILE
    if lines > longest:
        wrong.append(f"{place}: {lines} lines, more than {longest}")
    return wrong


def source_files() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p != PACKAGE / "__init__.py")


@pytest.mark.parametrize("path", source_files(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_every_file_keeps_to_its_floor_and_room(path: Path) -> None:
    assert breaches(path.relative_to(PACKAGE).as_posix(), path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("place", "source", "expected"),
    [
        ("court/areas.py", "from serve_marker.camera.view.view import View", "not below it"),
        ("camera/view/view.py", "import serve_marker.video.clip", "not below it"),
        ("marking/landing.py", "from serve_marker import study", "not below it"),
        ("study/rates.py", "from serve_marker.report.charts import court_chart", "not below it"),
        ("spotting/spot.py", "from serve_marker.study.rates import rate", "not below it"),
        ("spotting/spot.py", "import serve_marker.report.write_files", "not below it"),
        ("report/sheets.py", "from PySide6.QtGui import QImage", "Qt outside desktop"),
        ("video/clip.py", "def show():\n    import qtpy.QtWidgets", "Qt outside desktop"),
        ("logbook/store.py", "from .rows import row", "relative import"),
        ("report/sheets.py", "\n" * (LONGEST_FILE + 1), "lines, more than"),
        ("desktop/mark/pane.py", "\n" * (LONGEST_IN_DESKTOP + 1), "lines, more than"),
        ("camera/view/view.py", "import serve_marker.camera.fitting.view_from_marks", "room is not below"),
        ("camera/picture/snap.py", "import serve_marker.camera.fitting.view_from_marks", "room is not below"),
        ("desktop/mark/pane.py", "import serve_marker.desktop.setup.pane", "room is not below"),
        ("desktop/film/timeline.py", "import serve_marker.desktop.mark.pane", "room is not below"),
        ("desktop/session/edits.py", "import serve_marker.desktop.film.timeline", "room is not below"),
        ("desktop/widgets/theme.py", "import serve_marker.desktop.session.worker", "room is not below"),
        ("desktop/study/pane.py", "from serve_marker.desktop import header", "room is not below"),
        ("desktop/session/worker.py", "import PySide6.QtWidgets", "knows no widget"),
    ],
)
def test_a_deliberate_breach_is_caught(place: str, source: str, expected: str) -> None:
    found = breaches(place, source)

    assert found
    assert all(expected in breach for breach in found)


def import_graph() -> dict[str, set[str]]:
    """Return the modules of the package with those each imports, those under TYPE_CHECKING and in functions too."""
    names = {".".join(("serve_marker", *p.relative_to(PACKAGE).with_suffix("").parts)): p for p in source_files()}
    return {name: imports_of(p.read_text(encoding="utf-8")) & (set(names) - {name}) for name, p in names.items()}


def test_no_two_modules_import_each_other_in_a_circle() -> None:
    graph = import_graph()

    order = tuple(TopologicalSorter(graph).static_order())

    assert len(order) == len(graph) > 100


def public_names(source: str) -> set[str]:
    """Return the public functions and classes of a module."""
    return {
        node.name
        for node in ast.parse(source).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    }


def constants(source: str) -> set[str]:
    """Return the names a module assigns at its top."""
    targets = [node.targets for node in ast.parse(source).body if isinstance(node, ast.Assign)]
    return {target.id for several in targets for target in several if isinstance(target, ast.Name)}


def used_twice(sources: dict[str, str]) -> dict[str, list[str]]:
    """Return the functions and classes, and the constants some other file imports, that several modules define."""
    homes = defaultdict(list)
    imported = {name.rpartition(".")[2] for source in sources.values() for name in imports_of(source)}
    for path, source in sources.items():
        for name in public_names(source) | (constants(source) & imported):
            homes[name].append(path)
    return {name: paths for name, paths in homes.items() if len(paths) > 1}


def test_no_public_name_stands_for_two_things() -> None:
    sources = {str(p.relative_to(PACKAGE)): p.read_text(encoding="utf-8") for p in source_files()}

    assert used_twice(sources) == {}
    assert used_twice({"a": "class Court: ...", "b": "def Court(): ..."}) == {"Court": ["a", "b"]}


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

"""What pyproject says of the parts and of the libraries' lowest versions, against the files that say the same."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_every_folder_of_the_program_is_in_the_wheel() -> None:
    folders = {".".join(file.parent.relative_to(ROOT).parts) for file in (ROOT / "serve_marker").rglob("*.py")} | {
        "serve_marker.docs",
        "serve_marker.sample_clips",
    }
    packages = PYPROJECT["tool"]["setuptools"]["packages"]

    assert sorted(packages) == sorted(folders)


def test_the_lowest_versions_tested_are_the_lowest_allowed() -> None:
    project = PYPROJECT["project"]
    requirements = project["dependencies"] + project["optional-dependencies"]["test"]
    lowest = [re.sub(r">=([^,]+).*", r"==\1", requirement) for requirement in requirements]

    assert (ROOT / ".ci" / "lowest.txt").read_text(encoding="utf-8").split() == lowest


def test_the_program_tells_the_version_installed(run):
    answer = run("--version")

    assert (answer.code, answer.out, answer.err) == (0, f"Serve Marker {version('serve-marker')}\n", "")

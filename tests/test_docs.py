"""The papers say what the program does: commands, columns, words, pictures."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted(ROOT.glob("*.md")) + sorted((ROOT / "docs").glob("*.md"))


def commands() -> list[str]:
    from serve_marker.cli import app

    found = []
    tree = typer.main.get_group(app)
    for name, command in tree.commands.items():
        found += [f"{name} {inner}" for inner in command.commands] if hasattr(command, "commands") else [name]
    return found


@pytest.mark.parametrize("command", commands())
def test_every_command_is_in_the_guide(command):
    assert f"serve-marker {command}" in (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")


def test_every_command_in_the_papers_exists():
    text = "\n".join(page.read_text(encoding="utf-8") for page in PAGES)
    named = re.findall(r"^serve-marker ((?:clip|view|logbook|marks) [a-z]+|[a-z]+)", text, re.MULTILINE)

    assert set(named) <= set(commands())


def test_every_exported_column_is_explained_in_the_glossary():
    from serve_marker.report.export_columns import EXPORT_COLUMNS

    glossary = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8").lower()
    missing = [column for column in EXPORT_COLUMNS if f"`{column}`" not in glossary]

    assert missing == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_and_pictures_are_there(page):
    targets = re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8"))

    assert [t for t in targets if "://" not in t and not (page.parent / t).exists()] == []


def test_the_readme_holds_exactly_two_set_up_commands():
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    installs = [line for line in lines if line.startswith("python3 -m pip install")]

    assert installs == [
        "python3 -m pip install . && serve-marker demo",
        'python3 -m pip install -e ".[test]" && python3 -m pytest',
    ]

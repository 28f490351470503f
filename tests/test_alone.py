"""The tests stand alone: what needs the clips beside the project is told here by name, with its stand-in."""

from __future__ import annotations

import ast
from pathlib import Path

TESTS = Path(__file__).resolve().parent

BESIDE = {
    "test_hits_and_bounces_of_a_rendered_clip_are_spikes": "the own clips are silent; clicks are made in the same file",
    "test_all_hits_of_a_clip_rendered_by_others_are_found": "the own clips are given sound in the same file",
    "test_a_copied_part_shows_the_same_pictures_upright_at_the_same_times": "copies of own clips in test_excerpts.py",
    "test_received_balls_of_the_clips": "one own ball is received; `test_a_received_ball_carried_on_to_the_floor`",
    "test_received_balls_are_carried_on_to_where_they_would_have_landed": "as above, through a view",
}
"""Tests that skip where the folder of shared clips is absent, and what holds the same without it."""
KNOW_THE_FOLDER = {"conftest.py", "truths.py", "test_frames.py", "test_real_files.py", "test_alone.py"}


def parsed() -> dict[Path, ast.Module]:
    found = (path for path in sorted(TESTS.rglob("*.py")) if "benchmarks" not in path.parts)
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in found}


def test_what_skips_without_the_clips_beside_the_project_is_listed() -> None:
    asking = {
        node.name
        for tree in parsed().values()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and "shared_clips" in {argument.arg for argument in node.args.args}
    }
    assert asking == set(BESIDE)


def test_no_other_file_looks_beside_the_project() -> None:
    naming = {
        path.name
        for path, tree in parsed().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and node.value == "shared"
    }
    assert naming <= KNOW_THE_FOLDER

"""Some of the films that `tests/benchmarks/torture.py` damages at random: no crash, no hang."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

benchmark = runpy.run_path(str(Path(__file__).resolve().parents[1] / "benchmarks" / "torture.py"))


def test_damaged_films_neither_crash_nor_hang(tmp_path: Path) -> None:
    benchmark["make_films"](tmp_path)
    said: list[str] = []
    total = benchmark["run"](tmp_path, 12, 7, said.append)
    assert total["files"] == 12
    assert total["crashes or hangs"] == total["slower than 10 s"] == 0, said
    assert total["opened"] + total["refused with a sentence"] == 12


@pytest.mark.parametrize("seed", range(20))
def test_damage_changes_the_bytes_or_their_number(seed: int) -> None:
    import random

    content = bytes(range(1, 256)) * 40
    assert benchmark["damage"](content, content[::-1], random.Random(seed)) != content

"""The table of all serves in parts holds, cell for cell, what the table made at once does."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from serve_marker.logbook.store import Logbook
from serve_marker.report.write_tables import write_csv
from serve_marker.study.serve_columns import serve_table
from serve_marker.study.serve_table_parts import serve_table_parts
from tests.benchmarks.million import build


def test_parts_are_the_table(tmp_path: Path) -> None:
    """Ten servers over several years; efforts go by the year before, across parts."""
    build(tmp_path / "team.logbook", 4000)
    with Logbook.open(tmp_path / "team.logbook") as book:
        table, parts = serve_table(book), list(serve_table_parts(book, 300))
        write_csv(table, tmp_path / "at once.csv")
        write_csv(serve_table_parts(book, 300), tmp_path / "in parts.csv")

    assert len(parts) > 10
    assert table["effort"].notna().sum() > 3000
    together = pd.concat(parts, ignore_index=True)
    different = [name for name in table if not table[name].equals(together[name])]
    assert different == ["evening"], "which numbers evenings, of a part or of all"
    assert (tmp_path / "at once.csv").read_bytes() == (tmp_path / "in parts.csv").read_bytes()


def test_no_serves_are_no_parts(tmp_path: Path) -> None:
    with Logbook.create(tmp_path / "team.logbook") as book:
        write_csv(serve_table_parts(book), tmp_path / "all.csv")
        write_csv(serve_table(book), tmp_path / "at once.csv")

    assert (tmp_path / "all.csv").read_bytes() == (tmp_path / "at once.csv").read_bytes()

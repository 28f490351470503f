"""Adds up every page of random logbooks: figures, legend, strip, map, aims, depth, courts, scores, tables and grids.

Run: python3 -m tests.benchmarks.adding_up [how many logbooks, 200 if nothing is said] [the first, 0]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from serve_marker.logbook.store import Logbook
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.study.by_server import servers_of
from tests.benchmarks.looks import fill, wall_pages
from tests.report.page_counts import disagreements, grid_disagreements

MOST_SERVES, SERVERS = 120, 2


def add_up(seed: int, folder: Path) -> tuple[int, list[str]]:
    """Return how many sheets of a random logbook were made, and what on them does not add up.

    They are the team's and two servers', of one practice or of all, and those of the season: ladder, load, match day
    and plan.
    """
    chance = np.random.default_rng(seed)
    path = folder / f"{seed}.logbook"
    with Logbook.create(path, team="Tidewater U16") as book:
        fill(book, int(chance.integers(1, MOST_SERVES)), seed)
        data = read_report_data(book)
        practices = [None, *(practice.id for practice in book.practices())]
    practice_id = practices[int(chance.integers(len(practices)))]
    rows = data.of_practice(practice_id)
    found = disagreements(team_pages(data, practice_id), rows, "team") if len(rows) else []
    servers = servers_of(rows)[:SERVERS]
    for player_id, _ in servers:
        own = rows[rows["player_id"] == player_id]
        found += disagreements(server_pages(data, player_id, practice_id), own, "server")
    found += grid_disagreements(wall_pages(data, DEFAULT_PAPER), data)
    return len(servers) + 5, [f"logbook {seed}: {words}" for words in found]


def main() -> None:
    """Add up so many logbooks."""
    logbooks, first = (*map(int, sys.argv[1:]), *(200, 0)[len(sys.argv) - 1 :])
    with tempfile.TemporaryDirectory() as folder:
        results = [add_up(seed, Path(folder)) for seed in range(first, first + logbooks)]
    found = [words for _, disagreeing in results for words in disagreeing]
    print(*found, sep="\n", end="\n" if found else "")
    print(f"{sum(sheets for sheets, _ in results)} sheets of {logbooks} logbooks, {len(found)} disagreements")


if __name__ == "__main__":
    main()

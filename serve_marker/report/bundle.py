"""Everything a coach hands out after a practice, written into one folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.errors import UserError
from serve_marker.report.page import paper_size_in, save_pdf
from serve_marker.report.sheets import players_named, read_evening, server_pages, servers_of, team_pages
from serve_marker.report.tables import safe_name, write_csv, write_xlsx

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

Progress = Callable[[int, int], object]


def quiet(done: int, of: int) -> None:
    """Say nothing of the progress."""


def write_report(
    logbook: Logbook,
    folder: Path,
    practice_id: str | None = None,
    server: str | None = None,
    paper: str = "A4",
    progress: Progress = quiet,
) -> list[Path]:
    """Write team sheets, a page per server, and the tables; return their paths.

    Parameters
    ----------
    practice_id : one practice, or None for a team sheet of each and server pages over all.
    server : a shirt number or a name: only that server's page and serves.
    progress : called with (files written, of how many).
    """
    paper_size_in(paper)
    chosen = players_named(logbook, server) if server else None
    evening = read_evening(logbook)
    rows = evening.of_practice(practice_id)
    if chosen is not None:
        rows = rows[rows["player_id"].isin(chosen)]
    practices = [] if chosen is not None else list(dict.fromkeys(rows["practice_id"])) or [practice_id]
    servers = servers_of(rows)
    if chosen is not None and not servers:
        raise UserError(f"{server} has no serves in this choice; choose another practice or server.")
    count = len(practices) + len(servers) + 2
    make_folder(folder)
    written: list[Path] = []

    def add(path: Path) -> None:
        written.append(path)
        progress(len(written), count)

    taken: set[str] = set()
    for one in practices:
        own = evening.of_practice(one)
        named = f"{own['date'].iloc[0]} {own['practice'].iloc[0]}" if len(own) else ""
        path = folder / _free_name(f"team sheet {named}", ".pdf", taken)
        save_pdf(team_pages(evening, one, paper), path, f"Team sheet {named}".strip())
        add(path)
    for player_id, words in servers:
        path = folder / _free_name(f"server {words}", ".pdf", taken)
        save_pdf(server_pages(evening, player_id, practice_id, paper), path, f"Serves of {words}")
        add(path)
    for writer, ending in ((write_csv, ".csv"), (write_xlsx, ".xlsx")):
        path = folder / f"serves{ending}"
        writer(rows, path)
        add(path)
    return written


def make_folder(folder: Path) -> None:
    """Make a folder where there is none."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder} cannot be made ({error.strerror}); choose another folder.") from error


def _free_name(text: str, ending: str, taken: set[str]) -> str:
    """Return a safe file name that no other file of this run has, whatever the case of its letters."""
    stem = safe_name(text)
    name, number = stem, 1
    while name.casefold() in taken:
        number += 1
        name = f"{stem}-{number}"
    taken.add(name.casefold())
    return name + ending

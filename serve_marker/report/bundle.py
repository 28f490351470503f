"""Everything a coach hands out after a practice, written into one folder."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import TYPE_CHECKING

from serve_marker.errors import UserError
from serve_marker.report.match_day_page import match_day_page
from serve_marker.report.page_canvas import save_pdf
from serve_marker.report.paper_sizes import DEFAULT_PAPER, paper_size_in
from serve_marker.report.plan_page import plan_page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import ReportData, player_ids, read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.report.wall_pages import ladder_page, load_page
from serve_marker.report.write_files import free_name, safe_name
from serve_marker.report.write_tables import write_csv, write_xlsx
from serve_marker.study.by_server import servers_of
from serve_marker.video.progress import Progress

if TYPE_CHECKING:
    import pandas

    from serve_marker.logbook.store import Logbook

LONGEST_SERVER = 30
"""More letters of a server would leave none for the practice in the name of her file."""
REPORT_PARTS = ("team sheet", "server pages", "ladder", "load", "plan", "match day", "csv", "xlsx")


def quiet(done: int, of: int) -> None:
    """Say nothing of the progress."""


def never() -> bool:
    """Go on until all is done."""
    return False


def write_report(
    logbook: Logbook,
    folder: Path,
    practice_id: str | None = None,
    server: str | None = None,
    paper: str = DEFAULT_PAPER,
    progress: Progress = quiet,
    cancelled: Callable[[], bool] = never,
    parts: Collection[str] = REPORT_PARTS,
    player_id: str | None = None,
) -> list[Path]:
    """Write team sheets, a page per server, the pages for the wall, the plan, and the tables; return their paths.

    Parameters
    ----------
    practice_id : one practice, whose day and name its files carry, or None for a team sheet of each and server pages
        over all, which carry the newest day.
    server : a shirt number or a name: only that server's page and serves.
    progress : called with (files written, of how many).
    cancelled : asked before each file; what is written by then is whole and stays.
    parts : which of REPORT_PARTS are wanted; team sheet, ladder, load, plan and match day are always the whole team's.
    player_id : the same as ``server``, by the player's id.
    """
    paper_size_in(paper)
    chosen = player_ids(logbook, server) if server else [player_id] if player_id else None
    data = read_report_data(logbook)
    rows = data.of_practice(practice_id)
    if chosen is not None:
        rows = rows[rows["player_id"].isin(chosen)]
    if chosen is not None and not len(rows):
        raise UserError(f"{server or 'This server'} has no serves in this choice; choose another practice or server.")
    jobs = _jobs(data, rows, practice_id, paper, parts, whole_team=server is None)
    make_folder(folder)
    written: list[Path] = []
    for name, write in jobs:
        if cancelled():
            break
        progress(len(written), len(jobs))
        write(folder / name)
        written.append(folder / name)
    else:
        progress(len(jobs), len(jobs))
    return written


def _jobs(
    data: ReportData,
    rows: pandas.DataFrame,
    practice_id: str | None,
    paper: str,
    parts: Collection[str],
    whole_team: bool,
) -> list[tuple[str, Callable[[Path], None]]]:
    """Return the files to write: their names and what writes them."""
    taken: set[str] = set()
    when = _when_words(rows, practice_id)
    jobs: list[tuple[str, Callable[[Path], None]]] = []
    if "team sheet" in parts and whole_team:
        whole = data.of_practice(practice_id)
        for one in list(dict.fromkeys(whole["practice_id"])) or [practice_id]:
            own = data.of_practice(one)
            title = f"team sheet {own['date'].iloc[0]} {own['practice'].iloc[0]}" if len(own) else "team sheet"

            def write_team(path: Path, one: str | None = one, title: str = title) -> None:
                save_pdf(team_pages(data, one, paper), path, title)

            jobs.append((f"{free_name(title, taken)}.pdf", write_team))
    if "server pages" in parts:
        wanted = set(rows["player_id"])
        for player_id, words in servers_of(data.of_practice(practice_id)):
            name = f"{free_name(f'server {words[:LONGEST_SERVER]}{when}', taken)}.pdf"
            if player_id not in wanted:
                continue

            def write_server(path: Path, player_id: str = player_id, words: str = words) -> None:
                save_pdf(server_pages(data, player_id, practice_id, paper), path, f"Serves of {words}")

            jobs.append((name, write_server))
    if "ladder" in parts and whole_team and servers_of(data.table):
        jobs.append(("ladder.pdf", lambda path: save_pdf([ladder_page(data, paper)], path, "Ladder")))
    if "load" in parts and whole_team and (servers_of(data.table) or data.has_tallies):
        jobs.append(("serving load.pdf", lambda path: save_pdf([load_page(data, paper)], path, "Serving load")))
    plan = data.plan_for(practice_id) if "plan" in parts and whole_team else None
    if plan is not None:
        page = plan_page(data.team, plan, data.players, paper)
        jobs.append((f"plan {plan.date}.pdf", lambda path: save_pdf([page], path, "Plan")))
    if "match day" in parts and whole_team and data.table["flight_s"].notna().any():
        jobs.append(("match day.pdf", lambda path: save_pdf([match_day_page(data, paper)], path, "Match day")))
    if "csv" in parts:
        jobs.append((f"{safe_name(f'serves{when}')}.csv", lambda path: write_csv(rows, path)))
    if "xlsx" in parts:
        jobs.append((f"{safe_name(f'serves{when}')}.xlsx", lambda path: write_xlsx(rows, path)))
    return jobs


def _when_words(rows: pandas.DataFrame, practice_id: str | None) -> str:
    """Return day and name of the practice, or up to which day all were, so that the next one overwrites nothing."""
    newest = max(rows["date"], default="")
    if practice_id is None or not len(rows):
        return f" to {newest}" if newest else ""
    return f" {newest} {rows['practice'].iloc[0]}".rstrip()


def make_folder(folder: Path) -> None:
    """Make a folder where there is none."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder} cannot be made ({error.strerror}); choose another folder.") from error

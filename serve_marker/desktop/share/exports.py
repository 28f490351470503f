"""What the Share step can make: the files themselves, and the picture of how each will look."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from serve_marker.desktop.share.excerpts import chosen_serves, write_excerpts
from serve_marker.desktop.share.phone_pages import write_phone_pages
from serve_marker.desktop.share.stills import write_stills
from serve_marker.errors import UserError
from serve_marker.logbook.sharing import shared_with
from serve_marker.logbook.store import Logbook
from serve_marker.report.bundle import make_folder, write_report
from serve_marker.report.figure_pixels import pixels_of
from serve_marker.report.match_day_page import match_day_page
from serve_marker.report.page_canvas import Page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.plan_page import plan_page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import ReportData, read_report_data
from serve_marker.report.still_sizes import DEFAULT_SIZE
from serve_marker.report.subtitles import write_all_subtitles
from serve_marker.report.team_page import team_pages
from serve_marker.report.wall_pages import ladder_page, load_page
from serve_marker.report.write_export import write_export
from serve_marker.study.by_server import servers_of
from serve_marker.video.progress import Cancelled

PREVIEW_DOTS_PER_IN, PRINT_DOTS_PER_IN = 160.0, 200.0
ALL_SERVERS = ""


@dataclass(frozen=True)
class Kind:
    """One kind of thing to share: its name, what it is in words, and whether it is pages that can be printed."""

    key: str
    name: str
    words: str
    is_pages: bool = True


KINDS = (
    Kind("team sheet", "Team sheet", "For the wall: figures and a court for each server, the table behind."),
    Kind("server pages", "Server pages", "A page for each server: what to do, and her serves."),
    Kind("ladder", "Ladder", "A page for the wall: who has passed which step, and what is next."),
    Kind("load", "Serving load", "How many serves everybody hit, by day and week."),
    Kind("plan", "Plan", "A page for the gym: who serves what, with boxes to tick."),
    Kind("match day", "Match day", "A page for the bench: where each server serves best."),
    Kind("stills", "Stills", "A picture of each landing, and of all, by server and by aim.", is_pages=False),
    Kind("phone pages", "Phone pages", "A file for each server's phone, with her stills.", is_pages=False),
    Kind("excerpts", "Excerpts", "Each server's serves as film, drawn on and slowed at the landing.", is_pages=False),
    Kind("cuts", "Film as it is", "Each server's serves, cut from the film with nothing drawn.", is_pages=False),
    Kind("subtitles", "Subtitles", "Server and verdict as subtitles, in any video app.", is_pages=False),
    Kind("ics", "Calendar", "The planned practices, for the calendar of a phone.", is_pages=False),
    Kind("csv", "Table as CSV", "Every serve as one row, for any spreadsheet.", is_pages=False),
    Kind("xlsx", "Table as XLSX", "Every serve as one row, as a workbook.", is_pages=False),
    Kind("json", "All as JSON", "Everything in the logbook, for other programs.", is_pages=False),
)
FILMS = {"excerpts": "excerpts", "cuts": "film as it is"}
"""Kinds that are film, and the folder they go into."""
BESIDE_CLIPS = "Keep it beside its clip; video apps then show it."
WHOLE_LOGBOOK = {"ics": "practices", "json": "logbook"}
"""Kinds that are one file of the whole logbook, and how it is called."""


@dataclass(frozen=True)
class Order:
    """What is to be made or looked at: of which practice and server, on which paper, in which size, for whom."""

    practice_id: str | None = None
    player_id: str = ALL_SERVERS
    paper: str = DEFAULT_PAPER
    still_size: str = DEFAULT_SIZE
    audience: str = "team"


@dataclass(frozen=True, eq=False)
class Preview:
    """How something will look, (H, W, 3 or 4), with what it is; no pixels where there is nothing to see."""

    pixels: NDArray[np.uint8] | None
    words: str


def make(
    book: Logbook,
    kind: Kind,
    order: Order,
    folder: Path,
    progress: Callable[[int, int], object],
    cancelled: Callable[[], bool],
) -> tuple[list[Path], list[str]]:
    """Write one kind of thing into a folder; return the paths, and sentences about what could not be used."""
    with shared_with(book, order.audience, today()) as shared:
        if kind.key == "stills":
            said: list[str] = []
            into = folder / "stills" if order.still_size == DEFAULT_SIZE else folder / "stills" / order.still_size
            return write_stills(
                shared, into, order.practice_id, progress, cancelled, said.append, order.still_size
            ), said
        players = [order.player_id] if order.player_id else []
        if kind.key == "phone pages":
            said = []
            into = folder / "phone pages"
            return write_phone_pages(shared, into, order.practice_id, players, progress, cancelled, said.append), said
        if kind.key in FILMS:
            serves = chosen_serves(shared, order.practice_id, players)
            said = []
            into = folder / FILMS[kind.key]
            try:
                paths = write_excerpts(
                    shared, into, serves, kind.key == "excerpts", progress, cancelled, tell=said.append
                )
            except Cancelled:
                return [], said
            return paths, said
        if kind.key == "subtitles":
            make_folder(folder)
            paths = write_all_subtitles(shared, folder, order.practice_id, order.player_id, progress)
            return paths, [BESIDE_CLIPS] if paths else []
        if kind.key in WHOLE_LOGBOOK:
            make_folder(folder)
            path = folder / f"{WHOLE_LOGBOOK[kind.key]}.{kind.key}"
            write_export(shared, path)
            return [path], []
        paths = write_report(
            shared,
            folder,
            order.practice_id,
            paper=order.paper,
            progress=progress,
            cancelled=cancelled,
            parts=(kind.key,),
            player_id=order.player_id or None,
        )
        return paths, []


def today() -> str:
    """Return today's date, YYYY-MM-DD."""
    return date.today().isoformat()


def preview(book: Logbook, kind: Kind, order: Order, cancelled: Callable[[], bool]) -> Preview:
    """Return how the first page of a kind will look, or a still; of a table only what it is."""
    with shared_with(book, order.audience, today()) as shared:
        return _preview(shared, kind, order, cancelled)


def _preview(book: Logbook, kind: Kind, order: Order, cancelled: Callable[[], bool]) -> Preview:
    if kind.key == "stills":
        return _still(book, order, cancelled)
    if kind.key == "excerpts":
        seen = _still(book, order, cancelled)
        return Preview(seen.pixels, seen.words if seen.pixels is None else "A landing, as the film shows it")
    if not kind.is_pages:
        return Preview(None, kind.words)
    data = read_report_data(book)
    player_ids = _players(data, kind, order)[:1]
    pages = _pages(data, kind, order, player_ids)
    words = kind.name
    if player_ids:
        words = f"Page of {dict(servers_of(data.table)).get(player_ids[0]) or 'a server'}"
    more = f", first of {len(pages)} pages" if len(pages) > 1 else ""
    return Preview(pixels_of(pages[0].figure, PREVIEW_DOTS_PER_IN), f"{words}, {order.paper}{more}")


def printed_pages(
    book: Logbook,
    kind: Kind,
    order: Order,
    progress: Callable[[int, int], object],
    cancelled: Callable[[], bool],
) -> list[NDArray[np.uint8]]:
    """Return all pages of a kind as pictures (H, W, 3) for a printer."""
    with shared_with(book, order.audience, today()) as shared:
        data = read_report_data(shared)
    pages = _pages(data, kind, order, _players(data, kind, order))
    drawn = []
    for number, page in enumerate(pages):
        if cancelled():
            break
        drawn.append(np.ascontiguousarray(pixels_of(page.figure, PRINT_DOTS_PER_IN)[..., :3]))
        progress(number + 1, len(pages))
    return drawn


def _players(data: ReportData, kind: Kind, order: Order) -> list[str]:
    """Return whose pages are meant, where a kind has pages for each server."""
    if kind.key != "server pages":
        return []
    return [order.player_id] if order.player_id else [key for key, _ in servers_of(data.of_practice(order.practice_id))]


def _pages(data: ReportData, kind: Kind, order: Order, player_ids: Sequence[str]) -> list[Page]:
    paper, practice_id = order.paper, order.practice_id
    if kind.key == "server pages":
        wanted = player_ids or [""]
        return [page for player_id in wanted for page in server_pages(data, player_id, practice_id, paper)]
    if kind.key == "team sheet":
        return team_pages(data, practice_id, paper)
    if kind.key == "ladder":
        return [ladder_page(data, paper)]
    if kind.key == "load":
        return [load_page(data, paper)]
    if kind.key == "match day":
        return [match_day_page(data, paper)]
    plan = data.plan_for(practice_id)
    if plan is None:
        raise UserError("No practice is planned; Practice > Plan of a practice makes one.")
    return [plan_page(data.team, plan, data.players, paper)]


def _still(book: Logbook, order: Order, cancelled: Callable[[], bool]) -> Preview:
    """Make the first still that can be made, somewhere temporary."""
    said: list[str] = []
    with tempfile.TemporaryDirectory() as folder:

        def enough() -> bool:
            return cancelled() or any(Path(folder).rglob("*.png"))

        paths = write_stills(book, Path(folder), order.practice_id, None, enough, said.append, order.still_size)
        if not paths:
            return Preview(None, said[0] if said else "No landing of this choice has a picture yet.")
        read = cv2.imread(str(paths[0]), cv2.IMREAD_COLOR_RGB)
    if read is None:
        raise UserError("The still could not be read back; look at the disk's free space.")
    return Preview(np.asarray(read, dtype=np.uint8), "A still, as it will be written")

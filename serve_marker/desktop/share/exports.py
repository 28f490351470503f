"""What the Share step can make: the files themselves, and the picture of how each will look."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from serve_marker.desktop.share.stills import write_stills
from serve_marker.errors import UserError
from serve_marker.logbook.store import Logbook
from serve_marker.report.bundle import write_report
from serve_marker.report.figure_pixels import pixels_of
from serve_marker.report.match_day_page import match_day_page
from serve_marker.report.paper_sizes import DEFAULT_PAPER
from serve_marker.report.plan_page import plan_page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.report.wall_pages import ladder_page, load_page
from serve_marker.study.by_server import servers_of
from serve_marker.study.sentences import date_words

PREVIEW_DOTS_PER_IN = 110.0
ALL_SERVERS = ""


@dataclass(frozen=True)
class Kind:
    """One kind of thing to share: its button, what it is in words, and what is looked at before."""

    key: str
    button: str
    words: str
    preview: str


KINDS = (
    Kind(
        "team sheet",
        "Team sheet",
        "For the wall: figures and a court for each server, the table behind.",
        "team",
    ),
    Kind("server pages", "Server pages", "A page for each server: what to do, and her serves.", "server"),
    Kind("ladder", "Ladder", "A page for the wall: who has passed which step, and what is next.", "ladder"),
    Kind("load", "Serving load", "How many serves everybody hit, by day and week.", "load"),
    Kind("plan", "Plan", "A page for the gym: who serves what, with boxes to tick.", "plan"),
    Kind("match day", "Match day", "A page for the bench: where each server serves best.", "match"),
    Kind("stills", "Stills", "A picture of each landing, and of all landings in the gym.", "still"),
    Kind("csv", "Table as CSV", "Every serve as one row, for any spreadsheet.", ""),
    Kind("xlsx", "Table as XLSX", "Every serve as one row, as a workbook.", ""),
)
PREVIEWS = {
    "team": "Team sheet",
    "server": "Server page",
    "ladder": "Ladder",
    "load": "Load",
    "plan": "Plan",
    "match": "Match day",
    "still": "Still",
}


@dataclass(frozen=True)
class Order:
    """What is to be made or looked at: for which practice and server, on which paper."""

    practice_id: str | None = None
    player_id: str = ALL_SERVERS
    paper: str = DEFAULT_PAPER


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
    if kind.key == "stills":
        said: list[str] = []
        return write_stills(book, folder / "stills", order.practice_id, progress, cancelled, said.append), said
    paths = write_report(
        book,
        folder,
        order.practice_id,
        paper=order.paper,
        progress=progress,
        cancelled=cancelled,
        parts=(kind.key,),
        player_id=order.player_id or None,
    )
    return paths, []


def preview(book: Logbook, what: str, order: Order, cancelled: Callable[[], bool]) -> Preview:
    """Return how a team sheet, a server page or a still will look."""
    if what == "still":
        return _still(book, order, cancelled)
    data = read_report_data(book)
    if what == "team":
        pages = team_pages(data, order.practice_id, order.paper)
        words = "Team sheet"
    elif what == "ladder":
        pages, words = [ladder_page(data, order.paper)], "Ladder"
    elif what == "load":
        pages, words = [load_page(data, order.paper)], "Serving load"
    elif what == "match":
        pages, words = [match_day_page(data, order.paper)], "Match day"
    elif what == "plan":
        plan = data.plan_for(order.practice_id)
        if plan is None:
            return Preview(None, "No practice is planned; Practice > Plan of a practice makes one.")
        pages, words = [plan_page(data.team, plan, data.players, order.paper)], f"Plan of {date_words(plan.date)}"
    else:
        servers = dict(servers_of(data.of_practice(order.practice_id)))
        player_id = order.player_id or next(iter(servers), "")
        pages = server_pages(data, player_id, order.practice_id, order.paper)
        words = f"Page of {servers.get(player_id) or 'a server'}"
    more = f", first of {len(pages)} pages" if len(pages) > 1 else ""
    return Preview(pixels_of(pages[0].figure, PREVIEW_DOTS_PER_IN), f"{words}, {order.paper}{more}")


def _still(book: Logbook, order: Order, cancelled: Callable[[], bool]) -> Preview:
    """Make the first still that can be made, somewhere temporary."""
    said: list[str] = []
    with tempfile.TemporaryDirectory() as folder:

        def enough() -> bool:
            return cancelled() or any(Path(folder).rglob("*.png"))

        paths = write_stills(book, Path(folder), order.practice_id, None, enough, said.append)
        if not paths:
            return Preview(None, said[0] if said else "No landing of this choice has a picture yet.")
        read = cv2.imread(str(paths[0]), cv2.IMREAD_COLOR_RGB)
    if read is None:
        raise UserError("The still could not be read back; look at the disk's free space.")
    return Preview(np.asarray(read, dtype=np.uint8), "A still, as it will be written")

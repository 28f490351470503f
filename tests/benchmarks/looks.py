"""Pictures of Study and of the sheets with no, few and many serves, to be looked at: light, dark and in grey.

Run: python3 tests/benchmarks/looks.py FOLDER [how many serves ...]
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import cast

import numpy as np
from PIL import Image

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QApplication

from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import preset
from serve_marker.desktop.app import offscreen_app
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.study.pane import StudyPane
from serve_marker.desktop.study.questions import QUESTIONS
from serve_marker.desktop.widgets.theme import apply_theme
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, PracticePlan, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.figure_pixels import pixels_of
from serve_marker.report.match_day_page import match_day_page
from serve_marker.report.page_canvas import Page
from serve_marker.report.paper_sizes import PAPERS_IN
from serve_marker.report.plan_page import plan_page
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import ReportData, read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.report.wall_pages import ladder_page, load_page
from serve_marker.study.climb import climbs
from serve_marker.study.plan import suggested_blocks
from serve_marker.study.stored_formations import formation_record

COUNTS = (0, 1, 4, 40, 4000)
SIZE = (1280, 720)
DOTS_PER_IN = 90
NAMES = ("Ines", "Marit", "Noor", "Priya", "Yuki", "Salome", "Wren", "Odile", "Tamsin", "Zofia")
AIMS = {"deep 1": (1.5, 7.5), "outline 6.5,6.5 8.5,6.5 8.5,8.5 6.5,8.5": (7.5, 7.5), "seam 5-6": (6.0, 7.0), "": (4, 6)}
COURT = court_named("indoor")


class Stand(QObject):
    """Stands in for the workspace: a logbook, and nothing that changes."""

    logbook_changed = Signal()
    practice_changed = Signal()
    serves_changed = Signal()

    def __init__(self, logbook: Logbook) -> None:
        super().__init__()
        self.logbook = logbook
        self.films = None

    def go_to_serve(self, serve_id: str) -> None:
        """Nothing to go to."""


def fill(book: Logbook, count: int, seed: int | None = None) -> None:
    """Serves of ten players in up to six practices, the later ones a little better, half of them at passers."""
    chance = np.random.default_rng(count if seed is None else seed)
    weeks = 6 if count > 40 else 2 if count > 4 else 1
    book.put(*(Player(id=name, name=name, number=2 + 2 * n) for n, name in enumerate(NAMES)))
    book.put(*(formation_record(depth, preset(3, depth, COURT)) for depth in ("up", "back")))
    for week in range(weeks):
        book.put(Practice(id=f"w{week}", date=f"2026-10-{1 + 4 * week:02d}", name=f"Week {week + 1}"))
        path = f"week-{week + 1}.mp4"
        book.put(ClipEntry(id=f"c{week}", practice_id=f"w{week}", path=path, size_bytes=1, fingerprint=path))
    book.put(*(serve(number, count, weeks, chance) for number in range(count)))


def serve(number: int, count: int, weeks: int, chance: np.random.Generator) -> Serve:
    """One serve at one of four aims; one in seven in the net, one in nine received and rated, some placed."""
    week = number * weeks // count
    aim = list(AIMS)[0 if count <= 4 else (number // 5) % 4]
    x_m, y_m = np.array(AIMS[aim]) + chance.normal((0.2, -0.4), 1.1 - 0.08 * week)
    at_passers = week % 2 == 1 or count <= 4
    ended = "net" if number % 7 == 3 else "received" if at_passers and number % 9 == 4 else "floor"
    sd_m = 1.2 if ended == "received" else float(chance.choice([0.03, 0.08, 0.25]))
    known = FloorPoint(x_m - 4.5, y_m, sd_m**2, 0.0, 2 * sd_m**2)
    return Serve(
        id=f"s{number}",
        clip_id=f"c{week}",
        player_id=NAMES[number % (2 if count <= 40 else 10)],
        served_to="b",
        serve_type=("jump float", "float", "jump topspin")[number % 3],
        aim=aim,
        outcome=ended,
        pass_rating=int(chance.integers(1, 4)) if ended == "received" else None,
        contact=Mark(20.0 * number, None, 1 / 60, 1 / 60),
        landing=Mark(20.0 * number + float(chance.uniform(0.95, 1.3)), None, 1 / 60, 1 / 60),
        contact_point=FloorPoint(float(chance.uniform(-4, 4)), -9.3, 0.01, 0.0, 0.01),
        landing_point=known if ended == "floor" or (ended == "received" and number % 2) else None,
        formation_id=("up", "back")[week // 2 % 2] if at_passers else None,
        full_pace=number % 11 == 5,
        target_kind="people" if at_passers else "mats",
    )


def draw_panes(app: QApplication, book: Logbook, folder: Path, count: int) -> None:
    """Every question, in light and dark, and two selections side by side."""
    for look in ("light", "dark"):
        apply_theme(app, look)
        pane = StudyPane(cast("Workspace", Stand(book)))
        pane.resize(*SIZE)
        pane.show()
        for number, question in enumerate(QUESTIONS):
            pane.questions.button(number).click()
            settle(app, pane)
            name = question.heading.lower().rstrip("?").replace(" ", "-")
            pane.grab().save(str(folder / f"{count:04d}-{name}-{look}.png"))
        pane.questions.button(0).click()
        pane.beside_button.click()
        settle(app, pane)
        pane.beside.filters.server.setCurrentIndex(min(1, pane.beside.filters.server.count() - 1))
        settle(app, pane)
        pane.grab().save(str(folder / f"{count:04d}-side-by-side-{look}.png"))
        pane.close_workers()
        pane.close()


def settle(app: QApplication, pane: StudyPane) -> None:
    """Wait for the answer."""
    app.processEvents()
    while pane.busy:
        app.processEvents()
    app.processEvents()


def wall_pages(data: ReportData, paper: str) -> dict[str, Page]:
    """Return the pages that stand beside the sheets; the plan is the one the ladder suggests."""
    today = max(data.table["date"], default="2026-10-01")
    blocks = suggested_blocks(climbs(data.table, data.ladder), today, players=data.players, steps=data.ladder)
    plan = PracticePlan(id="plan", date=today, blocks=blocks)
    return {
        "ladder": ladder_page(data, paper),
        "load": load_page(data, paper),
        "match": match_day_page(data, paper),
        "plan": plan_page(data.team, plan, data.players, paper),
    }


def draw_sheets(book: Logbook, folder: Path, count: int) -> None:
    """Every page, both sides of sheets, on both papers, in colour and as a grey printer gives them."""
    evening = read_report_data(book)
    for paper in PAPERS_IN:
        sheets = {
            "team": team_pages(evening, "w0", paper),
            "passers": team_pages(evening, "w1", paper),
            "all": team_pages(evening, None, paper),
            "server": server_pages(evening, "Ines", None, paper),
            **{name: [page] for name, page in wall_pages(evening, paper).items()},
        }
        sides = [(name, side, page) for name, pages in sheets.items() for side, page in enumerate(pages, start=1)]
        for name, side, page in sides:
            picture = Image.fromarray(pixels_of(page.figure, DOTS_PER_IN)).convert("RGB")
            picture.save(folder / f"{count:04d}-sheet-{name}-{side}-{paper}.png")
            picture.convert("L").save(folder / f"{count:04d}-sheet-{name}-{side}-{paper}-grey.png")


def main() -> None:
    """Draw everything into the folder named."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    app = offscreen_app()
    for count in [int(word) for word in sys.argv[2:]] or COUNTS:
        path = folder / f"looks-{count}.logbook"
        path.unlink(missing_ok=True)
        with Logbook.create(path, team="Tidewater U16") as book:
            fill(book, count)
            draw_panes(app, book, folder, count)
            draw_sheets(book, folder, count)
        path.unlink()
        print(f"{count} serves drawn")


if __name__ == "__main__":
    main()

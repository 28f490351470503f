"""Ten thousand serves: how long the table, the filters and the sheets take, and how much memory.

Run with: python tests/benchmarks/study.py [how many serves]. Wanted: with 10,000 serves any change of filter redrawn in
under 0.3 s; with 50,000 opened in under 1.5 s and filtered in under 1 s.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

from serve_marker.desktop.study.questions import QUESTIONS, answer
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.bundle import write_report
from serve_marker.report.page_canvas import save_pdf
from serve_marker.report.sheets import ReportData, read_report_data, read_report_data_without_flights
from serve_marker.report.team_page import team_pages
from serve_marker.report.write_tables import write_xlsx
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.pull import bias_of
from serve_marker.study.rates import aim_rate, area_rates, depth_distribution, in_rate, outcome_counts, seam_hits
from serve_marker.study.serve_columns import serve_table, table_without_flights
from serve_marker.study.spread import spread_of

Made = TypeVar("Made")
SERVES = 10_000
PLAYERS = 20
PRACTICES = 50
AIMS = ("deep 1", "seam 5-6", "deep 5", "")


def fill(logbook: Logbook, serves: int = SERVES) -> None:
    """Put serves of twenty players into fifty practices."""
    chance = np.random.default_rng(1)
    logbook.put(*(Player(id=f"p{n}", name=f"Ines {n}", number=n) for n in range(PLAYERS)))
    records: list[Practice | ClipEntry | Serve] = []
    for week in range(PRACTICES):
        date = f"{2025 + week // 25}-{1 + week % 12:02d}-{1 + week % 28:02d}"
        records.append(Practice(id=f"w{week}", date=date, name=f"Week {week}"))
        path = f"week-{week}.mp4"
        records.append(ClipEntry(id=f"c{week}", practice_id=f"w{week}", path=path, size_bytes=week, fingerprint=path))
    for number in range(serves):
        x_m, y_m = chance.normal((3.0, 7.0), 1.2)
        records.append(
            Serve(
                id=f"s{number:05d}",
                clip_id=f"c{number % PRACTICES}",
                player_id=f"p{chance.integers(PLAYERS)}",
                served_to="b",
                serve_type="jump float",
                aim=AIMS[number % len(AIMS)],
                outcome="net" if chance.random() < 0.1 else "floor",
                contact=Mark(float(number), (1.0, 2.0), 1 / 60, 1 / 60),
                landing=Mark(number + 1.1, (3.0, 4.0), 1 / 60, 1 / 60),
                landing_point=FloorPoint(x_m - 4.5, y_m, 0.01, 0.0, 0.02),
                contact_point=FloorPoint(2.0, -9.2, 0.01, 0.0, 0.01),
            )
        )
    logbook.put(*records)


def open_and_read(path: Path) -> None:
    """What Study does when a logbook is opened."""
    with Logbook.open(path) as logbook:
        read_report_data_without_flights(logbook)


def timed(what: str, work: Callable[[], Made]) -> Made:
    """Print how long some work took and return what it made."""
    start = time.perf_counter()
    made = work()
    print(f"{what:<58} {time.perf_counter() - start:7.3f} s")
    return made


def ask(data: ReportData, choice: ServeFilter) -> None:
    """Print how long each question of Study takes to answer and draw, the best of three."""
    for question in QUESTIONS:
        taken_s = []
        for _ in range(3):
            start = time.perf_counter()
            answer(data, choice, question, "light", (900.0, 500.0), 1.0)
            taken_s.append(time.perf_counter() - start)
        whose = "one server" if choice.player_ids else "all serves"
        print(f"{question.heading + ' ' + whose:<58} {min(taken_s):7.3f} s")


def main() -> None:
    """Print the figures."""
    serves = int(sys.argv[1]) if len(sys.argv) > 1 else SERVES
    with tempfile.TemporaryDirectory() as name, Logbook.create(Path(name) / "big.logbook") as logbook:
        folder = Path(name)
        timed(f"{serves} serves put into a logbook", lambda: fill(logbook, serves))
        timed("table, first time with imports", lambda: table_without_flights(logbook))
        for _ in range(3):
            timed("logbook opened, table without flights", lambda: open_and_read(logbook.path))
        timed("table with every flight solved", lambda: serve_table(logbook))
        data = read_report_data_without_flights(logbook)
        data = timed("flights solved when they are first asked for", data.with_flights)
        ask(data, ServeFilter())
        ask(data, ServeFilter(player_ids=("p3",)))
        narrow = ServeFilter(
            player_ids=("p3", "p4"), serve_types=("jump float",), date_from="2025-03-01", aims=("deep 1",)
        )

        def study(choice: ServeFilter) -> None:
            rows = filter_serves(data.table, choice)
            for count in (in_rate, aim_rate, area_rates, depth_distribution, seam_hits, outcome_counts):
                count(rows)
            spread_of(rows)
            bias_of(rows)

        timed("filter and every study number, first time with imports", lambda: study(narrow))
        timed("filter and every study number, narrow choice", lambda: study(narrow))
        timed("filter and every study number, all serves", lambda: study(ServeFilter()))

        def team_sheet(practice_id: str | None) -> None:
            save_pdf(team_pages(read_report_data(logbook), practice_id), folder / "team.pdf", "Team sheet")

        timed("team sheet of one practice", lambda: team_sheet("w3"))
        timed("team sheet of all serves", lambda: team_sheet(None))
        timed("table of all serves as XLSX", lambda: write_xlsx(data.table, folder / "all.xlsx"))
        timed(
            "team sheet, 20 server pages and tables of one practice", lambda: write_report(logbook, folder / "r", "w3")
        )
    unit = 1 if sys.platform == "darwin" else 1024
    print(f"{'most memory in use':<58} {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6:7.0f} MB")


if __name__ == "__main__":
    main()

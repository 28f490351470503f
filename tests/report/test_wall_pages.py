"""The ladder as a chart and as a page for the wall."""

from __future__ import annotations

import pypdf
import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.report.bundle import write_report
from serve_marker.report.grid_chart import grid_chart
from serve_marker.report.page_canvas import MARGIN_IN, save_pdf
from serve_marker.report.sheets import ReportData, read_report_data
from serve_marker.report.wall_pages import ladder_grid, ladder_page
from serve_marker.study.climb import climbs
from serve_marker.study.ladder import LADDER_SETTING, ladder_text, usual_ladder
from tests.study.test_climb import BAD, DEEP, GOOD, table

COURT = court_named("indoor")


def words_of(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts] + [text.get_text() for text in figure.texts]


def team(count, evenings, **columns):
    import pandas as pd

    parts = [table(*evenings, player=f"player-{n:02d}", **columns).assign(number=float(n)) for n in range(count)]
    serves = pd.concat(parts, ignore_index=True)
    serves.attrs["rho"] = {"rate": 0.0}
    return ReportData("Tidewater", serves, COURT, default_scheme(COURT), ladder=(DEEP,))


def text_of(path):
    reader = pypdf.PdfReader(path)
    return len(reader.pages), " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.parametrize("look", ["light", "dark"])
def test_the_chart_says_how_far_each_server_is(look):
    found = climbs(team(3, [GOOD] * 4).table, [DEEP])
    said = words_of(grid_chart(ladder_grid(found, "2026-10-04"), look, (9.0, 4.0)))
    assert said.count("✓ 2 Oct") == 3
    assert "deep 1" in said
    poor = climbs(team(1, [BAD] * 4).table, [DEEP])
    said = words_of(grid_chart(ladder_grid(poor, "2026-10-04"), look, (9.0, 4.0)))
    assert {"20 of 80", "not yet"} <= set(said)


def test_nobody_to_show_is_said():
    assert "no serves of a known server on a known day" in words_of(
        grid_chart(ladder_grid([], ""), "light", (6.0, 3.0))
    )
    unstepped = climbs(team(1, [GOOD]).table, [])
    assert any("no steps" in words for words in words_of(grid_chart(ladder_grid(unstepped, ""), "light", (6.0, 3.0))))


@pytest.mark.parametrize("count", [1, 12, 30, 60])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_the_wall_chart_is_one_page_for_any_team(count, paper, tmp_path):
    page = ladder_page(team(count, [GOOD] * 3), paper)
    assert page.down_in <= page.height_in - MARGIN_IN
    save_pdf([page], tmp_path / "ladder.pdf", "Ladder")
    pages, text = text_of(tmp_path / "ladder.pdf")
    assert pages == 1
    for words in (
        "Tidewater · Ladder",
        f"{count} of {count} server",
        "takes two dates",
        "a spread of 1.0 m",
        "7 Player-00",
    ):
        assert words in text


def test_the_report_of_a_logbook_holds_its_own_ladder(logbook, tmp_path):
    step = usual_ladder(COURT)[1]
    logbook.set_setting(LADDER_SETTING, ladder_text([step], ()))
    assert read_report_data(logbook).ladder == (step,)
    paths = write_report(logbook, tmp_path / "out", parts=("ladder",))
    assert [path.name for path in paths] == ["ladder.pdf"]
    pages, text = text_of(paths[0])
    assert (pages, "seam 5-6: 38 %" in text, "deep 1: 75 %" in text) == (1, True, False)
    assert write_report(logbook, tmp_path / "one", server="Marit", parts=("ladder",)) == [], "it is the whole team's"

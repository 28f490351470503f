"""The ladder as a chart and as a page for the wall."""

from __future__ import annotations

import pypdf
import pytest

from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import court_named
from serve_marker.logbook.records import PlanBlock, PracticePlan
from serve_marker.report.bundle import write_report
from serve_marker.report.grid_chart import grid_chart
from serve_marker.report.page_canvas import MARGIN_IN, save_pdf
from serve_marker.report.plan_page import plan_page
from serve_marker.report.sheets import ReportData, read_report_data
from serve_marker.report.wall_pages import ladder_grid, ladder_page, load_page
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
    assert "Nobody has served on a known day yet." in words_of(grid_chart(ladder_grid([], ""), "light", (6.0, 3.0)))
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
        "Ladder Tidewater ·",
        f"{count} of {count} server",
        "takes two dates to pass",
        "A spread of 1.0 m does it, 1.4 m does not",
        "7 Player-00",
    ):
        assert words in text


@pytest.mark.parametrize("count", [1, 12, 30, 60])
def test_the_load_is_one_page_for_any_team(count, tmp_path):
    data = team(count, [GOOD] * 3, full_pace=False)
    page = load_page(data)
    assert page.down_in <= page.height_in - MARGIN_IN
    save_pdf([page], tmp_path / "load.pdf", "Load")
    pages, text = text_of(tmp_path / "load.pdf")
    assert pages == 1
    for words in ("Serving load Tidewater ·", "7 Player-00", "20 (0)", "athletic trainer or physician"):
        assert words in text


@pytest.mark.parametrize(("players", "blocks"), [(1, 1), (12, 3), (30, 2)])
def test_a_plan_is_one_page_with_a_box_for_each_serve(players, blocks, tmp_path):
    names = {f"p{number}": f"{number} Odile" for number in range(players)}
    asked = [PlanBlock(player_ids=tuple(names), aim="deep 1", serves=20, minutes=8, reason="not yet")] * blocks
    plan = PracticePlan(id="1", date="2026-11-17", blocks=tuple(asked), absent=("p0", "gone"))
    page = plan_page("Tidewater", plan, names)
    assert page.down_in <= page.height_in - MARGIN_IN
    save_pdf([page], tmp_path / "plan.pdf", "Plan")
    pages, text = text_of(tmp_path / "plan.pdf")
    assert pages == 1
    assert text.count("□") == 20 * players * blocks
    for words in ("Plan Tidewater ·", "Tue 17 Nov 2026", "Absent: 0 Odile.", "20 serves each, 8 min", "not yet"):
        assert words in text
    assert f"{20 * players * blocks} serves in all, {8 * blocks} min." in text


def test_the_plan_printed_is_that_of_the_day_or_the_next_one(logbook, tmp_path):
    """Practices on 6 October and 3 November; plans for 13 October and 3 November."""
    who = logbook.players()[0].id
    for day in ("2026-10-13", "2026-11-03"):
        logbook.put(PracticePlan(id=day, date=day, blocks=(PlanBlock(player_ids=(who,), aim="deep 1"),)))
    data = read_report_data(logbook)
    chosen = [data.plan_for(practice.id) for practice in logbook.practices()]
    assert [plan.date for plan in (*chosen, data.plan_for(None))] == ["2026-10-13", "2026-11-03", "2026-11-03"]
    paths = write_report(logbook, tmp_path / "out", parts=("plan",))
    assert [path.name for path in paths] == ["plan 2026-11-03.pdf"]


def test_the_report_of_a_logbook_holds_its_own_ladder(logbook, tmp_path):
    step = usual_ladder(COURT)[1]
    logbook.set_setting(LADDER_SETTING, ladder_text([step], ()))
    assert read_report_data(logbook).ladder == (step,)
    paths = write_report(logbook, tmp_path / "out", parts=("ladder",))
    assert [path.name for path in paths] == ["ladder.pdf"]
    pages, text = text_of(paths[0])
    assert (pages, "Seam 5-6 needs 38 of" in text, "Deep 1 needs" in text) == (1, True, False)
    assert write_report(logbook, tmp_path / "one", server="Marit", parts=("ladder",)) == [], "it is the whole team's"

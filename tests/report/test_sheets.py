import re
import subprocess
import sys
import textwrap
from dataclasses import replace

import numpy as np
import pandas as pd
import pypdf
import pytest

from serve_marker.errors import UserError
from serve_marker.report import lettering, page_canvas
from serve_marker.report.bundle import write_report
from serve_marker.report.charts import court_chart
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import common_aim, player_ids, practices_by_day, read_report_data
from serve_marker.report.side_view import LARGEST_BALL_IN, depth_chart
from serve_marker.report.team_page import team_pages
from serve_marker.study.rates import landed_mask
from serve_marker.study.sentences import date_words
from serve_marker.study.serve_shape import on_target, shapes_of


def balls(figure):
    """Places and markers of the balls drawn: (N, 2), (N,)."""
    drawn = [line for line in figure.axes[0].lines if line.get_zorder() == 5]
    places = np.concatenate([line.get_xydata() for line in drawn])
    return places, [line.get_marker() for line in drawn for _ in line.get_xdata()]


def team_sheet(book, path, practice_id=None, paper="A4"):
    page_canvas.save_pdf(team_pages(read_report_data(book), practice_id, paper), path, "Team sheet")


def server_sheet(book, path, player_id):
    page_canvas.save_pdf(server_pages(read_report_data(book), player_id), path, "Server page")


def text_of(path):
    return " ".join(" ".join(sheet.extract_text() for sheet in pypdf.PdfReader(path).pages).split())


@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("letter", (215.9, 279.4))])
def test_the_team_sheet_is_a_front_and_a_back_of_the_paper_asked_for(logbook, tmp_path, paper, size_mm):
    team_sheet(logbook, tmp_path / "team.pdf", "practice-0", paper)
    reader = pypdf.PdfReader(tmp_path / "team.pdf")
    box = reader.pages[0].mediabox
    assert len(reader.pages) == 2
    assert [float(side) / 72 * 25.4 for side in (box.width, box.height)] == pytest.approx(size_mm, abs=0.2)


def test_the_team_sheet_says_who_hit_what(logbook, tmp_path):
    team_sheet(logbook, tmp_path / "team.pdf", "practice-0")
    text = text_of(tmp_path / "team.pdf")
    rows = read_report_data(logbook).of_practice("practice-0")
    marit = rows[rows["server"] == "4 Marit"]
    for words in ("Tidewater U16", "Tue 6 Oct 2026", "mats on the floor", "4 Marit", "Too close", "athletic trainer"):
        assert words in text
    found = on_target(marit)
    assert f"{found.hits} of {found.n} in deep 1" in text
    assert "40 serves by 4 servers" in text
    assert "In order of shirt number" in text


def test_sheets_are_vector(logbook, tmp_path):
    team_sheet(logbook, tmp_path / "team.pdf", "practice-0")
    assert not list(pypdf.PdfReader(tmp_path / "team.pdf").pages[0].images)


def test_thirty_servers_with_hard_names_go_on_to_further_pages(many_names, tmp_path):
    """Twelve courts on the first page and sixteen on the next; their table stands on one page, the map on the last."""
    team_sheet(many_names, tmp_path / "team.pdf", "practice-0")
    text = text_of(tmp_path / "team.pdf")
    assert len(pypdf.PdfReader(tmp_path / "team.pdf").pages) == 5
    for words in ("=1+1", "<b>Noor</b>", "$x_1$", "two lines", "page 2 of 5"):
        assert words in text
    assert re.search(r"(Wren){2,5}\w{0,3}(…|\.\.\.)", text), "long names are cut to their column"


def test_a_server_page_is_hers_alone(logbook, tmp_path):
    server_sheet(logbook, tmp_path / "noor.pdf", "player-2")
    text = text_of(tmp_path / "noor.pdf")
    assert ["5 Noor" in sheet.extract_text() for sheet in pypdf.PdfReader(tmp_path / "noor.pdf").pages] == [True] * 2
    assert "Marit" not in text
    assert "2 practices" in text


@pytest.mark.parametrize("player_id", ["nobody", ""])
def test_pages_without_serves_say_so(logbook, player_id):
    pages = server_pages(read_report_data(logbook), player_id)
    words = [text.get_text() for text in pages[0].figure.texts]
    assert "No serves are marked yet." in words
    assert len(team_pages(read_report_data(logbook), "no such practice")) == 1


def test_a_rerun_in_another_process_writes_the_same_bytes(logbook, tmp_path):
    team_sheet(logbook, tmp_path / "here.pdf", "practice-0")
    again = f"""
        from pathlib import Path
        from serve_marker.logbook.store import Logbook
        from serve_marker.report.page_canvas import save_pdf
        from serve_marker.report.sheets import read_report_data
        from serve_marker.report.team_page import team_pages
        with Logbook.open({str(logbook.path)!r}) as book:
            pages = team_pages(read_report_data(book), "practice-0", "A4")
            save_pdf(pages, Path({str(tmp_path / "there.pdf")!r}), "Team sheet")
    """
    subprocess.run([sys.executable, "-c", textwrap.dedent(again)], check=True, env={"PYTHONHASHSEED": "7", "HOME": "/"})
    assert (tmp_path / "here.pdf").read_bytes() == (tmp_path / "there.pdf").read_bytes()


def test_the_report_holds_sheets_pages_and_tables(logbook, tmp_path):
    seen = []
    paths = write_report(logbook, tmp_path / "out", "practice-0", progress=lambda done, of: seen.append((done, of)))
    assert [path.name for path in paths] == [
        "team sheet 2026-10-06 Tuesday.pdf",
        *(f"server {n} {name} 2026-10-06 Tuesday.pdf" for n, name in enumerate(("Ines", "Marit", "Noor", "Priya"), 3)),
        "ladder.pdf",
        "serving load.pdf",
        "match day.pdf",
        "serves 2026-10-06 Tuesday.csv",
        "serves 2026-10-06 Tuesday.xlsx",
    ]
    assert sorted(tmp_path.joinpath("out").iterdir()) == sorted(paths)
    assert seen == [(n, 10) for n in range(11)]


def test_the_next_practice_overwrites_nothing(logbook, tmp_path):
    parts, out = ("team sheet", "server pages", "csv", "xlsx"), tmp_path / "out"
    made = [write_report(logbook, out, practice, parts=parts) for practice in ("practice-0", "practice-1", None)]
    assert [len(paths) for paths in made] == [7, 7, 8]
    assert len(list(out.iterdir())) == 7 + 7 + 6, "only the two team sheets are the same"
    assert {path.name for path in made[2] if path.suffix == ".csv"} == {"serves to 2026-11-03.csv"}


def test_a_long_name_leaves_room_for_the_practice(many_names, tmp_path):
    (page,) = write_report(many_names, tmp_path, "practice-0", parts=("server pages",), player_id="player-7")
    assert page.name.startswith("server 7 Wren")
    assert page.name.endswith(" 2026-10-06 Tuesday.pdf")


def test_a_cancelled_report_leaves_whole_files_only(logbook, tmp_path):
    asked = iter([False, False, True])
    paths = write_report(logbook, tmp_path / "out", cancelled=lambda: next(asked), parts=("team sheet", "csv"))
    assert sorted(tmp_path.joinpath("out").iterdir()) == sorted(paths)
    assert [path.name for path in paths] == ["team sheet 2026-10-06 Tuesday.pdf", "team sheet 2026-11-03 Tuesday 2.pdf"]


@pytest.mark.parametrize("who", ["4", "Marit", " marit "])
def test_one_server_by_number_or_name(logbook, tmp_path, who):
    paths = write_report(logbook, tmp_path / "out", "practice-0", server=who)
    assert [path.name for path in paths] == [
        "server 4 Marit 2026-10-06 Tuesday.pdf",
        *(f"serves 2026-10-06 Tuesday.{end}" for end in ("csv", "xlsx")),
    ]
    assert len((tmp_path / "out" / "serves 2026-10-06 Tuesday.csv").read_text(encoding="utf-8-sig").splitlines()) == 11


def test_an_unknown_server_or_paper_is_one_sentence_and_nothing_is_written(logbook, tmp_path):
    with pytest.raises(UserError, match="3 Ines, 4 Marit"):
        write_report(logbook, tmp_path / "out", server="Zofia")
    with pytest.raises(UserError, match="choose A4 or Letter"):
        write_report(logbook, tmp_path / "out", paper="A3")
    assert not (tmp_path / "out").exists()
    assert player_ids(logbook, "NOOR") == ["player-2"]


def test_a_choice_without_a_common_aim_tints_none(logbook, many_names):
    for book, expected in ((logbook, "deep 1"), (many_names, None)):
        evening = read_report_data(book)
        found = common_aim(evening.table, evening.court, evening.scheme)
        assert (found.text if found else None) == expected


def test_charts_name_every_area_and_every_shape_drawn(logbook):
    evening = read_report_data(logbook)
    figure = court_chart(evening.table, evening.court, evening.scheme)
    words = [text.get_text() for text in figure.axes[0].texts]
    legend = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    assert {"deep 1", "between 6-3", "short 4"} <= set(words)
    assert "on target" in legend
    assert "net, fault or block" in legend
    places, _ = balls(depth_chart(evening.table, evening.court, evening.scheme))
    assert len(places) == evening.table["x_m"].notna().sum()


@pytest.mark.parametrize(("half_m", "across", "up"), [((1.5, 7.5), 1 / 6, 5 / 6), ((8.1, 2.25), 0.9, 0.25)])
def test_a_landing_is_drawn_where_the_server_sees_it(logbook, half_m, across, up):
    """Shares of a half of 9 by 9 m, by hand; its words by the rules: position 1 is right back, on the server's left."""
    evening = read_report_data(logbook)
    row = evening.table[evening.table["verdict"] == "in"].head(1).assign(x_m=half_m[0], y_m=half_m[1])
    figure = court_chart(row, evening.court, evening.scheme)
    figure.canvas.draw()
    axes = figure.axes[0]
    (landing,) = (line for line in axes.lines if line.get_marker() not in ("None", None, ""))
    (court,) = (line for line in axes.lines if np.size(line.get_xdata()) == 4)
    at_px, corners_px = (axes.transData.transform(line.get_xydata()) for line in (landing, court))
    low_px, high_px = corners_px.min(axis=0), corners_px.max(axis=0)
    assert ((at_px[0] - low_px) / (high_px - low_px)).tolist() == pytest.approx([across, up])
    (words,) = (text for text in axes.texts if text.get_text() == "deep 1")
    box = words.get_window_extent()
    assert low_px[0] < box.x0 < box.x1 < low_px[0] + (high_px[0] - low_px[0]) / 3


@pytest.mark.parametrize("look", ["light", "dark", "grey"])
def test_an_empty_choice_still_has_a_court(logbook, look):
    evening = read_report_data(logbook)
    figure = court_chart(evening.table.iloc[:0], evening.court, evening.scheme, look=look)
    assert "no serves" in [text.get_text() for text in figure.axes[0].texts]
    figure.canvas.draw()


def test_of_thousands_the_newest_are_marks_and_the_rest_a_tint(logbook):
    """4,000 landings at one place, then 200 a day later at another: those alone are marks, the tint holds them all."""
    evening = read_report_data(logbook)
    one = evening.table[evening.table["verdict"] == "in"].head(1)
    many = pd.concat([one.assign(date="2026-11-03", x_m=2.0, y_m=7.0)] * 4000, ignore_index=True)
    late = pd.concat([one.assign(date="2026-11-04", x_m=7.0, y_m=4.0)] * 200, ignore_index=True)
    table = pd.concat([late, many], ignore_index=True)
    figure = court_chart(table, evening.court, evening.scheme)
    marks = [line for line in figure.axes[0].lines if line.get_zorder() == 5]
    assert sum(np.size(line.get_xdata()) for line in marks) == 200
    assert {float(x) for line in marks for x in np.asarray(line.get_xdata())} == {7.0}
    (tint,) = figure.axes[0].collections
    assert np.asarray(tint.get_array()).sum() == 4200
    assert tint.get_zorder() < marks[0].get_zorder()
    assert "more fell here; marks: newest 200" in [text.get_text() for text in figure.legends[0].get_texts()]
    assert not court_chart(late, evening.court, evening.scheme).axes[0].collections


def test_letters_the_font_lacks_become_a_box_and_formulas_stay_words():
    assert lettering.drawable("Zofia 🏐 a\n b\x00") == "Zofia □ a b"
    assert lettering.drawable("$x_1$") == "$x_1$"


def test_words_are_cut_and_wrapped_to_the_inch():
    cut = lettering.fitted("Wren" * 30, 1.5, 8.0)
    assert cut.endswith("…")
    assert lettering.width_of(cut, 8.0) <= 1.5
    lines = lettering.wrapped("the middle of the landings is 0.3 m short, 0.4 m right of the aim", 2.0, 9.0)
    assert all(lettering.width_of(line, 9.0) <= 2.0 for line in lines)
    assert not any(line.startswith("m ") for line in lines), "a number keeps its unit"


def test_widths_are_what_the_font_draws():
    font = lettering._font(False)
    font.set_size(100.0, 72.0)
    font.set_text("WARNOVIA 12", 0.0)
    assert lettering.width_of("WARNOVIA 12", 100.0) == pytest.approx(font.get_width_height()[0] / 64 / 72, rel=0.05)


def test_days_are_written_as_people_do():
    """3 November 2026 is a Tuesday (ISO calendar)."""
    assert date_words("2026-11-03") == "Tue 3 Nov 2026"
    assert date_words("") == ""


def test_a_practice_is_called_by_its_day_and_by_its_name_only_where_two_share_it():
    columns = ["practice_id", "practice", "date"]
    serves = pd.DataFrame(
        [["c", "Cup", "2026-03-14"], ["a", "Monday", "2026-03-02"], ["b", "Cup", "2026-03-02"], ["d", "Friday", ""]],
        columns=columns,
    )
    assert practices_by_day(serves) == {
        "d": "Friday",
        "a": "Mon 2 Mar, Monday",
        "b": "Mon 2 Mar, Cup",
        "c": "Sat 14 Mar",
    }
    years = pd.DataFrame([["a", "", "2025-12-31"], ["b", "Cup", "2026-01-01"]], columns=columns)
    assert practices_by_day(years) == {"a": "31 Dec 2025", "b": "1 Jan 2026"}


def test_a_table_draws_only_the_rows_that_fit():
    sheet = page_canvas.Page("A4")
    sheet.down_in = sheet.height_in - page_canvas.MARGIN_IN - 5.6 * page_canvas.ROW_IN
    assert sheet.table([page_canvas.Column("server", 2.0)], [["Marit"]] * 9) == 4


def test_a_serve_whose_place_was_not_marked_is_not_called_too_close_in_the_legend(logbook):
    (serve, *_) = [serve for serve in logbook.serves("practice-0") if serve.outcome == "floor"]
    logbook.put(replace(serve, landing=None, landing_point=None))
    evening = read_report_data(logbook)
    rows = evening.of_practice("practice-0")
    figure = court_chart(rows, evening.court, evening.scheme)
    legend = [text.get_text() for text in figure.legends[0].get_texts()]
    too_close = shapes_of(rows[rows["x_m"].notna()]).count("square")
    assert [words for words in legend if "too close" in words] == (
        [f"too close to a line: {too_close}"] if too_close else []
    )


def test_balls_of_one_depth_lie_on_one_another(logbook):
    """Landings at 8.2 m, four in and three out to the side: a pile of seven, none hidden, the crosses on top."""
    evening = read_report_data(logbook)
    rows = evening.table[landed_mask(evening.table)].head(7).copy()
    rows["y_m"], rows["depth_band"], rows["outcome"] = 8.2, "deep", "floor"
    rows["verdict"], rows["missed"] = ["in"] * 4 + ["out"] * 3, [""] * 4 + ["wide"] * 3
    (places, markers) = balls(depth_chart(rows, evening.court, evening.scheme))
    order = np.argsort(places[:, 1])
    assert np.unique(places[:, 0]).tolist() == [8.125]
    assert np.diff(places[order, 1]) == pytest.approx([np.diff(places[order, 1])[0]] * 6)
    assert 0.05 < np.diff(places[order, 1])[0] <= LARGEST_BALL_IN
    assert [markers[number] for number in order] == ["o"] * 4 + ["x"] * 3


def test_many_balls_of_one_depth_lie_side_by_side_and_none_on_another(logbook):
    evening = read_report_data(logbook)
    rows = evening.table[landed_mask(evening.table)].head(1)
    many = rows.loc[rows.index.repeat(900)].reset_index(drop=True)
    figure = depth_chart(many, evening.court, evening.scheme)
    places, _ = balls(figure)
    assert len(np.unique(places.round(6), axis=0)) == 900
    assert places[:, 1].max() < figure.axes[0].get_ylim()[1]
    assert np.ptp(places[:, 0]) < 0.25


def test_long_balls_lie_beyond_the_end_line_and_are_counted_there(logbook):
    evening = read_report_data(logbook)
    rows = evening.table[landed_mask(evening.table)].head(2).copy()
    rows["outcome"], rows["verdict"], rows["missed"], rows["y_m"] = "floor", "out", "long", [9.4, 14.0]
    figure = depth_chart(rows, evening.court, evening.scheme)
    places, markers = balls(figure)
    assert (places[:, 0] > evening.court.half_length_m).all()
    assert places[:, 0].max() < figure.axes[0].get_xlim()[1]
    assert markers == ["x", "x"]
    said = [text.get_text() for text in figure.axes[0].texts]
    assert said[said.index("long") + 1] == "2"


def test_the_load_told_is_that_of_the_last_week(logbook):
    """Two Tuesdays four weeks apart: 40 serves by four, then 24; two of three serve types are jump serves."""
    words = [text.get_text() for text in team_pages(read_report_data(logbook))[-1].figure.texts]
    assert [load for load in words if re.fullmatch(r"\d+ \(\d+\)", load)] == ["6 (4)"] * 4


def test_servers_told_apart_by_case_only_keep_a_page_each(logbook, tmp_path):
    """File systems of Windows and macOS hold one file for both names, whichever run wrote it."""
    one, other, *_ = logbook.players()
    logbook.put(replace(one, name="Anna", number=4), replace(other, name="ANNA", number=4))
    together = write_report(logbook, tmp_path / "out", parts=("server pages",))
    assert len({path.name.casefold() for path in together}) == 4
    alone = [
        write_report(logbook, tmp_path / "alone", parts=("server pages",), player_id=player.id)[0]
        for player in (one, other)
    ]
    assert {path.name for path in alone} == {path.name for path in together if "anna" in path.name.casefold()}
    assert "ANNA" in text_of(alone[1])
    assert "ANNA" not in text_of(alone[0])

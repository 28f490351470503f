"""Subtitles, calendar, Parquet and marks, each read by a reader that knows nothing of this program."""

from __future__ import annotations

import csv
import datetime
import sys
from dataclasses import replace
from pathlib import Path

import av
import icalendar
import pandas
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import read_marks, view_to_text
from serve_marker.errors import UserError
from serve_marker.logbook.records import Mark, PlanBlock, PracticePlan
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.report.calendar_file import write_calendar
from serve_marker.report.export_columns import EXPORT_COLUMNS, plain_rows
from serve_marker.report.subtitles import cues_of, write_all_subtitles, write_subtitles
from serve_marker.report.write_export import ENDINGS, write_export
from serve_marker.report.write_marks import write_marks
from serve_marker.report.write_parquet import write_parquet
from serve_marker.study.serve_columns import serve_table
from serve_marker.video.clip import open_clip

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
PLAN = PracticePlan(
    id="plan-1",
    date="2026-11-03",
    blocks=(
        PlanBlock(player_ids=("player-0", "player-1"), aim="deep 1", serves=20, minutes=10),
        PlanBlock(player_ids=("player-2",), aim="seam 5-6", serve_type="float", serves=15),
    ),
    absent=("player-3",),
)


def cues_by_ffmpeg(path):
    """(start [s], how long [s], text) of each cue, as FFmpeg's own WebVTT reader tells them."""
    with av.open(str(path)) as file:
        stream = file.streams[0]
        assert stream.codec_context.name == "webvtt"
        return [
            (float(packet.pts * packet.time_base), float(packet.duration * packet.time_base), bytes(packet))
            for packet in file.demux(stream)
            if packet.pts is not None and packet.duration is not None
        ]


def test_subtitles_tell_server_and_verdict_at_each_serves_time(logbook, tmp_path):
    write_subtitles(logbook, tmp_path / "evening-0.vtt", "somewhere/evening-0.mp4")
    rows = serve_table(logbook).query("clip == 'evening-0.mp4'").to_dict("records")
    cues = cues_by_ffmpeg(tmp_path / "evening-0.vtt")

    assert len(cues) == len(rows) == 40
    for (from_s, shown_s, text), row in zip(cues, rows, strict=True):
        assert from_s == pytest.approx(row["contact_s"], abs=0.001)
        assert from_s + shown_s == pytest.approx(row["landing_s"] + 2.5, abs=0.002)
        server, verdict = text.decode().split("\n")
        assert server == row["server"]
        assert verdict.startswith(row["verdict"] or row["outcome"])
        assert ("on target" in verdict) == (row["aim_hit"] is True)


def test_names_cannot_break_out_of_a_cue(many_names, tmp_path):
    """WebVTT, 6.4: &, < and > are escaped; a line break or --> in a name would begin another cue."""
    player = many_names.players()[0]
    many_names.put(replace(player, name="<b>00:00 --> 99:00\n\nWEBVTT & co"))
    write_subtitles(many_names, tmp_path / "all.vtt")
    cues = cues_by_ffmpeg(tmp_path / "all.vtt")
    assert len(cues) == 240
    assert all(len(text.decode().split("\n")) == 2 for *_, text in cues)
    assert sum(b"&lt;b&gt;00:00 --&gt; 99:00\\n\\nWEBVTT &amp; co" in text for *_, text in cues) == 8


def test_a_serve_soon_after_ends_the_one_before_and_one_without_contact_begins_a_second_earlier(logbook):
    first, second, third = logbook.serves(practice_id="practice-0")[:3]
    logbook.put(
        replace(first, contact=Mark(1.0), landing=Mark(2.0)),
        replace(second, contact=Mark(3.5), landing=Mark(4.5)),
        replace(third, contact=None, landing=Mark(0.4)),
    )
    cues = cues_of(serve_table(logbook, "practice-0"))[:3]
    assert [(cue.from_s, cue.to_s) for cue in cues] == [(0.0, 1.0), (1.0, 3.5), (3.5, 7.0)]


def test_which_clip_is_meant_has_to_be_told_where_there_are_several(logbook, tmp_path):
    with pytest.raises(UserError, match=r'name it with --clip. Known: "evening-0.mp4", "evening-1.mp4"'):
        write_subtitles(logbook, tmp_path / "x.vtt")
    assert list(tmp_path.glob("*.vtt")) == []
    paths = write_all_subtitles(logbook, tmp_path)
    assert [path.name for path in paths] == ["evening-0.vtt", "evening-1.vtt"]
    assert len(cues_by_ffmpeg(paths[1])) == 24
    (alone,) = write_all_subtitles(logbook, tmp_path, "practice-1", "player-0")
    assert len(cues_by_ffmpeg(alone)) == 6


def test_a_calendar_holds_the_plans_as_days(logbook, tmp_path):
    hard = replace(logbook.players()[0], name='Ines; "Ace", Jr\\n\r\nBEGIN:VEVENT 🏐' + "e" * 90)
    logbook.put(PLAN, replace(PLAN, id="plan\r\n2", date="2026-12-31"), hard)
    write_calendar(logbook, tmp_path / "plans.ics")
    raw = (tmp_path / "plans.ics").read_bytes()
    assert max(map(len, raw.split(b"\r\n"))) <= 75
    assert raw.count(b"\n") == raw.count(b"\r\n")

    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert [event.decoded("dtstart") for event in events] == [datetime.date(2026, 11, 3), datetime.date(2026, 12, 31)]
    assert events[1].decoded("dtend") == datetime.date(2027, 1, 1)
    assert str(events[0]["summary"]) == "Serving practice Tidewater U16"
    told = str(events[0]["description"]).split("\n")
    assert told[0].startswith('1. deep 1, 20 serves each, 10 min: 3 Ines; "Ace", Jr')
    assert told[1:] == ["2. seam 5-6, float, 15 serves each: 5 Noor", "Absent: 6 Priya."]


def test_without_a_plan_there_is_no_calendar(logbook, tmp_path):
    with pytest.raises(UserError, match="No practice is planned"):
        write_export(logbook, tmp_path / "plans.ics")
    assert not (tmp_path / "plans.ics").exists()


def test_parquet_holds_every_column_with_its_kind(logbook, tmp_path):
    pytest.importorskip("pyarrow", reason="the extra parquet is not installed")
    table = serve_table(logbook)
    write_parquet(table, tmp_path / "serves.parquet")
    read = pandas.read_parquet(tmp_path / "serves.parquet")
    assert tuple(read.columns) == EXPORT_COLUMNS
    cells = [[None if pandas.isna(cell) else cell for cell in row] for row in read.itertuples(index=False)]
    assert cells == list(plain_rows(table))
    write_parquet(table[:0], tmp_path / "none.parquet")
    import pyarrow.parquet

    empty, full = (pyarrow.parquet.read_schema(tmp_path / f"{name}.parquet") for name in ("none", "serves"))
    assert empty == full
    kinds = {str(full.field(name).type) for name in ("x_m", "effort", "net_clearance_m", "contact_s", "pace_mps")}
    assert kinds == {"double"}
    assert [str(full.field(name).type) for name in ("aim_hit", "pass_rating", "zone", "date")] == [
        *("bool", "int64", "string", "string")
    ]


def test_without_its_library_parquet_is_one_sentence(run, logbook, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    logbook.close()
    answer = run("export", logbook.path, "-o", tmp_path / "serves.parquet")
    assert (answer.code, answer.err) == (2, "Parquet needs one more library; install serve-marker with [parquet].\n")
    assert not (tmp_path / "serves.parquet").exists()


def test_an_unknown_ending_names_the_known_ones(logbook, tmp_path):
    with pytest.raises(UserError, match=r"all\.docx has no ending that is known; choose one of \.csv, .*\.ics\."):
        write_export(logbook, tmp_path / "all.docx")
    for ending in set(ENDINGS) - {".ics", ".parquet"}:
        write_export(logbook, tmp_path / f"ALL{ending.upper()}", "evening-0.mp4")
        assert (tmp_path / f"ALL{ending.upper()}").stat().st_size > 1000


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    """The clip of a sample, its view, and a logbook its table of marks was read into."""
    name = "winter-stand"
    clip = open_clip(SAMPLES / f"{name}.mp4")
    sheet = read_marks(SAMPLES / f"{name}.marks.json")
    view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, sheet.traces).view
    folder = tmp_path_factory.mktemp("marks")

    def read_in(table: Path, name: str) -> Logbook:
        book = Logbook.create(folder / name)
        import_marks(book, table, clip, view, view_to_text(view), "Tuesday", "2026-11-03", from_film=False)
        return book

    with read_in(SAMPLES / f"{name}.marks.csv", "first.logbook") as book:
        yield clip, book, read_in


def marks_as_read(book):
    """The serves as marked, players by their words instead of ids made anew for each logbook."""
    names = {player.id: (player.name, player.number) for player in book.players()}
    of = ("player_id", "passer_id")
    return [
        (
            *(names.get(getattr(serve, one)) for one in of),
            replace(serve, id="", clip_id="", view_id="", **dict.fromkeys(of)),
        )
        for serve in book.serves()
    ]


def test_marks_go_out_as_they_came_in(sample, tmp_path):
    clip, book, read_in = sample
    count, more = write_marks(book, clip, tmp_path / "out.csv")
    with read_in(tmp_path / "out.csv", "again.logbook") as again:
        assert marks_as_read(again) == marks_as_read(book)
    assert (count, more) == (len(book.serves()), 0)
    with (SAMPLES / "winter-stand.marks.csv").open(encoding="utf-8-sig", newline="") as file:
        given = sorted((row["landing_frame"], row["contact_frame"], row["outcome"]) for row in csv.DictReader(file))
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as file:
        written = sorted((row["landing_frame"], row["contact_frame"], row["outcome"]) for row in csv.DictReader(file))
    assert written == given


def test_a_pixel_on_the_ball_is_left_out_and_told(run, sample, tmp_path):
    clip, book, _ = sample
    copy = tmp_path / "copy.logbook"
    copy.write_bytes(book.path.read_bytes())
    with Logbook.open(copy) as other:
        serve, mark = next((one, one.landing) for one in other.serves() if one.landing and one.landing.pixel)
        other.put(replace(serve, landing=replace(mark, on_ball=True), full_pace=True))
    answer = run("marks", "export", copy, "-o", tmp_path / "out.csv", "--clip", clip.path)
    told = answer.out.splitlines()
    assert told == [
        f"{len(book.serves())} serves written to out.csv.",
        "Such a table leaves out part of 1 serve; JSON holds all.",
    ]
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as file:
        frame = str(clip.frame_at(mark.time_s))
        (row,) = [row for row in csv.DictReader(file) if row["landing_frame"] == frame]
    assert (row["landing_x_px"], row["landing_y_px"]) == ("", "")


def test_a_clip_without_serves_has_no_marks(run, logbook, tmp_path):
    logbook.close()
    answer = run("marks", "export", logbook.path, "-o", tmp_path / "o.csv", "--clip", SAMPLES / "autumn-gallery.mp4")
    assert answer.code == 2
    assert answer.err == "team.logbook has no serves of autumn-gallery.mp4; choose another clip.\n"

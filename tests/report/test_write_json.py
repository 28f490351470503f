"""A logbook as JSON: everything comes back equal, and what is damaged or hostile is one sentence and no file."""

from __future__ import annotations

import copy
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook import json_tables
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.json_tables import FIRST_JSON_VERSION, JSON_VERSION, tables_of, write_logbook
from serve_marker.logbook.migration import bring_up_to_date
from serve_marker.logbook.records import Mark, PlanBlock, PracticePlan, Tally
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.second_marks import SecondMark
from serve_marker.logbook.store import Logbook
from serve_marker.report.export_columns import EXPORT_COLUMNS
from serve_marker.report.write_json import write_json
from serve_marker.study.serve_columns import serve_table
from tests.test_demo_season import SEASON, logbook_of

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "json-format.md").read_text(encoding="utf-8")


def contents(book: Logbook) -> list[str]:
    """Every row of the file itself, checksums too, as SQLite writes it."""
    return [line for line in book._connection.iterdump() if line.startswith("INSERT")]


@pytest.fixture
def written(logbook, tmp_path):
    """A logbook with something in most tables, and its JSON."""
    serve = logbook.serves()[0]
    balls = replace(serve, ball_marks=(Mark(9.98, (1.5, 2.25)),), film_marks=(Mark(10.02, None, on_ball=True),))
    logbook.put(
        replace(balls, note='said "=1+1",\nthen 🏐'),
        Consent(id="player-0", team_from="2026-09-01"),
        Tally(id="t", date="2026-10-06", player_id="player-1", serves=12),
        PracticePlan(id="p", date="2026-11-03", blocks=(PlanBlock(player_ids=("player-0",), aim="deep 1"),)),
        SecondMark(id="m", serve_id=serve.id, name="Britt", serve=serve),
    )
    logbook.put_view_draft("clip-0", 0.0, "{}")
    write_json(logbook, tmp_path / "team.json")
    return tmp_path / "team.json"


def test_a_logbook_made_of_the_json_is_equal_to_the_last_row(logbook, written, tmp_path):
    write_logbook(written, tmp_path / "new.logbook")

    with Logbook.open(tmp_path / "new.logbook") as again:
        assert contents(again) == contents(logbook)
        assert again.serves() == logbook.serves()
        assert again.check() == []


def test_a_whole_season_with_its_views_comes_back_equal(tmp_path):
    with logbook_of(SEASON, tmp_path / "season.logbook") as book:
        write_json(book, tmp_path / "season.json")
        write_logbook(tmp_path / "season.json", tmp_path / "again.logbook")
        with Logbook.open(tmp_path / "again.logbook") as again:
            assert contents(again) == contents(book)


def test_the_serves_told_are_those_of_the_table(logbook, written):
    plain = json.loads(written.read_text(encoding="utf-8"))
    table = serve_table(logbook)

    assert [one["serve_id"] for one in plain["serves"]] == table["serve_id"].tolist()
    assert tuple(plain["serves"][0]) == EXPORT_COLUMNS
    assert plain["serves"][0]["note"] == 'said "=1+1",\nthen 🏐'
    placed = int(table["x_m"].first_valid_index())
    assert plain["serves"][placed]["x_m"] == round(table["x_m"][placed], 4)
    assert {one["aim_hit"] for one in plain["serves"]} <= {True, False, None}


def test_the_page_names_every_table_and_column(logbook):
    from contextlib import closing

    with closing(logbook._connection.cursor()) as cursor:
        for table in tables_of(logbook):
            assert re.search(rf"\b{table}\b", PAGE), table
            for _, column, *_ in cursor.execute(f"PRAGMA table_info({table})").fetchall():
                assert column == "checksum" or re.search(rf"\b{column}\b", PAGE), f"{table}.{column}"
    assert f'"version": {JSON_VERSION}' in PAGE


def test_the_first_version_is_still_read(monkeypatch, written, tmp_path):
    """A step added later is taken by what was written before it, as by a logbook."""

    def later(connection):
        connection.execute("ALTER TABLE player ADD COLUMN height_m REAL")

    assert json.loads(written.read_text(encoding="utf-8"))["version"] >= FIRST_JSON_VERSION
    taken = []

    def take_steps(book, steps=(*MIGRATIONS, later)):
        taken.append(len(steps))
        bring_up_to_date(book, steps)

    def told(book, _target):
        taken.append(book.rows("player", "height_m"))

    monkeypatch.setattr(json_tables, "bring_up_to_date", take_steps)
    monkeypatch.setattr(json_tables, "write_rescued", told)
    write_logbook(written, tmp_path / "new.logbook")
    assert taken == [JSON_VERSION, JSON_VERSION + 1, [(None,)] * 4]


def row_of(plain, table):
    return plain["tables"][table][0]


HARM = {
    "is no JSON of a logbook": lambda plain: plain.update(format="another"),
    "is no JSON of a logbook; ": lambda plain: plain.update(version="21"),
    "written by a newer Serve Marker": lambda plain: plain.update(version=JSON_VERSION + 1),
    "cannot be read; export them again": lambda plain: plain.update(tables=7),
    'lacks a table: "serve"': lambda plain: plain["tables"].pop("serve"),
    'a table that no logbook has: "x; DROP TABLE serve"': lambda plain: plain["tables"].update(
        {"x; DROP TABLE serve": []}
    ),
    "Row 1 of player in team.json has other columns": lambda plain: row_of(plain, "player").pop("hand"),
    "Row 1 of serve in team.json has other columns": lambda plain: row_of(plain, "serve").update(checksum=1),
    "Row 1 of player in team.json holds an impossible": lambda plain: row_of(plain, "player").update(name=7),
    "Row 1 of player in team.json holds an impossible value": lambda plain: row_of(plain, "player").update(
        hand="third"
    ),
    "The name holds a NUL character": lambda plain: row_of(plain, "player").update(name="No\0or"),
    "holds an impossible value; export": lambda plain: row_of(plain, "serve").update(landing_time_s="soon"),
    "Row 2 of player in team.json": lambda plain: plain["tables"]["player"].insert(0, row_of(plain, "player")),
    "belongs to a player that is gone": lambda plain: row_of(plain, "serve").update(player_id="nobody"),
    "belongs to a clip that is gone": lambda plain: plain["tables"]["clip"].clear(),
    "is no date": lambda plain: row_of(plain, "practice").update(date="tomorrow"),
    "landing_x_m is beyond reason": lambda plain: row_of(plain, "serve").update(landing_x_m=1e12),
    "cannot be read; enter it again": lambda plain: row_of(plain, "practice_plan").update(blocks="[7]"),
    "cannot be read; export them": lambda plain: plain["tables"].update(player=[7]),
}


@pytest.mark.parametrize("sentence", HARM)
def test_what_is_damaged_or_hostile_is_one_sentence_and_no_logbook(written, tmp_path, sentence):
    plain = json.loads(written.read_text(encoding="utf-8"))
    HARM[sentence](plain)
    written.write_text(json.dumps(plain), encoding="utf-8")
    with pytest.raises(UserError, match=re.escape(sentence)):
        write_logbook(written, tmp_path / "new.logbook")
    assert not (tmp_path / "new.logbook").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", "[" * 100_000, '{"version": 1e999}', '{"version": NaN}'])
def test_what_is_no_json_is_one_sentence(tmp_path, text):
    (tmp_path / "team.json").write_text(text, encoding="utf-8")
    with pytest.raises(UserError, match=r"team\.json is no JSON of a logbook; choose a file that export wrote\."):
        write_logbook(tmp_path / "team.json", tmp_path / "new.logbook")


def test_every_part_of_a_broken_off_file_is_refused(written, tmp_path):
    text = written.read_text(encoding="utf-8")
    for share in (0.1, 0.5, 0.9, 0.999):
        written.write_text(text[: int(share * len(text))], encoding="utf-8")
        with pytest.raises(UserError, match="is no JSON of a logbook"):
            write_logbook(written, tmp_path / "new.logbook")


def test_a_logbook_that_is_there_is_never_touched(written, logbook):
    before = copy.copy(logbook.path.read_bytes())
    with pytest.raises(UserError, match="is there already"):
        write_logbook(written, logbook.path)
    assert logbook.path.read_bytes() == before


def test_the_commands_export_and_import(run, logbook, tmp_path):
    logbook.close()
    exported = run("export", logbook.path, "-o", tmp_path / "all.json")
    imported = run("logbook", "import", tmp_path / "all.json", "-o", tmp_path / "new.logbook")
    assert (exported.code, imported.code) == (0, 0), exported.err + imported.err
    with Logbook.open(tmp_path / "new.logbook") as again, Logbook.open(logbook.path) as book:
        assert again.serves() == book.serves()


def test_whoever_did_not_agree_is_not_in_the_json(run, logbook, tmp_path):
    logbook.put(Consent(id="player-0", filmed_from="2026-01-01", team_from="2026-01-01"))
    logbook.close()
    assert run("export", logbook.path, "-o", tmp_path / "all.json").code == 0
    text = (tmp_path / "all.json").read_text(encoding="utf-8")
    assert "Ines" in text
    assert not any(name in text for name in ("Marit", "Noor", "Priya"))

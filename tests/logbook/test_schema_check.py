"""A logbook is data, and only ours: what else a file holds is refused before any of it can run."""

import re
import sqlite3
import struct
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from serve_marker.cli import app
from serve_marker.errors import UserError
from serve_marker.logbook import limited_connection
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.schema_check import parts_of_version, schema_parts
from serve_marker.logbook.store import Logbook

ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n"
PLANTED = {
    "serves vanish": "CREATE TRIGGER gone AFTER INSERT ON serve BEGIN DELETE FROM serve WHERE id = new.id; END",
    "writes are ignored": "CREATE TRIGGER deaf BEFORE INSERT ON serve BEGIN SELECT RAISE(IGNORE); END",
    "a view": "CREATE VIEW best AS SELECT * FROM serve",
    "a table": "CREATE TABLE more (x)",
    "an index": "CREATE INDEX odd ON serve (abs(landing_x_px))",
    "a column": "ALTER TABLE player ADD COLUMN twice INTEGER AS (number * 2)",
    "a default": "ALTER TABLE player ADD COLUMN born TEXT DEFAULT 'today'",
    "a table is gone": "DROP TABLE trial",
    "an index is gone": "DROP INDEX serve_clip",
    "statistics": "ANALYZE",
}


def planted(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(statement)


def rewritten(path: Path, before: str, after: str) -> None:
    """Change the text of the schema as an attacker would, past all checks."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_schema SET sql = replace(sql, ?, ?)", (before, after))
        connection.execute("PRAGMA writable_schema = RESET")


@pytest.mark.parametrize("statement", PLANTED.values(), ids=PLANTED)
def test_what_no_logbook_holds_is_refused(logbook: Logbook, statement: str) -> None:
    logbook.close()
    planted(logbook.path, statement)
    before = logbook.path.read_bytes()

    with pytest.raises(UserError, match=r"team\.logbook"):
        Logbook.open(logbook.path)
    assert logbook.path.read_bytes() == before


def test_the_sentence_names_what_is_foreign_and_steers_no_terminal(logbook: Logbook) -> None:
    logbook.close()
    planted(logbook.path, 'CREATE TRIGGER "x\x1b[2J" AFTER DELETE ON gym BEGIN SELECT 1; END')

    with pytest.raises(UserError) as caught:
        Logbook.open(logbook.path)
    assert str(caught.value) == (
        r'team.logbook holds a trigger no logbook has, "x\x1b[2J"; work on your latest copy of it.'
    )


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("BETWEEN 0 AND 4", "BETWEEN 0 AND 9"),
        ("name TEXT NOT NULL", "name TEXT NOT NULL DEFAULT (hex(randomblob(9)))"),
        ("REFERENCES player (id) DEFERRABLE", "REFERENCES player (id) ON DELETE CASCADE DEFERRABLE"),
        (") STRICT", ")"),
        ("note TEXT NOT NULL", "note TEXT NOT NULL CHECK (length(note) > 0)"),
    ],
)
def test_a_table_made_otherwise_is_refused(logbook: Logbook, before: str, after: str) -> None:
    logbook.close()
    rewritten(logbook.path, before, after)

    with pytest.raises(UserError, match=r"is (not as Serve Marker makes it|damaged)"):
        Logbook.open(logbook.path)


def test_an_endless_view_in_place_of_a_table_hangs_nothing(logbook: Logbook) -> None:
    logbook.close()
    with closing(sqlite3.connect(logbook.path, isolation_level=None)) as connection:
        connection.execute("DROP TABLE trial")
        connection.execute(f"CREATE VIEW trial AS {ENDLESS}")
    started_s = time.monotonic()

    with pytest.raises(UserError, match='a view no logbook has, "trial"'):
        Logbook.open(logbook.path)
    assert time.monotonic() - started_s < 60, "it never ends where the view is asked"


def test_check_no_longer_calls_a_planted_trigger_sound(logbook: Logbook) -> None:
    logbook.close()
    planted(logbook.path, PLANTED["serves vanish"])

    answer = CliRunner().invoke(app, ["logbook", "check", str(logbook.path)])
    assert isinstance(answer.exception, UserError)
    assert "sound" not in answer.output


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_each_older_version_is_held_against_what_it_wrote(tmp_path: Path, version: int) -> None:
    path = tmp_path / "old.logbook"
    path.touch()
    with closing(connect(path)) as connection:
        migrate(connection, path, MIGRATIONS[:version])
        assert set(schema_parts(connection)) == parts_of_version(version)
        connection.execute("CREATE TRIGGER evil AFTER INSERT ON gym BEGIN DELETE FROM gym; END")

    with pytest.raises(UserError, match="evil"):
        Logbook.open(path)
    assert [file.name for file in tmp_path.iterdir()] == ["old.logbook"], "nothing of it was migrated"
    with closing(connect(path)) as connection:
        connection.execute("DROP TRIGGER evil")
    Logbook.open(path).close()


def what_is_read(path: Path) -> str:
    """The ids of a logbook's serves, or the sentence that refuses it."""
    try:
        with Logbook.open(path) as opened:
            return " ".join(serve.id for serve in opened.serves())
    except UserError as error:
        return str(error)


OLDER = {
    "half a character": (3, "INSERT INTO setting VALUES ('stretches c', '[[1, \"\\ud800\"]]')"),
    "endless times": (3, "INSERT INTO setting VALUES ('stretches c', '[[1e999, \"v\"]]')"),
    "deep": (3, "INSERT INTO setting SELECT 'stretches c', replace(hex(zeroblob(50000)), '0', '[')"),
    "a kind nobody knows": (4, "UPDATE practice SET target_kind = 'other'"),
    "text that is none": (8, "UPDATE serve SET passer = CAST(x'ff' AS TEXT)"),
    "a formation that is none": (12, "INSERT INTO formation VALUES ('f', 'x', '{\"passers\": [7]}')"),
    "a name that is none": (12, "UPDATE player SET name = CAST(x'c328' AS TEXT)"),
    "no rows are right": (17, "UPDATE player SET name = CAST(x'c328' AS TEXT)"),
}


@pytest.mark.parametrize(("version", "change"), OLDER.values(), ids=OLDER)
def test_what_no_older_version_wrote_is_a_sentence(tmp_path: Path, version: int, change: str) -> None:
    """Older logbooks are brought up to date whatever they hold, or refused, and then left as they were."""
    path = tmp_path / "old.logbook"
    path.touch()
    with closing(connect(path)) as connection:
        migrate(connection, path, MIGRATIONS[:1])
        connection.execute("INSERT INTO player (id, name, position, hand) VALUES ('p', 'Ines', '', 'right')")
        connection.execute("INSERT INTO practice VALUES ('m', '2026-03-02', 'Monday', NULL, 'drill', 'none')")
        connection.execute("INSERT INTO clip VALUES ('c', 'm', 'film.mp4', 5, 'ab', NULL)")
        connection.execute(
            "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note) "
            "VALUES ('s', 'c', 'float', '', 'net', 'Noor', '')"
        )
        migrate(connection, path, MIGRATIONS[:version])
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(change)

    assert re.fullmatch(r"s|[^\n]*old\.logbook[^\n]*\.", what_is_read(path))


def test_space_between_words_makes_no_other_schema(logbook: Logbook) -> None:
    logbook.close()
    rewritten(logbook.path, "        id TEXT PRIMARY KEY", "\tid  TEXT\nPRIMARY KEY")

    with Logbook.open(logbook.path) as again:
        assert len(again.serves()) == 1


def test_every_statement_ends(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limited_connection, "QUERY_LIMIT_S", 0.2)

    with pytest.raises(UserError, match=r"team\.logbook took longer than any logbook should"):
        logbook._read(ENDLESS)
    assert len(logbook.serves()) == 1


def test_functions_in_a_schema_are_not_trusted(logbook: Logbook) -> None:
    read = logbook._connection.execute
    assert read("PRAGMA trusted_schema").fetchone() == (0,)
    assert read("PRAGMA cell_size_check").fetchone() == (1,)
    with pytest.raises(sqlite3.Error, match="too many attached"):
        read("ATTACH ':memory:' AS other")


@pytest.mark.parametrize(
    "trigger",
    [
        "BEFORE INSERT ON serve BEGIN SELECT RAISE(IGNORE); END",
        "BEFORE INSERT ON ball_mark BEGIN SELECT RAISE(IGNORE); END",
        "AFTER INSERT ON serve BEGIN DELETE FROM serve WHERE id = new.id; END",
        "AFTER INSERT ON serve BEGIN UPDATE serve SET checksum = 7 WHERE id = new.id; END",
        "AFTER INSERT ON ball_mark BEGIN DELETE FROM ball_mark WHERE position = new.position; END",
    ],
)
def test_a_swallowed_row_is_no_success(logbook: Logbook, trigger: str) -> None:
    """A trigger that comes while the logbook is open: the change is refused whole."""
    planted(logbook.path, f"CREATE TRIGGER deaf {trigger}")
    serve = logbook.serves()[0]

    with pytest.raises(UserError, match="did not keep what was to be written"):
        logbook.put(replace(serve, id="second"))
    assert logbook.serves() == [serve]


def journal_naming(database: Path, other: Path) -> bytes:
    """A journal with nothing to undo that names another file (SQLite's file format, section 3)."""
    name, magic, page = str(other).encode(), bytes.fromhex("d9d505f920a163d7"), 4096
    header = magic + struct.pack(">IIIII", 0, 0, database.stat().st_size // page, 512, page)
    checksum = sum(name) & 0xFFFFFFFF
    return (
        header.ljust(512, b"\0")
        + struct.pack(">I", 0x40000000 // page + 1)
        + name
        + struct.pack(">II", len(name), checksum)
        + magic
    )


def test_a_journal_removes_no_other_file(logbook: Logbook, tmp_path: Path) -> None:
    """SQLite alone removes the file that a journal names: that is what is refused."""
    logbook.close()
    film = tmp_path / "holiday.mp4"
    film.write_bytes(b"film\0")
    journal = logbook.path.with_name("team.logbook-journal")
    journal.write_bytes(journal_naming(logbook.path, film))

    with pytest.raises(UserError, match=r"team\.logbook-journal is not of a logbook; move it away"):
        Logbook.open(logbook.path)
    assert film.exists()
    with closing(sqlite3.connect(logbook.path)) as plain:
        plain.execute("SELECT count(*) FROM serve")
    assert not film.exists()


def test_a_large_file_has_the_time_it_takes_to_be_read_and_no_more() -> None:
    """At 3 MB a second, as slow sticks read: 30 s, 330 s for 900 MB, and ten minutes at most."""
    connection = sqlite3.connect(":memory:", factory=limited_connection.LimitedConnection)
    found_s = []
    for size_bytes in (0, 900_000_000, 10**15):
        connection.allow_for(size_bytes)
        found_s.append(connection.limit_s)
    connection.close()
    assert found_s == [30.0, 330.0, 600.0]

"""A bit that flips on a disk is found by `check`, and the serve it belongs to is named."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from zlib import crc32

import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.logbook.checksums import CHECKSUM, checksum_of, wrong_rows
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect
from serve_marker.logbook.records import NextServes, PlanBlock, PracticePlan, Season, StoredFormation, Tally, Trial
from serve_marker.logbook.schema import MIGRATIONS, checksums_of_rows
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.tables import TABLE_OF

THE_SERVE = 'The serve at 2.12 s of "film.mp4" on "2026-03-02" in team.logbook'
NOT_AS_WRITTEN = "is not as it was written. Look at it and enter it again."
BEFORE_CHECKSUMS = MIGRATIONS.index(checksums_of_rows)


def flipped(path: Path, found: bytes, byte: int, bit: int = 0) -> None:
    """Flip one bit of the only place in a file where some bytes stand."""
    content = bytearray(path.read_bytes())
    assert content.count(found) == 1
    content[content.index(found) + byte] ^= 1 << bit
    path.write_bytes(content)


def test_a_checksum_is_the_crc_of_json() -> None:
    """Worked by hand: the JSON of the cells, through zlib's own CRC-32."""
    assert checksum_of(("Noor", 7, None, 0.5)) == crc32(b'["Noor", 7, null, 0.5]')


@given(st.lists(st.none() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | st.text("aé🏐\x1b")))
def test_a_checksum_is_the_same_for_what_a_file_gives_back(cells: list[float | str | None]) -> None:
    with closing(sqlite3.connect(":memory:")) as connection:
        kept = [connection.execute("SELECT ?", (cell,)).fetchone()[0] for cell in cells]

    assert checksum_of(kept) == checksum_of(cells)


def test_every_table_keeps_checksums_and_every_column_is_known(logbook: Logbook) -> None:
    read = logbook._connection.execute
    tables = [name for (name,) in read("SELECT name FROM sqlite_schema WHERE type = 'table'")]
    columns = {name: [row[1] for row in read(f"PRAGMA table_info({name})")] for name in tables}

    assert all(CHECKSUM in names for names in columns.values())
    for table in TABLE_OF.values():
        assert sorted(columns[table.name]) == sorted([*table.columns, CHECKSUM])


def test_all_that_is_written_has_its_checksum(logbook: Logbook) -> None:
    """Every kind of record and everything kept beside them, written and written again."""
    serve = logbook.serves()[0]
    more = (
        Season(id="s", name="2025/26", shirts=(("ines", 4),)),
        NextServes(id="n", practice_id="march", view_id="stand", orders=(("ines",), ())),
        StoredFormation(id="f", name="three", document="{}"),
        Tally(id="t", date="2026-03-02", player_id="ines", serves=30, full_pace=3),
        PracticePlan(id="p", date="2026-03-02", blocks=(PlanBlock(player_ids=("ines",)),)),
        Trial(id="r", name="toss", drawn_on="2026-03-02", retest_on="2026-04-02", tries=("ines",)),
        replace(logbook.clips()[0], later_views=((1.0, "stand"), (2.5, None)), filmed_at_fps=240),
    )
    for _ in range(2):
        logbook.put(*more)
        logbook.put_view_draft("film", 0, "{}")
        logbook.put_checked_view("film", "stand")
        logbook.set_setting("scheme", "{}")
        logbook.change_serves([(serve, replace(serve, landing_height_m=-0.0))])
        serve = logbook.serves()[0]

    assert list(wrong_rows(logbook._connection)) == []
    assert logbook.check() == []


def test_a_flipped_bit_in_a_serve_is_found_and_named(logbook: Logbook) -> None:
    logbook.close()
    flipped(logbook.path, b'said "again"', byte=6)

    with Logbook.open(logbook.path) as again:
        assert len(again.serves()) == 1, "the others are read as ever"
        assert again.check() == [f"{THE_SERVE} {NOT_AS_WRITTEN}"]


def test_a_flipped_bit_in_a_mark_of_the_ball_names_its_serve(logbook: Logbook) -> None:
    logbook._connection.execute("UPDATE ball_mark SET x_px = x_px + 1 WHERE position = 0")

    assert logbook.check() == [f"{THE_SERVE} {NOT_AS_WRITTEN}"]


@pytest.mark.parametrize("bit", range(8))
def test_a_text_that_is_no_unicode_any_more_is_named(logbook: Logbook, bit: int) -> None:
    logbook.close()
    flipped(logbook.path, b'said "again"', byte=6, bit=bit)

    with Logbook.open(logbook.path) as again:
        assert again.check() == [f"{THE_SERVE} {NOT_AS_WRITTEN}"]


def test_records_without_a_moment_are_called_by_their_name(logbook: Logbook) -> None:
    logbook._connection.execute("UPDATE player SET number = 5 WHERE id = 'ines'")
    logbook._connection.execute("UPDATE practice SET name = 'Tuesday'")
    logbook._connection.execute("UPDATE setting SET text = 'Ebb'")

    assert sorted(logbook.check()) == [
        f'The player "Ines" in team.logbook {NOT_AS_WRITTEN}',
        f'The practice "2026-03-02" in team.logbook {NOT_AS_WRITTEN}',
        f'The setting "team" in team.logbook {NOT_AS_WRITTEN}',
    ]


def test_a_serve_entered_again_is_right_again(logbook: Logbook) -> None:
    logbook._connection.execute("UPDATE serve SET note = 'other'")
    logbook.put(logbook.serves()[0])

    assert logbook.check() == []


def test_an_older_logbook_gets_its_checksums(tmp_path: Path) -> None:
    path = tmp_path / "old.logbook"
    path.touch()
    with closing(connect(path)) as connection:
        migrate(connection, path, MIGRATIONS[:BEFORE_CHECKSUMS])
        connection.execute(
            "INSERT INTO player (id, name, number, position, hand) VALUES ('m', 'Marit', 7, '', 'right')"
        )

    with Logbook.open(path) as opened:
        assert opened.check() == []
        opened._connection.execute("UPDATE player SET number = 8")
        assert opened.check() == [f'The player "Marit" in old.logbook {NOT_AS_WRITTEN}']


def test_later_steps_renew_checksums_and_call_no_wrong_row_right(logbook: Logbook) -> None:
    """A step adds a column and a table, without a word of checksums; what was wrong before stays wrong."""

    def later(connection: sqlite3.Connection) -> None:
        connection.execute("ALTER TABLE player ADD COLUMN born TEXT NOT NULL DEFAULT '2012'")
        connection.execute("CREATE TABLE beside (id TEXT PRIMARY KEY NOT NULL, confidence REAL) STRICT")
        connection.execute("INSERT INTO beside VALUES ('p', 0.5)")

    logbook._connection.execute("UPDATE player SET number = 5 WHERE id = 'ines'")
    logbook.close()
    with closing(connect(logbook.path)) as connection:
        migrate(connection, logbook.path, (*MIGRATIONS, later))

        assert [(row.table, row.key) for row in wrong_rows(connection)] == [("player", ("ines",))]
        connection.execute("UPDATE beside SET confidence = 0.6")
        assert {row.table for row in wrong_rows(connection)} == {"player", "beside"}

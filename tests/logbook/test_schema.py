import json
import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook.copy_before_migration import back_up
from serve_marker.logbook.migration import migrate, version_of
from serve_marker.logbook.opening import connect
from serve_marker.logbook.records import Mark, Season, StoredFormation
from serve_marker.logbook.schema import (
    APPLICATION_ID,
    MIGRATIONS,
    Migration,
    passers_are_players,
    passers_of_formations,
)
from serve_marker.logbook.store import Logbook


def toy_column(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE gym ADD COLUMN floor TEXT NOT NULL DEFAULT 'wood'")


def toy_failure(connection: sqlite3.Connection) -> None:
    connection.execute("DELETE FROM serve")
    raise RuntimeError("half way")


def migrated(path: Path, steps: Sequence[Migration]) -> Path | None:
    connection = connect(path)
    try:
        return migrate(connection, path, (*MIGRATIONS, *steps))
    finally:
        connection.close()


def contents(path: Path) -> tuple[int, list[str]]:
    connection = sqlite3.connect(path)
    try:
        return version_of(connection), [row[0] for row in connection.execute("SELECT id FROM serve")]
    finally:
        connection.close()


def test_all_tables_are_strict_and_the_file_says_what_it_is(logbook: Logbook) -> None:
    read = logbook._connection.execute
    tables = read("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'").fetchall()

    assert {strict for name, strict in tables if not name.startswith("sqlite_")} == {1}
    assert read("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert read("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    assert read("PRAGMA journal_mode").fetchone() == ("delete",)
    assert read("PRAGMA synchronous").fetchone() == (2,)
    assert read("PRAGMA foreign_keys").fetchone() == (1,)


def test_text_in_a_column_of_numbers_is_refused(logbook: Logbook) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="TEXT value in REAL column"):
        logbook._connection.execute("UPDATE serve SET landing_x_px = 'left'")


def test_an_up_to_date_file_needs_no_copy(logbook: Logbook) -> None:
    assert migrated(logbook.path, []) is None
    assert [file.name for file in logbook.path.parent.iterdir()] == ["team.logbook"]


def test_a_step_is_taken_after_a_copy_was_put_beside(logbook: Logbook) -> None:
    logbook.close()
    copy = migrated(logbook.path, [toy_column])

    assert copy == logbook.path.with_name(f"team.version-{len(MIGRATIONS)}.logbook")
    assert contents(copy) == (len(MIGRATIONS), ["first"])
    assert contents(logbook.path) == (len(MIGRATIONS) + 1, ["first"])


def test_a_step_that_fails_leaves_no_trace(logbook: Logbook) -> None:
    logbook.close()
    with pytest.raises(RuntimeError, match="half way"):
        migrated(logbook.path, [toy_column, toy_failure])

    assert contents(logbook.path) == (len(MIGRATIONS) + 1, ["first"])


def test_an_earlier_copy_is_kept(logbook: Logbook) -> None:
    first = back_up(logbook._connection, logbook.path, 1)
    second = back_up(logbook._connection, logbook.path, 1)

    assert (first.name, second.name) == ("team.version-1.logbook", "team.version-1-2.logbook")
    assert contents(first) == contents(second)


def test_a_window_that_comes_second_finds_the_step_taken(logbook: Logbook) -> None:
    """Both saw the old version; the second must not take the step again."""
    second_steps: list[Path | None] = []

    def slow_column(connection: sqlite3.Connection) -> None:
        second_steps.append(None)
        toy_column(connection)

    migrated(logbook.path, [slow_column])
    migrated(logbook.path, [slow_column])

    assert len(second_steps) == 1


def test_a_logbook_of_the_first_version_keeps_its_serves(tmp_path: Path) -> None:
    """A file as the first version wrote it; the new columns take their plain values."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:1])
    connection.execute("INSERT INTO practice VALUES ('march', '2026-03-02', 'Monday', NULL, 'drill', 'none')")
    connection.execute("INSERT INTO clip VALUES ('film', 'march', 'film.mp4', 5, 'ab', NULL)")
    names = "id, clip_id, serve_type, aim, outcome, passer, note, landing_time_s, landing_x_px, landing_y_px"
    connection.execute(
        f"INSERT INTO serve ({names}, landing_gap_before_s, landing_gap_after_s) "
        "VALUES ('first', 'film', 'float', 'deep 1', 'floor', '', '', 2.0, 5.0, 6.0, 0.03, 0.03)"
    )
    connection.execute("INSERT INTO ball_mark VALUES ('first', 0, 1.97, 5.0, 5.5, 0.03, 0.03)")
    connection.close()

    with Logbook.open(path) as opened:
        (serve,) = opened.serves()
        opened.change_serves([(serve, replace(serve, full_pace=True, landing_height_m=0.8))])
        (changed,) = opened.serves()
        (clip,) = opened.clips()

    assert serve.landing == Mark(2.0, (5.0, 6.0), 0.03, 0.03)
    assert serve.ball_marks == (Mark(1.97, (5.0, 5.5), 0.03, 0.03),)
    assert (serve.contact, serve.formation_id, serve.full_pace, serve.landing_height_m) == (None, None, False, None)
    assert (changed.full_pace, changed.landing_height_m, clip.filmed_at_fps) == (True, 0.8, None)
    assert contents(path.with_name("old.version-1.logbook")) == (1, ["first"])


def test_a_serve_keeps_the_formation_it_was_hit_against(logbook: Logbook) -> None:
    formation = StoredFormation(id="three", name="three passers up", document='{"passers": []}')
    first = logbook.serves()[0]
    ball = replace(first, formation_id="three", contact=Mark(1.0, (9.0, 8.0), 0.03, 0.03, on_ball=True))
    logbook.put(formation, ball)

    assert logbook.formations() == [formation]
    assert logbook.serves() == [ball]
    with pytest.raises(UserError, match="1 serve hit against three passers up; choose another formation"):
        logbook.remove(formation)


def test_passes_up_to_four_keep_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:2])
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute(
        "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note, pass_rating) "
        "VALUES ('s', 'c', '', '', 'received', '', '', 3)"
    )
    connection.execute("INSERT INTO ball_mark VALUES ('s', 0, 1.0, 2.0, 3.0, 0.1, 0.1, 0)")
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        connection.execute("UPDATE serve SET pass_rating = 4")
    migrate(connection, path)

    connection.execute("UPDATE serve SET pass_rating = 4")
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        connection.execute("UPDATE serve SET pass_rating = 5")
    assert connection.execute("SELECT count(*) FROM ball_mark").fetchone() == (1,)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert version_of(connection) == len(MIGRATIONS)
    connection.close()


def test_the_kind_of_target_goes_from_a_practice_to_its_serves(tmp_path: Path) -> None:
    """Four practices as version 4 wrote them; flat targets are called mats since, passers people."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:4])
    for kind in ("none", "flat", "upright", "passers"):
        connection.execute(
            "INSERT INTO practice (id, date, name, purpose, target_kind) VALUES (?, '2026-03-02', ?, 'drill', ?)",
            (kind, kind, kind),
        )
        connection.execute(
            "INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) VALUES (?, ?, 'film.mp4', 5, 'ab')",
            (f"film of {kind}", kind),
        )
        connection.execute(
            "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note) "
            "VALUES (?, ?, 'float', '', 'net', '', '')",
            (f"serve at {kind}", f"film of {kind}"),
        )
    connection.close()

    with Logbook.open(path) as opened:
        assert {serve.id: serve.target_kind for serve in opened.serves()} == {
            "serve at none": "none",
            "serve at flat": "mats",
            "serve at upright": "upright",
            "serve at passers": "people",
        }
        assert {practice.id: practice.target_kind for practice in opened.practices()} == {
            "none": "none",
            "flat": "mats",
            "upright": "upright",
            "passers": "people",
        }
        assert opened.check() == []
        first, *_ = opened.serves()
        with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
            opened._connection.execute("UPDATE serve SET target_kind = 'flat'")
        opened.put(replace(first, target_kind="people"))


def test_a_received_ball_of_an_older_logbook_is_not_judged_afterwards(tmp_path: Path) -> None:
    """Version 5 had a pass rating 0 for aces and for balls passed over alike: which it was stays open."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:5])
    connection.execute("INSERT INTO practice (id, date, name, purpose) VALUES ('p', '2026-03-02', 'Monday', 'drill')")
    connection.execute(
        "INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) VALUES ('c', 'p', 'film.mp4', 5, 'ab')"
    )
    connection.execute(
        "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note, pass_rating) "
        "VALUES ('s', 'c', 'float', '', 'received', '', '', 0)"
    )
    connection.close()

    with Logbook.open(path) as opened:
        (serve,) = opened.serves()
        opened.put(replace(serve, reception="over"))
        assert (serve.reception, opened.serves()[0].reception) == ("", "over")
        with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
            opened._connection.execute("UPDATE serve SET reception = 'ace'")


def test_older_logbooks_take_blocked_serves_hybrids_and_the_wind(tmp_path: Path) -> None:
    """A file of version 6, its serve kept; words no version knows are refused still."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:6])
    connection.execute("INSERT INTO practice (id, date, name, purpose) VALUES ('p', '2026-03-02', 'Monday', 'drill')")
    connection.execute(
        "INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) VALUES ('c', 'p', 'film.mp4', 5, 'ab')"
    )
    connection.execute(
        "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note) "
        "VALUES ('s', 'c', 'jump topspin', '', 'fault', '', '')"
    )
    connection.close()

    with Logbook.open(path) as opened:
        (serve,) = opened.serves()
        (practice,) = opened.practices()
        assert (serve.serve_type, serve.outcome, serve.wind_end, practice.wind_end) == (
            *("jump topspin", "fault", None, None),
        )
        changed = replace(serve, serve_type="hybrid", outcome="blocked", wind_end="a")
        opened.put(changed, replace(practice, wind_end="b"))
        assert opened.serves() == [changed]
        assert opened.practices()[0].wind_end == "b"
        assert opened.check() == []
        for column, word in (("serve_type", "skyball"), ("outcome", "lost"), ("wind_end", "c")):
            with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
                opened._connection.execute(f"UPDATE serve SET {column} = '{word}'")


def test_numbers_of_an_older_logbook_belong_to_the_season_that_runs(tmp_path: Path) -> None:
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[:7])
    connection.execute("INSERT INTO player (id, name, number, position, hand) VALUES ('m', 'Marit', 7, '', 'right')")
    connection.close()
    with Logbook.open(path) as opened:
        assert ([player.number for player in opened.players()], opened.seasons()) == ([7], [])
        earlier = Season(id="1", name="2025/26", shirts=(("m", 7),))
        opened.put(earlier)
        assert opened.seasons() == [earlier]


def test_passers_of_older_logbooks_become_players(tmp_path: Path) -> None:
    """By name, number or both, whatever the capitals; one nobody knows joins once."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[: MIGRATIONS.index(passers_are_players)])
    connection.execute("INSERT INTO player (id, name, number, position, hand) VALUES ('m', 'Marit', 7, '', 'right')")
    connection.execute("INSERT INTO player (id, name, position, hand) VALUES ('n', 'Noor', '', 'right')")
    connection.execute("INSERT INTO practice (id, date, name, purpose) VALUES ('p', '2026-03-02', 'Monday', 'drill')")
    connection.execute(
        "INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) VALUES ('c', 'p', 'film.mp4', 5, 'ab')"
    )
    written = ("marit", "7", "7 Marit", "Noor ", "Odile", "odile", "", "None")
    for number, passer in enumerate(written):
        connection.execute(
            "INSERT INTO serve (id, clip_id, serve_type, aim, outcome, passer, note) "
            "VALUES (?, 'c', '', '', 'received', ?, '')",
            (f"s{number}", passer),
        )
    connection.close()

    with Logbook.open(path) as opened:
        names = {player.id: player.name for player in opened.players()}
        assert sorted(names.values()) == ["Marit", "None", "Noor", "Odile"]
        found = [names.get(serve.passer_id or "") for serve in opened.serves()]
        assert found == ["Marit", "Marit", "Marit", "Noor", "Odile", "Odile", None, "None"]
        assert opened.check() == []
        with pytest.raises(UserError, match="2 serves by or to Odile"):
            opened.remove(next(player for player in opened.players() if player.name == "Odile"))


def test_passers_of_older_formations_are_the_players_of_their_name(tmp_path: Path) -> None:
    """A name two share, a role, and a document that cannot be read stay as they were written."""
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[: MIGRATIONS.index(passers_of_formations)])
    for player_id, name in (("m", "Marit"), ("w", "Wren"), ("x", "Wren")):
        connection.execute(
            "INSERT INTO player (id, name, position, hand) VALUES (?, ?, '', 'right')", (player_id, name)
        )
    passers = [{"x_m": 2.0, "y_m": 6.0, "name": name, "role": "libero"} for name in ("marit", "Wren", "")]
    documents = {"three": json.dumps({"name": "three", "passers": passers}), "torn": "{", "odd": "[1]"}
    connection.executemany("INSERT INTO formation (id, name, document) VALUES (?, 'x', ?)", documents.items())
    connection.close()

    with Logbook.open(path) as opened:
        found = {stored.id: stored.document for stored in opened.formations()}
        assert [passer["player_id"] for passer in json.loads(found["three"])["passers"]] == ["m", "", ""]
        assert (found["torn"], found["odd"]) == ("{", "[1]")

"""The tables of a logbook file, and the numbered steps that lead from one version to the next."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable

from serve_marker.logbook.checksums import add_checksum_columns
from serve_marker.logbook.first_tables import FIRST_TABLES
from serve_marker.logbook.later_tables import CONSENT_TABLE, MARKER_TABLES
from serve_marker.logbook.outcomes import RALLIES
from serve_marker.logbook.records import ANSWERS, new_id
from serve_marker.plain_json import read_json

APPLICATION_ID = 0x53724D6B
Migration = Callable[[sqlite3.Connection], None]


def first_tables(connection: sqlite3.Connection) -> None:
    """Version 1: settings, players, gyms, views, practices, clips, serves and their marks."""
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    for statement in FIRST_TABLES:
        connection.execute(statement)


_PASSERS_AND_SLOW_MOTION = (
    "CREATE TABLE formation (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL, document TEXT NOT NULL) STRICT",
    "ALTER TABLE clip ADD COLUMN filmed_at_fps REAL CHECK (filmed_at_fps > 0)",
    "ALTER TABLE serve ADD COLUMN formation_id TEXT REFERENCES formation (id) DEFERRABLE INITIALLY DEFERRED",
    "ALTER TABLE serve ADD COLUMN full_pace INTEGER NOT NULL DEFAULT 0 CHECK (full_pace IN (0, 1))",
    "ALTER TABLE serve ADD COLUMN landing_height_m REAL CHECK (landing_height_m >= 0)",
    "ALTER TABLE serve ADD COLUMN contact_on_ball INTEGER CHECK (contact_on_ball IN (0, 1))",
    "ALTER TABLE serve ADD COLUMN landing_on_ball INTEGER CHECK (landing_on_ball IN (0, 1))",
    "ALTER TABLE ball_mark ADD COLUMN on_ball INTEGER NOT NULL DEFAULT 0 CHECK (on_ball IN (0, 1))",
    "UPDATE serve SET contact_on_ball = 0 WHERE contact_time_s IS NOT NULL",
    "UPDATE serve SET landing_on_ball = 0 WHERE landing_time_s IS NOT NULL",
    "CREATE INDEX serve_formation ON serve (formation_id)",
)


def passers_and_slow_motion(connection: sqlite3.Connection) -> None:
    """Version 2: formations of passers, clips in slow motion, full-pace series, marks on the ball, heights."""
    for statement in _PASSERS_AND_SLOW_MOTION:
        connection.execute(statement)


def pass_ratings_to_four(connection: sqlite3.Connection) -> None:
    """Version 3: passes may be rated up to 4, as some teams do.

    A check is changed in the text of the schema, as SQLite's own manual advises (ALTER TABLE, section 7): the table
    would otherwise have to be made anew, and its ball marks with it.
    """
    (version,) = connection.execute("PRAGMA schema_version").fetchone()
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute(
        "UPDATE sqlite_schema SET sql = replace(sql, 'pass_rating BETWEEN 0 AND 3', 'pass_rating BETWEEN 0 AND 4') "
        "WHERE type = 'table' AND name = 'serve'"
    )
    connection.execute(f"PRAGMA schema_version = {version + 1}")
    connection.execute("PRAGMA writable_schema = RESET")


_VIEWS_OF_CLIPS = (
    "DROP INDEX clip_view",
    "CREATE INDEX clip_first_view ON clip (view_id)",
    """CREATE TABLE clip_view (
        clip_id TEXT NOT NULL REFERENCES clip (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        from_s REAL NOT NULL CHECK (from_s > 0),
        view_id TEXT REFERENCES stored_view (id) DEFERRABLE INITIALLY DEFERRED,
        PRIMARY KEY (clip_id, from_s)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE view_draft (
        clip_id TEXT NOT NULL REFERENCES clip (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        from_s REAL NOT NULL CHECK (from_s >= 0),
        document TEXT NOT NULL,
        PRIMARY KEY (clip_id, from_s)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE checked_view (
        clip_id TEXT PRIMARY KEY NOT NULL REFERENCES clip (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        view_id TEXT NOT NULL REFERENCES stored_view (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED
    ) STRICT, WITHOUT ROWID""",
    "ALTER TABLE practice ADD COLUMN formation_id TEXT REFERENCES formation (id) DEFERRABLE INITIALLY DEFERRED",
    "CREATE INDEX clip_view_view ON clip_view (view_id)",
    "CREATE INDEX checked_view_view ON checked_view (view_id)",
    "CREATE INDEX practice_formation ON practice (formation_id)",
)


def views_of_clips(connection: sqlite3.Connection) -> None:
    """Version 4: stretches of a clip with their views, drafts of views, checked views, the formation of a practice.

    They were settings under made-up keys. A view or formation they name that is gone becomes none; a setting whose
    clip, stretch or practice is gone, or that cannot be read, stays where it is.
    """
    for statement in _VIEWS_OF_CLIPS:
        connection.execute(statement)
    for (clip_id,) in connection.execute("SELECT id FROM clip").fetchall():
        _move_stretches(connection, clip_id)
        _move_drafts(connection, clip_id)
    connection.execute(
        "INSERT INTO checked_view SELECT clip.id, stored_view.id FROM clip "
        "JOIN setting ON key = 'checked ' || clip.id JOIN stored_view ON stored_view.id = text"
    )
    connection.execute(
        "UPDATE practice SET formation_id = (SELECT formation.id FROM setting JOIN formation ON formation.id = text "
        "WHERE key = 'formation of practice ' || practice.id)"
    )
    for prefix, table in (("checked ", "clip"), ("formation of practice ", "practice")):
        connection.execute(f"DELETE FROM setting WHERE key IN (SELECT '{prefix}' || id FROM {table})")


def _move_stretches(connection: sqlite3.Connection, clip_id: str) -> None:
    key = f"stretches {clip_id}"
    for (text,) in connection.execute("SELECT text FROM setting WHERE key = ?", (key,)).fetchall():
        try:
            stretches = [(float(from_s), str(view_id)) for from_s, view_id in read_json(text)]
        except (ValueError, TypeError):
            continue
        connection.executemany(
            "INSERT OR IGNORE INTO clip_view VALUES (?, ?, (SELECT id FROM stored_view WHERE id = ?))",
            [(clip_id, *stretch) for stretch in stretches],
        )
        connection.execute("DELETE FROM setting WHERE key = ?", (key,))


def _move_drafts(connection: sqlite3.Connection, clip_id: str) -> None:
    later = connection.execute("SELECT from_s FROM clip_view WHERE clip_id = ?", (clip_id,)).fetchall()
    drafts = {f"landmarks {clip_id}": 0.0} | {f"landmarks {clip_id} {from_s:.3f}": from_s for (from_s,) in later}
    for key, from_s in drafts.items():
        connection.execute(
            "INSERT INTO view_draft SELECT ?, ?, text FROM setting WHERE key = ?", (clip_id, from_s, key)
        )
        connection.execute("DELETE FROM setting WHERE key = ?", (key,))


_TARGETS_OF_SERVES = (
    """ALTER TABLE serve ADD COLUMN target_kind TEXT NOT NULL DEFAULT 'none'
        CHECK (target_kind IN ('none', 'mats', 'upright', 'people'))""",
    "ALTER TABLE practice RENAME COLUMN target_kind TO kind_before",
    """ALTER TABLE practice ADD COLUMN target_kind TEXT NOT NULL DEFAULT 'none'
        CHECK (target_kind IN ('none', 'mats', 'upright', 'people'))""",
    """UPDATE practice SET target_kind =
        CASE kind_before WHEN 'flat' THEN 'mats' WHEN 'passers' THEN 'people' ELSE kind_before END""",
    "ALTER TABLE practice DROP COLUMN kind_before",
    """UPDATE serve SET target_kind = coalesce((SELECT practice.target_kind FROM clip
        JOIN practice ON practice.id = clip.practice_id WHERE clip.id = serve.clip_id), 'none')""",
)


def targets_of_serves(connection: sqlite3.Connection) -> None:
    """Version 5: the kind of target belongs to the serve; a practice's own goes to its serves, and to the next ones."""
    for statement in _TARGETS_OF_SERVES:
        connection.execute(statement)


def what_became_of_receptions(connection: sqlite3.Connection) -> None:
    """Version 6: a received ball was played, went back over the net, or could not be played by anybody."""
    connection.execute(
        "ALTER TABLE serve ADD COLUMN reception TEXT NOT NULL DEFAULT '' "
        "CHECK (reception IN ('', 'played', 'over', 'shank'))"
    )


def blocked_serves_and_hybrids(connection: sqlite3.Connection) -> None:
    """Version 7: serves may be blocked, as in sitting volleyball, and be hybrids; one end may have the wind.

    Checks are changed as in version 3.
    """
    (version,) = connection.execute("PRAGMA schema_version").fetchone()
    connection.execute("PRAGMA writable_schema = ON")
    for known, more in (("'jump topspin'", "'hybrid'"), ("'fault'", "'blocked'")):
        connection.execute(
            "UPDATE sqlite_schema SET sql = replace(sql, ?, ?) WHERE type = 'table' AND name = 'serve'",
            (f"{known})", f"{known}, {more})"),
        )
    connection.execute(f"PRAGMA schema_version = {version + 1}")
    connection.execute("PRAGMA writable_schema = RESET")
    for table in ("practice", "serve"):
        connection.execute(f"ALTER TABLE {table} ADD COLUMN wind_end TEXT CHECK (wind_end IN ('a', 'b'))")


def seasons_of_numbers(connection: sqlite3.Connection) -> None:
    """Version 8: shirt numbers belong to a season; those there are belong to the one that runs."""
    connection.execute(
        "CREATE TABLE season (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL, begins TEXT NOT NULL, "
        "shirts TEXT NOT NULL) STRICT"
    )


def passers_are_players(connection: sqlite3.Connection) -> None:
    """Version 9: who received is a player; a name that no player has becomes one."""
    connection.execute(
        "ALTER TABLE serve ADD COLUMN passer_id TEXT REFERENCES player (id) DEFERRABLE INITIALLY DEFERRED"
    )
    players = connection.execute("SELECT id, name, number FROM player ORDER BY rowid").fetchall()
    known = {
        spelling.casefold(): player_id
        for player_id, name, number in reversed(players)
        for spelling in (name, *([] if number is None else [str(number), f"{number} {name}"]))
    }
    for (written,) in connection.execute("SELECT DISTINCT passer FROM serve WHERE passer != ''").fetchall():
        name = " ".join(written.split())
        if name and name.casefold() not in known:
            known[name.casefold()] = player_id = new_id()
            connection.execute(
                "INSERT INTO player (id, name, position, hand) VALUES (?, ?, '', 'right')", (player_id, name)
            )
        connection.execute("UPDATE serve SET passer_id = ? WHERE passer = ?", (known.get(name.casefold()), written))
    connection.execute("ALTER TABLE serve DROP COLUMN passer")
    connection.execute("CREATE INDEX serve_passer ON serve (passer_id)")


def touches_on_film(connection: sqlite3.Connection) -> None:
    """Version 10: the ball as the film shows it around a touch, beside the coach's own marks."""
    connection.execute("ALTER TABLE ball_mark ADD COLUMN by_film INTEGER NOT NULL DEFAULT 0 CHECK (by_film IN (0, 1))")


def moments_of_touches(connection: sqlite3.Connection) -> None:
    """Version 11: when the ball touched, where the marks around a landing tell it."""
    for column in ("touch_after_s", "touch_sd_s"):
        connection.execute(f"ALTER TABLE serve ADD COLUMN {column} REAL")


def courts_of_gyms(connection: sqlite3.Connection) -> None:
    """Version 12: the court of a gym, once the coach has said which it is."""
    connection.execute("ALTER TABLE gym ADD COLUMN court TEXT NOT NULL DEFAULT ''")


def passers_of_formations(connection: sqlite3.Connection) -> None:
    """Version 13: who stands in a formation is a player, where the name written is that of one alone."""
    named = [(name.casefold(), key) for key, name in connection.execute("SELECT id, name FROM player").fetchall()]
    known = {name: key for name, key in named if name and [other for other, _ in named].count(name) == 1}
    for formation_id, document in connection.execute("SELECT id, document FROM formation").fetchall():
        try:
            plain = read_json(document)
            for passer in plain["passers"]:
                passer["player_id"] = known.get(passer.get("name", "").casefold(), "")
        except (ValueError, TypeError, KeyError, AttributeError):
            continue
        connection.execute("UPDATE formation SET document = ? WHERE id = ?", (json.dumps(plain), formation_id))


def hits_on_film(connection: sqlite3.Connection) -> None:
    """Version 14: the ball as the film shows it around a contact, and when it was hit."""
    connection.execute("ALTER TABLE ball_mark ADD COLUMN of_contact INTEGER NOT NULL DEFAULT 0")
    for column in ("hit_after_s", "hit_sd_s"):
        connection.execute(f"ALTER TABLE serve ADD COLUMN {column} REAL")


_NEXT_SERVES = (
    """CREATE TABLE next_serves (
        id TEXT PRIMARY KEY NOT NULL,
        practice_id TEXT NOT NULL REFERENCES practice (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        view_id TEXT REFERENCES stored_view (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        served_from TEXT NOT NULL CHECK (served_from IN ('a', 'b')),
        aim TEXT NOT NULL,
        serve_type TEXT NOT NULL,
        orders TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX next_serves_practice ON next_serves (practice_id)",
    "CREATE INDEX next_serves_view ON next_serves (view_id)",
)


def choices_for_next_serves(connection: sqlite3.Connection) -> None:
    """Version 15: what was chosen for the next serves of a practice, for each view its clips are filmed from."""
    for statement in _NEXT_SERVES:
        connection.execute(statement)


_TALLIES_AND_PLANS = (
    """CREATE TABLE tally (
        id TEXT PRIMARY KEY NOT NULL,
        date TEXT NOT NULL,
        player_id TEXT NOT NULL REFERENCES player (id) DEFERRABLE INITIALLY DEFERRED,
        aim TEXT NOT NULL,
        serve_type TEXT NOT NULL,
        serves INTEGER NOT NULL CHECK (serves > 0),
        hits INTEGER CHECK (hits BETWEEN 0 AND serves),
        full_pace INTEGER NOT NULL CHECK (full_pace BETWEEN 0 AND serves)
    ) STRICT""",
    "CREATE INDEX tally_player ON tally (player_id)",
    """CREATE TABLE practice_plan (
        id TEXT PRIMARY KEY NOT NULL,
        date TEXT NOT NULL UNIQUE,
        absent TEXT NOT NULL,
        blocks TEXT NOT NULL
    ) STRICT""",
)


def tallies_and_plans(connection: sqlite3.Connection) -> None:
    """Version 16: serves counted beside the court, of which there is no film; what is to be served on a day."""
    for statement in _TALLIES_AND_PLANS:
        connection.execute(statement)


def trials_and_rallies(connection: sqlite3.Connection) -> None:
    """Version 17: what is tried by players whom chance drew; who won the rally of a serve."""
    columns = "name", "drawn_on", "retest_on", "aim", "tries", "others"
    typed = ", ".join(f"{column} TEXT NOT NULL" for column in columns)
    connection.execute(f"CREATE TABLE trial (id TEXT PRIMARY KEY NOT NULL, {typed}) STRICT")
    allowed = ", ".join(f"'{rally}'" for rally in RALLIES)
    connection.execute(f"ALTER TABLE serve ADD COLUMN rally TEXT NOT NULL DEFAULT '' CHECK (rally IN ({allowed}))")


def checksums_of_rows(connection: sqlite3.Connection) -> None:
    """Version 18: a checksum beside each row; each later step adds and renews them by itself."""
    add_checksum_columns(connection)


_PROPOSALS = (
    f"""CREATE TABLE proposal (
        id TEXT PRIMARY KEY NOT NULL,
        clip_id TEXT NOT NULL REFERENCES clip (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        served_to TEXT NOT NULL CHECK (served_to IN ('a', 'b')),
        outcome TEXT NOT NULL,
        landing_height_m REAL,
        confidence REAL NOT NULL CHECK (confidence BETWEEN 0 AND 1),
        why TEXT NOT NULL,
        answer TEXT NOT NULL CHECK (answer IN ({", ".join(f"'{answer}'" for answer in ANSWERS)})),
        marks TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX proposal_clip ON proposal (clip_id)",
    """CREATE TABLE serve_search (
        id TEXT PRIMARY KEY NOT NULL REFERENCES clip (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        served_from TEXT NOT NULL CHECK (served_from IN ('', 'a', 'b')),
        finished INTEGER NOT NULL CHECK (finished IN (0, 1))
    ) STRICT""",
)


def proposals_of_clips(connection: sqlite3.Connection) -> None:
    """Version 19: serves found on film, what the coach said of each, and on which clips they were looked for."""
    for statement in _PROPOSALS:
        connection.execute(statement)


def consents_of_players(connection: sqlite3.Connection) -> None:
    """Version 20: what each player agreed to, and until when."""
    connection.execute(CONSENT_TABLE)


def serves_marked_twice(connection: sqlite3.Connection) -> None:
    """Version 21: who marked a serve, and how another marked the same one."""
    for statement in MARKER_TABLES:
        connection.execute(statement)


MIGRATIONS: tuple[Migration, ...] = (
    first_tables,
    passers_and_slow_motion,
    pass_ratings_to_four,
    views_of_clips,
    targets_of_serves,
    what_became_of_receptions,
    blocked_serves_and_hybrids,
    seasons_of_numbers,
    passers_are_players,
    touches_on_film,
    moments_of_touches,
    courts_of_gyms,
    passers_of_formations,
    hits_on_film,
    choices_for_next_serves,
    tallies_and_plans,
    trials_and_rallies,
    checksums_of_rows,
    proposals_of_clips,
    consents_of_players,
    serves_marked_twice,
)

"""Inputs that a damaged disk or somebody with bad intent brings; `hostile.py` reads them."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import read_marks, view_to_text
from serve_marker.demo import Sample
from serve_marker.logbook.checksums import renew_checksums
from serve_marker.logbook.records import NextServes, PlanBlock, PracticePlan, Season, StoredFormation, Tally, Trial
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.study.ladder import LADDER_SETTING, ladder_text, usual_ladder
from serve_marker.study.settings import KEY, StudySettings
from serve_marker.video.clip import open_clip

SAMPLE = Sample("winter-stand", Path(__file__).resolve().parents[2] / "sample_clips")
NUMBERS: tuple[object, ...] = (
    *(0, -1, 1, 1e308, -1e308, 5e-324, float("inf"), float("nan"), 2**63 - 1, -(2**63), 1e15, 1e9, 0.5),
    *(None, "", "seven", "\x1b[2J", "x" * 100_000, b"\xff\xfe", True),
)
NODES: tuple[object, ...] = (
    *NUMBERS[:13],
    None,
    "",
    "seven",
    "\ufffe",
    [],
    {},
    [[]],
    {"a": 1},
    True,
    10**400,
    [1e308, 2],
)
TEXTS = ("", "{", "null", "[" * 100_000, '{"a":' * 50_000, "1" * 5000, "[NaN]", "\ufeff{}", '"', "{}", "[]", "7", "\0")
PLANTED = (
    "CREATE TRIGGER t AFTER INSERT ON serve BEGIN DELETE FROM serve; END",
    "CREATE TRIGGER t BEFORE INSERT ON setting BEGIN SELECT RAISE(IGNORE); END",
    "CREATE TRIGGER t AFTER UPDATE ON player BEGIN INSERT INTO gym (id, name) "
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i, i FROM n; END",
    "CREATE VIEW v AS SELECT 1",
    "CREATE TABLE other (x)",
    "CREATE VIRTUAL TABLE ft USING fts5(x)",
    "ALTER TABLE player ADD COLUMN twice INTEGER AS (number * 2)",
    "ALTER TABLE serve ADD COLUMN more TEXT DEFAULT 'x'",
    "DROP TABLE {table}",
    "DROP INDEX serve_clip",
    "ALTER TABLE {table} RENAME TO renamed",
    "ALTER TABLE gym DROP COLUMN court",
    "PRAGMA user_version = {number}",
    "PRAGMA application_id = {number}",
    "PRAGMA journal_mode = WAL",
    "ANALYZE",
)

Case = Callable[[random.Random, Path], Path]


def base_logbook(folder: Path) -> Path:
    """A logbook with every kind of record in it."""
    path = folder / "team.logbook"
    with Logbook.create(path, team="Tidewater") as book:
        sheet = read_marks(SAMPLE.landmarks)
        view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view
        clip, text = open_clip(SAMPLE.clip), view_to_text(view)
        import_marks(book, SAMPLE.serves, clip, view, text, "Monday", "2026-03-02", from_film=False)
        serves, practice, stored = book.serves(), book.practices()[0], book.views()[0]
        player = book.players()[0]
        passers = json.dumps({"name": "two", "passers": [{"x_m": 2.0, "y_m": 6.0, "name": "Ines", "role": ""}]})
        book.put(
            Season(id="s", name="2025/26", shirts=((player.id, 4),)),
            NextServes(id="n", practice_id=practice.id, view_id=stored.id, orders=((player.id,), ())),
            StoredFormation(id="f", name="two", document=passers),
            Tally(id="t", date="2026-03-02", player_id=player.id, serves=30, full_pace=3),
            PracticePlan(id="p", date="2026-03-02", blocks=(PlanBlock(player_ids=(player.id,)),)),
            Trial(id="r", name="toss", drawn_on="2026-03-02", retest_on="2026-04-02", tries=(player.id,)),
        )
        book.put_view_draft(
            serves[0].clip_id, 0.0, json.dumps({"court": {"length_m": 18, "width_m": 9}, "net_height_m": 2.24})
        )
        book.set_setting(LADDER_SETTING, ladder_text(usual_ladder(view.court)[:2], ()))
        book.set_setting(KEY, StudySettings().to_text())
    return path


def damaged_bytes(chance: random.Random, path: Path) -> Path:
    content = bytearray(path.read_bytes())
    page = 4096
    for _ in range(chance.choice((1, 1, 1, 4, 64))):
        if len(content) <= page:
            break
        at = chance.choice((chance.randrange(len(content)), chance.randrange(min(200, len(content)))))
        way = chance.randrange(7)
        if way <= 2:
            content[at] ^= 1 << chance.randrange(8)
        elif way == 3:
            content[at : at + 16] = chance.randbytes(len(content[at : at + 16]))
        elif way == 4:
            one, other = (page * chance.randrange(len(content) // page) for _ in range(2))
            content[one : one + page] = content[other : other + page]
        elif way == 5:
            content[at : at + page] = bytes(len(content[at : at + page]))
        elif chance.random() < 0.3:
            del content[at:]
    path.write_bytes(content or b"\0")
    return path


def damaged_pack(chance: random.Random, path: Path) -> Path:
    """A packed logbook with bytes changed, most of them where a zip file says what is in it and how large that is."""
    pack = path.with_name("pack.zip")
    content = bytearray(pack.read_bytes())
    for _ in range(chance.choice((1, 1, 4, 16))):
        last = len(content) - 1
        at = chance.choice((chance.randrange(last), chance.randrange(60), last - chance.randrange(250)))
        with_ = chance.choice((chance.randbytes(1), b"\xff" * 4, b"\xff" * 8, bytes(4), b"../", b"/", b"\\"))
        content[at : at + len(with_)] = with_
    if chance.random() < 0.1:
        del content[chance.randrange(len(content)) :]
    pack.write_bytes(content or b"\0")
    return pack


def hostile_values(chance: random.Random, path: Path) -> Path:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        for _ in range(chance.choice((1, 1, 3))):
            table = chance.choice([*tables, "serve", "serve", "clip", "practice"])
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
            column = chance.choice([name for name in columns if name != "checksum"])
            try:
                connection.execute(f"UPDATE {table} SET {column} = ?", (chance.choice(NUMBERS),))
            except sqlite3.IntegrityError:
                continue
        if chance.random() < 0.8:
            renew_checksums(connection)
    return path


def hostile_schema(chance: random.Random, path: Path) -> Path:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        if chance.random() < 0.6:
            statement = chance.choice(PLANTED)
            filled = statement.format(
                table=chance.choice(tables), number=chance.choice((0, 1, 7, 17, 99, -1, 2**31 - 1))
            )
            connection.execute(filled)
            return path
        (version,) = connection.execute("PRAGMA schema_version").fetchone()
        connection.execute("PRAGMA writable_schema = ON")
        name, sql = chance.choice(connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql > ''").fetchall())
        words = sql.split(" ")
        at = chance.randrange(len(words))
        words[at] = chance.choice(
            ("", "x", "CHECK (0)", "AS (1)", "';", "TEXT", "\0", words[at] * 2, "--", "x" * 70_000)
        )
        connection.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (" ".join(words), name))
        connection.execute(f"PRAGMA schema_version = {version + 1}")
    return path


def mutated(chance: random.Random, plain: Any) -> Any:
    """JSON with one node replaced."""
    if isinstance(plain, dict) and plain and chance.random() < 0.85:
        key = chance.choice(list(plain))
        if chance.random() < 0.1:
            return {name: value for name, value in plain.items() if name != key}
        return plain | {key: mutated(chance, plain[key])}
    if isinstance(plain, list) and plain and chance.random() < 0.85:
        at = chance.randrange(len(plain))
        return [*plain[:at], mutated(chance, plain[at]), *plain[at + 1 :]]
    return chance.choice(NODES)


def hostile_text(chance: random.Random, text: str) -> str:
    if chance.random() < 0.15:
        return chance.choice(TEXTS)
    try:
        return json.dumps(mutated(chance, json.loads(text)))
    except ValueError:
        return chance.choice(TEXTS)


DOCUMENTS = (
    *(("setting", "text"), ("stored_view", "document"), ("formation", "document"), ("season", "shirts")),
    *(("practice_plan", "blocks"), ("practice_plan", "absent"), ("trial", "tries"), ("next_serves", "orders")),
    *(("view_draft", "document"), ("gym", "court")),
)


def hostile_settings(chance: random.Random, path: Path) -> Path:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        table, column = chance.choice((*DOCUMENTS, ("setting", "text"), ("setting", "text")))
        key = "key" if table == "setting" else "clip_id" if table == "view_draft" else "id"
        rows = connection.execute(f"SELECT {key}, {column} FROM {table}").fetchall()
        if table == "setting":
            rows = [(name, text or "{}") for name, text in rows if name != "team"]
        row_key, text = chance.choice(rows)
        if "\0" not in (spoilt := hostile_text(chance, text or "{}")):
            connection.execute(f"UPDATE {table} SET {column} = ? WHERE {key} = ?", (spoilt, row_key))
        renew_checksums(connection)
    return path


def json_case(name: str) -> Case:
    def spoil(chance: random.Random, path: Path) -> Path:
        text = (path.parent / name).read_text(encoding="utf-8")
        (path.parent / name).write_text(hostile_text(chance, text), encoding="utf-8", errors="replace")
        return path.parent / name

    return spoil


def hostile_table(chance: random.Random, path: Path) -> Path:
    table = path.parent / "marks.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    for _ in range(chance.choice((1, 1, 3))):
        row = chance.randrange(len(lines))
        cells = lines[row].split(",")
        cells[chance.randrange(len(cells))] = chance.choice(
            (
                "",
                "1e308",
                "9" * 400,
                "-1",
                "nan",
                "=1+1",
                '"',
                "\0",
                "\x1b[2J",
                "x" * 200_000,
                "٣",
                "1_0",
                ";",
                "\u2028",
                "0.5",
            )
        )
        lines[row] = ",".join(cells)
    content = "\r\n".join(lines).encode()
    if chance.random() < 0.2:
        at = chance.randrange(len(content))
        content = content[:at] + chance.randbytes(4) + content[at:]
    table.write_bytes(content)
    return path

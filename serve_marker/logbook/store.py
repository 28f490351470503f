"""The logbook as a file: one SQLite database, each change one transaction.

The journal is of the kind that is gone after each change (never a write-ahead log), so that the file
copied alone is whole, and each change is on the disk before the call returns.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from serve_marker.errors import DamagedLogbookError, UserError
from serve_marker.logbook import tables
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.failure_sentences import translate_opening_errors, translate_sqlite_errors
from serve_marker.logbook.file_faults import file_faults, impossible_value_sentences
from serve_marker.logbook.file_name_order import by_name
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect, make_empty_file, require_file, require_logbook
from serve_marker.logbook.record_rows import put_record, put_rows, remove_record, require_unchanged
from serve_marker.logbook.records import (
    ClipEntry,
    Gym,
    NextServes,
    Player,
    Practice,
    PracticePlan,
    Season,
    Serve,
    ServeSearch,
    StoredFormation,
    StoredProposal,
    StoredView,
    Tally,
    Trial,
)
from serve_marker.logbook.rows import Row, Table, real_cell, text_cell
from serve_marker.logbook.second_marks import Marker, SecondMark
from serve_marker.logbook.serve_arrays import Columns, columns_from, in_order
from serve_marker.logbook.still_needed import loose_end
from serve_marker.logbook.tables import with_balls
from serve_marker.plain_json import told_as

ROWS_AT_ONCE = 500


class Logbook:
    """Everything a team keeps, in one file. Use it as a context manager, or call ``close``.

    It may be used from several threads; they take turns. Several windows may have the same file
    open; their changes take turns as well.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Logbook.create(Path(folder) / "team.logbook", team="Tidewater") as logbook:
    ...         logbook.put(Player(id="1", name="Noor", number=7))
    ...         logbook.team, [player.name for player in logbook.players()]
    ('Tidewater', ['Noor'])
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        self._turn = threading.RLock()
        self._removed: list[Record] = []
        self.clip_folders: set[Path] = set()
        """Where its clips may be opened beside its own folder: the coach's word, never kept in the file."""
        self.why_read_only = ""
        """What is said to whoever wants to change it; "" where it may be changed."""

    @classmethod
    def create(cls, path: str | Path, team: str = "") -> Logbook:
        """Make a new logbook; a file that is there already is never touched."""
        path = Path(path)
        make_empty_file(path)
        try:
            logbook = cls(path, connect(path))
            try:
                with translate_sqlite_errors(path):
                    migrate(logbook._connection, path)
                logbook.set_setting("team", team)
            except BaseException:
                logbook.close()
                raise
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        return logbook

    @classmethod
    def open(cls, path: str | Path, *, to_check: bool = False) -> Logbook:
        """Open a logbook, bringing an older one up to date after a copy was put beside it.

        One that holds values that cannot be is opened only ``to_check`` it.
        """
        path = Path(path)
        require_file(path)
        with translate_opening_errors(path):
            connection = connect(path)
            try:
                require_logbook(connection, path)
                migrate(connection, path)
                for sentence in () if to_check else impossible_value_sentences(connection, path):
                    raise DamagedLogbookError(sentence)
            except BaseException:
                connection.close()
                raise
        return cls(path, connection)

    @property
    def team(self) -> str:
        """The team's name."""
        return self.get_setting("team")

    def close(self) -> None:
        """Let go of the file."""
        with self._turn:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_raised: object) -> None:
        self.close()

    def players(self) -> list[Player]:
        """All players, by shirt number and then by name."""
        return self._records(tables.PLAYERS)

    def seasons(self) -> list[Season]:
        """The seasons, the oldest first; none before a second one was begun."""
        return self._records(tables.SEASONS)

    def gyms(self) -> list[Gym]:
        """All gyms, by name."""
        return self._records(tables.GYMS)

    def views(self) -> list[StoredView]:
        """All stored views, the oldest first."""
        return self._records(tables.VIEWS)

    def practices(self) -> list[Practice]:
        """All practices, the oldest first."""
        with self._reading():
            practices = self._records(tables.PRACTICES)
            orders: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
            for practice_id, served_from, player_id in self._read(
                "SELECT practice_id, served_from, player_id FROM serving_order ORDER BY position"
            ):
                orders[practice_id, served_from].append(player_id)
        return [
            replace(one, order_a=tuple(orders[one.id, "a"]), order_b=tuple(orders[one.id, "b"])) for one in practices
        ]

    def next_serves(self, practice_id: str) -> list[NextServes]:
        """What was chosen for the next serves of a practice, one for each view."""
        return self._records(tables.NEXT_SERVES, "WHERE practice_id = ?", (practice_id,))

    def clips(self, practice_id: str | None = None) -> list[ClipEntry]:
        """The clips of a practice, or of all, in the order they were added."""
        chosen = ("", ()) if practice_id is None else ("WHERE practice_id = ?", (practice_id,))
        with self._reading():
            clips: list[ClipEntry] = self._records(tables.CLIPS, *chosen)
            later: defaultdict[str, list[tuple[float, str | None]]] = defaultdict(list)
            for clip_id, *view in self._read("SELECT clip_id, from_s, view_id FROM clip_view ORDER BY from_s"):
                later[clip_id].append((view[0], view[1]))
        return [replace(clip, later_views=tuple(later[clip.id])) if clip.id in later else clip for clip in clips]

    def view_draft(self, clip_id: str, from_s: float) -> str:
        """What is marked so far of the view that is to hold in a clip from a time [s] on, as JSON; "" for nothing."""
        rows = self._read("SELECT document FROM view_draft WHERE clip_id = ? AND from_s = ?", (clip_id, from_s))
        return str(rows[0][0]) if rows else ""

    def put_view_draft(self, clip_id: str, from_s: float, document: str) -> None:
        """Keep what is marked so far of a view."""
        cells = (clip_id, real_cell(from_s, "from_s"), text_cell(document, "document"))
        with self._changing():
            columns = ("clip_id", "from_s", "document")
            put_rows(self._connection, "view_draft", columns, [cells], key="clip_id, from_s")

    def checked_view(self, clip_id: str) -> str | None:
        """The id of the view against which a clip was looked through last, None where it was against none."""
        rows = self._read("SELECT view_id FROM checked_view WHERE clip_id = ?", (clip_id,))
        return str(rows[0][0]) if rows else None

    def put_checked_view(self, clip_id: str, view_id: str) -> None:
        """Keep that a clip was looked through against a view."""
        with self._changing():
            columns = ("clip_id", "view_id")
            put_rows(self._connection, "checked_view", columns, [(clip_id, view_id)], key="clip_id")

    def formations(self) -> list[StoredFormation]:
        """All formations of passers, the oldest first."""
        return self._records(tables.FORMATIONS)

    def tallies(self) -> list[Tally]:
        """All serves that were counted beside the court, by day."""
        return self._records(tables.TALLIES)

    def plans(self) -> list[PracticePlan]:
        """All plans of practices, by day."""
        return self._records(tables.PLANS)

    def consents(self) -> list[Consent]:
        """What each player agreed to, of those who agreed to anything."""
        return self._records(tables.CONSENTS)

    def markers(self) -> list[Marker]:
        """Who marked which serve, of those of which it is known."""
        return self._records(tables.MARKERS)

    def second_marks(self) -> list[SecondMark]:
        """The serves that were marked by another as well."""
        return self._records(tables.SECOND_MARKS)

    def trials(self) -> list[Trial]:
        """All trials, by the day they were drawn."""
        return self._records(tables.TRIALS)

    def proposals(self, clip_id: str) -> list[StoredProposal]:
        """All serves found on a clip, answered or not, in the order they were hit."""
        found = self._records(tables.PROPOSALS, "WHERE clip_id = ?", (clip_id,))
        return sorted(found, key=lambda one: one.serve.contact.time_s)

    def serve_search(self, clip_id: str) -> ServeSearch | None:
        """That serves were looked for on a clip, None where they never were."""
        return next(iter(self._records(tables.SEARCHES, "WHERE id = ?", (clip_id,))), None)

    def serves(
        self, practice_id: str | None = None, clip_id: str | None = None, serve_id: str | None = None
    ) -> list[Serve]:
        """The serves of a practice or a clip, the one of an id, or all of them: by practice, clip and moment."""
        wanted = {"clip.practice_id": practice_id, "serve.clip_id": clip_id, "serve.id": serve_id}
        chosen = {column: value for column, value in wanted.items() if value is not None}
        where = "JOIN clip ON clip.id = serve.clip_id JOIN practice ON practice.id = clip.practice_id"
        if chosen:
            where += " WHERE " + " AND ".join(f"{column} = ?" for column in chosen)
        parameters = tuple(chosen.values())
        with self._reading():
            serves: list[Serve] = self._records(tables.SERVES, where, parameters)
            cells = ", ".join(f"ball_mark.{column}" for column in tables.BALL_COLUMNS)
            balls: defaultdict[str, list[Row]] = defaultdict(list)
            for serve_id, *ball in self._read(
                f"SELECT serve_id, {cells} FROM ball_mark JOIN serve ON serve.id = serve_id {where} "
                "ORDER BY serve_id, ball_mark.position",
                parameters,
            ):
                balls[serve_id].append(tuple(ball))
        return [with_balls(serve, balls.get(serve.id, ())) for serve in serves]

    def serve_columns(self, *practice_ids: str) -> Columns:
        """The serves of practices, or all, as arrays in the order they were filmed, clips by name; no ball marks."""
        wanted = "FROM clip JOIN practice ON practice.id = clip.practice_id"
        parameters: Row = (json.dumps(practice_ids),) if practice_ids else ()
        wanted += " WHERE practice.id IN (SELECT value FROM json_each(?))" if parameters else ""
        with self._reading():
            clips = self._read(f"SELECT clip.id, practice.date, practice.name, practice.id, path {wanted}", parameters)
            clips.sort(key=lambda clip: (*clip[1:4], by_name(clip[4])))
            chosen = f"WHERE clip_id IN (SELECT clip.id {wanted})" if parameters else ""
            cursor = self._connection.execute(f"{tables.SERVES.select} {chosen} ORDER BY serve.rowid", parameters)
            columns = columns_from(iter(lambda: cursor.fetchmany(ROWS_AT_ONCE), []))
        return in_order(columns, [clip_id for clip_id, *_ in clips])

    def touches_on_film(self) -> list[Row]:
        """For each landing that the film sharpened: how long after its frame the touch was, its deviation, both gaps.

        All in seconds of the clip; the gaps are those to the frame before and after the one clicked.
        """
        cells = "touch_after_s, touch_sd_s, landing_gap_before_s, landing_gap_after_s"
        with self._reading():
            return self._read(
                f"SELECT {cells} FROM serve WHERE touch_sd_s IS NOT NULL AND EXISTS "
                "(SELECT 1 FROM ball_mark WHERE serve_id = serve.id AND by_film = 1 AND of_contact = 0)",
                (),
            )

    @contextmanager
    def one_change(self) -> Iterator[None]:
        """All that is read and written inside is one transaction: kept whole at its end, or not at all."""
        with self._changing():
            yield

    def put(self, *records: Record) -> None:
        """Add records, or change those whose id is there, all in one transaction."""
        with self._changing():
            for record in records:
                put_record(self._connection, record)

    def remove(self, *records: Record) -> None:
        """Remove records in one transaction; what others still need is refused with a sentence.

        A removed player leaves the serving orders; a removed serve takes its ball marks along, a removed clip what is
        known of its views.
        """
        with self._changing():
            for record in records:
                self._remove(record)

    def change_serves(self, changes: Sequence[tuple[Serve | None, Serve | None]]) -> None:
        """Add (before None), change or remove (after None) serves, all in one transaction.

        A serve that no longer is what ``before`` says, or is gone, was changed by another window; then nothing is
        changed. Only a serve to be removed may be gone already.
        """
        with self._changing():
            for before, after in changes:
                if before is not None:
                    require_unchanged(self._connection, before, gone_will_do=after is None)
                if after is not None:
                    put_record(self._connection, after)
                elif before is not None:
                    self._remove(before)

    def get_setting(self, key: str, default: str = "") -> str:
        """The text kept under a key."""
        rows = self._read("SELECT text FROM setting WHERE key = ?", (key,))
        return str(rows[0][0]) if rows else default

    def set_setting(self, key: str, text: str) -> None:
        """Keep a text under a key."""
        with self._changing():
            cells = (text_cell(key, "key"), text_cell(text, f"{key} setting"))
            put_rows(self._connection, "setting", ("key", "text"), [cells], key="key")

    def copy_into(self, target: sqlite3.Connection) -> None:
        """Make another file, or one in memory, hold all this one holds."""
        with self._turn, translate_sqlite_errors(self.path):
            self._connection.backup(target)

    def rows(self, table: str, columns: str) -> list[Row]:
        """The rows of what keeps no records: settings, drafts of views, counts of serves."""
        return self._read(f"SELECT {columns} FROM {table}")

    def check(self) -> list[str]:
        """What is wrong with the file itself and the values in it, as sentences; none where it is whole."""
        with self._turn, translate_sqlite_errors(self.path):
            return file_faults(self._connection, self.path)

    @contextmanager
    def _reading(self) -> Iterator[None]:
        with self._turn, translate_sqlite_errors(self.path):
            nested = self._connection.in_transaction
            if not nested:
                self._connection.execute("BEGIN")
            try:
                yield
            finally:
                if not nested and self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    @contextmanager
    def _changing(self) -> Iterator[None]:
        with self._turn, translate_sqlite_errors(self.path):
            nested = self._connection.in_transaction
            if nested:
                yield
                return
            if self.why_read_only:
                raise UserError(self.why_read_only)
            self._removed.clear()
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._commit()
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise

    def _commit(self) -> None:
        try:
            self._connection.execute("COMMIT")
        except sqlite3.IntegrityError:
            names = [getattr(record, "name", "") for record in self._removed]
            raise UserError(loose_end(self._connection, names)) from None

    def _read(self, statement: str, parameters: Row = ()) -> list[Any]:
        with self._turn, translate_sqlite_errors(self.path):
            return self._connection.execute(statement, parameters).fetchall()

    def _records(self, table: Table, where: str = "", parameters: Row = ()) -> list[Any]:
        rows = self._read(f"{table.select} {where} ORDER BY {table.order}", parameters)
        with told_as(f"A {table.name} in {self.path.name} cannot be read; check the logbook to see which."):
            return [table.record(row) for row in rows]

    def _remove(self, record: Record) -> None:
        remove_record(self._connection, record)
        self._removed.append(record)

"""A connection that no file can keep busy or fill without end, whatever is written in it."""

from __future__ import annotations

import sqlite3
import time
from typing import Any

QUERY_LIMIT_S = 30.0
BYTES_PER_S = 3e6
"""A slow stick's: a statement that reads a large file whole has as much longer as that takes, to LONGEST_S."""
LONGEST_S = 600.0
STEPS_BETWEEN_LOOKS = 20_000
LIMITS = {
    sqlite3.SQLITE_LIMIT_LENGTH: 1 << 26,
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 1 << 16,
    sqlite3.SQLITE_LIMIT_COLUMN: 200,
    sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER: 200,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 100,
    sqlite3.SQLITE_LIMIT_COMPOUND_SELECT: 5,
    sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH: 10,
    sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 100,
    sqlite3.SQLITE_LIMIT_ATTACHED: 0,
    sqlite3.SQLITE_LIMIT_WORKER_THREADS: 0,
}
"""Several times what the largest logbook needs: texts [bytes], columns, terms. SQLite's manual, "Defense Against The
Dark Arts", advises to set them for files from elsewhere."""


class LimitedConnection(sqlite3.Connection):
    """A connection whose every statement ends after a while, with SQLITE_INTERRUPT, and whose texts have an end.

    Examples
    --------
    >>> connection = sqlite3.connect(":memory:", factory=LimitedConnection)
    >>> connection.getlimit(sqlite3.SQLITE_LIMIT_ATTACHED)
    0
    >>> connection.close()
    """

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._started_s = time.monotonic()
        self._reading_s = 0.0
        for limit, most in LIMITS.items():
            self.setlimit(limit, most)
        self.set_progress_handler(self._is_late, STEPS_BETWEEN_LOOKS)

    def allow_for(self, size_bytes: int) -> None:
        """Give each statement the time that a file of this size needs to be read whole."""
        self._reading_s = size_bytes / BYTES_PER_S

    @property
    def limit_s(self) -> float:
        """How long a statement may take."""
        return min(QUERY_LIMIT_S + self._reading_s, LONGEST_S)

    def execute(self, *arguments: Any) -> sqlite3.Cursor:
        """Run a statement; its time runs from here until its last row is read."""
        self._started_s = time.monotonic()
        return super().execute(*arguments)

    def executemany(self, *arguments: Any) -> sqlite3.Cursor:
        """Run a statement for many rows, all of them within the time of one."""
        self._started_s = time.monotonic()
        return super().executemany(*arguments)

    def _is_late(self) -> bool:
        return time.monotonic() - self._started_s > self.limit_s

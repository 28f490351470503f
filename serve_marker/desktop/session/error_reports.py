"""Exceptions nobody expected, of whatever thread, handed to the window with a report that can be copied."""

from __future__ import annotations

import platform
import re
import sys
import threading
import traceback
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QObject, Signal, qVersion

from serve_marker import __version__

LONGEST_REASON = 160


class ErrorReports(QObject):
    """Takes what no code caught, once installed; nothing of it ends the program.

    Signals
    -------
    taken(exception) : on the thread of whoever listens.
    """

    taken = Signal(object)

    def install(self) -> None:
        """Listen for the exceptions of the window's thread and of all others."""
        sys.excepthook = self._from_window
        threading.excepthook = self._from_thread

    def _from_window(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        traceback.print_exception(kind, error, trace)
        with suppress(RuntimeError):  # the window has gone
            self.taken.emit(error)

    def _from_thread(self, args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None and args.exc_type is not SystemExit:
            self._from_window(args.exc_type, args.exc_value, args.exc_traceback)


def error_sentence(error: BaseException) -> str:
    """Return what the coach reads about an exception nobody expected.

    Examples
    --------
    >>> error_sentence(ZeroDivisionError("by nought"))
    'Something went wrong inside the program (ZeroDivisionError: by nought). What was marked is kept.'
    """
    reason = f"{type(error).__name__}: {error}".partition("\n")[0].removesuffix(": ")[:LONGEST_REASON]
    return f"Something went wrong inside the program ({reason}). What was marked is kept."


def error_report(error: BaseException, names: Iterable[str] = ()) -> str:
    """Return the program's version and the traceback, without the home folder and without any word of ``names``.

    Examples
    --------
    >>> error_report(KeyError("Marit Jansen 7"), ["Marit Jansen"]).splitlines()[-1]
    "KeyError: '... ... 7'"
    """
    head = f"Serve Marker {__version__}, Python {platform.python_version()}, Qt {qVersion()}, {platform.platform()}"
    text = "".join([head, "\n", *traceback.format_exception(error)]).replace(str(Path.home()), "~")
    words = sorted({re.escape(word) for name in names for word in name.split()}, key=len, reverse=True)
    if not words:
        return text
    return re.sub(rf"(?<![^\W_])(?:{'|'.join(words)})(?![^\W_])", "...", text, flags=re.IGNORECASE)

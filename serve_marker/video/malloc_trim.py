"""Free memory goes back to the system."""

from __future__ import annotations

import ctypes
import sys


def give_back_free_memory() -> None:
    """Hand what is free but still held back to the system.

    Only the GNU C library is asked: it keeps the holes that pictures of many sizes leave between blocks in use, so that
    a program grows for hours although what it uses stays the same (malloc_trim(3)). Takes some milliseconds.
    """
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(0)

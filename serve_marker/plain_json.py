"""JSON from outside: what is no JSON, or holds numbers beyond reason, is one kind of error."""

from __future__ import annotations

import json
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import Field, fields
from pathlib import Path
from typing import Any, ClassVar, NoReturn, Protocol, TypeVar

from serve_marker.errors import UserError

LARGEST_NUMBER = 1e15
"""Beyond any pixel, time [s], measure [m] and covariance [m2] that a film can give."""
LARGEST_FILE_BYTES = 1 << 26
_LONGEST_NUMBER = 40
_UNREADABLE = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)


class _Dataclass(Protocol):
    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]


Kept = TypeVar("Kept", bound=_Dataclass)


def read_json(text: str) -> Any:
    """Return what JSON text holds.

    Raises
    ------
    ValueError : where it is no JSON, is nested too deeply, or holds NaN, Infinity or a number beyond LARGEST_NUMBER.

    Examples
    --------
    >>> read_json('{"marks": [1, 2.5]}')
    {'marks': [1, 2.5]}
    >>> read_json("[1e308]")
    Traceback (most recent call last):
    ...
    ValueError: 1e308 is no number of a film
    """
    try:
        return json.loads(text, parse_float=_real, parse_int=_whole, parse_constant=_refused)
    except RecursionError:
        raise ValueError("nested too deeply") from None


def text_of_file(path: Path, largest_bytes: int = LARGEST_FILE_BYTES) -> str:
    """Return the text of a file in UTF-8.

    Raises
    ------
    UserError : where it is none, is no file at all or larger than ``largest_bytes``, or cannot be read.
    """
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise UserError(f"{path.name or path} is not a file; check the name.")
        if found.st_size > largest_bytes:
            raise UserError(f"{path.name} is larger than any such file; choose another one.")
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise UserError(f"{path.name} is not a text file; give a JSON file.") from error
    except OSError as error:
        raise UserError(f"{path.name} cannot be read ({error.strerror}); check the name.") from error


def read_object(text: str) -> dict[str, Any]:
    """Return the named values that JSON text holds.

    Raises
    ------
    ValueError : as `read_json`, and where it holds something else.

    Examples
    --------
    >>> read_object('{"sd_px": 0.6}')
    {'sd_px': 0.6}
    """
    plain = read_json(text)
    if not isinstance(plain, dict):
        raise ValueError("named values were expected")
    return plain


def _real(digits: str) -> float:
    number = float(digits)
    if not abs(number) <= LARGEST_NUMBER:
        _refused(digits)
    return number


def _whole(digits: str) -> int:
    if len(digits) > _LONGEST_NUMBER or abs(number := int(digits)) > LARGEST_NUMBER:
        _refused(digits)
    return number


def _refused(digits: str) -> NoReturn:
    raise ValueError(f"{digits[:_LONGEST_NUMBER]} is no number of a film")


@contextmanager
def told_as(sentence: str) -> Iterator[None]:
    """Turn whatever a reader trips over in a damaged text into one UserError; its own UserErrors stay.

    Examples
    --------
    >>> with told_as("The plan cannot be read; write it anew."):
    ...     read_json('{"blocks": 7}')["blocks"][0]
    Traceback (most recent call last):
    ...
    serve_marker.errors.UserError: The plan cannot be read; write it anew.
    """
    try:
        yield
    except _UNREADABLE as error:
        raise UserError(sentence) from error


def require_kinds(record: Kept) -> Kept:
    """Return a dataclass read from JSON, if each value is of the kind of its default; a whole number is a number too.

    Raises
    ------
    TypeError : naming the first field that holds something else.
    """
    for part in fields(record):
        value = getattr(record, part.name)
        if not _of_kind(value, _usual(part)):
            raise TypeError(f"{part.name} cannot be {value!r}")
    return record


def texts_of(values: Sequence[object]) -> tuple[str, ...]:
    """Return a list read from JSON, if it holds texts alone.

    Raises
    ------
    TypeError : where it holds something else.
    """
    if not isinstance(values, list) or not all(isinstance(value, str) for value in values):
        raise TypeError("a list of texts was expected")
    return tuple(values)


def _usual(part: Field[Any]) -> Any:
    return part.default_factory() if callable(part.default_factory) else part.default


def _of_kind(value: object, usual: object) -> bool:
    if isinstance(usual, bool) or isinstance(value, bool):
        return isinstance(usual, bool) and isinstance(value, bool)
    if isinstance(usual, float):
        return isinstance(value, int | float)
    if isinstance(usual, tuple):
        return isinstance(value, tuple) and all(isinstance(one, str) for one in value)
    return not isinstance(usual, int | str) or isinstance(value, type(usual))

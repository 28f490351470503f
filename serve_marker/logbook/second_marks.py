"""Serves that two coaches have marked, and who marked which."""

from __future__ import annotations

from dataclasses import dataclass

from serve_marker.logbook.records import Serve


@dataclass(frozen=True, kw_only=True)
class Marker:
    """Who marked the serve of this id: the name of the logbook it came from, or as she was called there."""

    id: str
    name: str


@dataclass(frozen=True, kw_only=True)
class SecondMark:
    """The same serve as marked by another: ``serve`` as a whole, kept beside the one of ``serve_id``."""

    id: str
    serve_id: str
    name: str
    serve: Serve

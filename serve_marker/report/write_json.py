"""A logbook as one JSON file: everything raw, enough to make an equal logbook, and every serve as it is exported.

docs/json-format.md explains it; ``logbook/json_tables.py`` reads it back.
"""

from __future__ import annotations

import json
from pathlib import Path

from serve_marker.logbook.json_tables import JSON_FORMAT, JSON_VERSION, tables_of
from serve_marker.logbook.store import Logbook
from serve_marker.report.export_columns import EXPORT_COLUMNS, plain_rows
from serve_marker.report.write_files import write_whole
from serve_marker.study.serve_columns import serve_table


def write_json(logbook: Logbook, path: Path) -> None:
    """Write all a logbook holds, and its serves with what is told of them, as JSON in UTF-8."""
    serves = [dict(zip(EXPORT_COLUMNS, row, strict=True)) for row in plain_rows(serve_table(logbook))]
    plain = {"format": JSON_FORMAT, "version": JSON_VERSION, "serves": serves, "tables": tables_of(logbook)}
    write_whole(json.dumps(plain, ensure_ascii=False, indent=1, allow_nan=False).encode(), path)

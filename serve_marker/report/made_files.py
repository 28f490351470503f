"""Sheets, stills and tables the program made, known again by their names and by what they say of themselves."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Collection
from pathlib import Path

from serve_marker.report.write_files import safe_name

_OF_THE_TEAM = re.compile(
    r".*/(?:(?:team sheet.*|ladder|serving load|plan .*|match day)\.pdf|serves.*\.(?:csv|xlsx)"
    r"|.*\.(?:vtt|ics|json|parquet))"
)
"""What shows everybody, and is made anew without her in a moment."""
_OF_A_SERVER = (
    r"(?:.*/server {who}.*\.pdf|.*/\d{{3}} {who}\.png|by server/{who} .*\.png|.*/{who}\.html|.*/{who}(?: .*)?\.mp4)"
)
_OF_A_PRACTICE = re.compile(r".*/all landings .*\.png|by aim/.*\.png")
_SIGNATURES = {
    **dict.fromkeys((".pdf", ".html", ".mp4", ".vtt", ".ics"), b"Serve Marker"),
    ".json": b"Serve Marker logbook",
    **dict.fromkeys((".csv", ".parquet"), b"serve_id"),
    ".png": b"PNG",
}
_HEAD_BYTES = 1 << 16


def made_files_showing(folder: Path, names: Collection[str]) -> list[Path]:
    """Return the files of ours in a folder, and in those in it, that show a server, or everybody.

    Parameters
    ----------
    names : how she is written: "7 Marit", "Marit"; each shirt number she has had makes one.
    """
    hers = [re.compile(_OF_A_SERVER.format(who=re.escape(safe_name(name)))) for name in names]
    patterns = [*hers, _OF_THE_TEAM, _OF_A_PRACTICE]
    files = (file for file in sorted(folder.rglob("*")) if file.is_file())
    return [
        file
        for file in files
        if any(one.fullmatch(f"{file.parent.name}/{file.name}") for one in patterns) and _is_ours(file)
    ]


def _is_ours(file: Path) -> bool:
    if file.suffix == ".xlsx":
        try:
            with zipfile.ZipFile(file) as book:
                return b"Serve Marker" in book.read("docProps/core.xml")
        except (OSError, KeyError, zipfile.BadZipFile):
            return False
    content = file.read_bytes()
    return _SIGNATURES[file.suffix] in content[:_HEAD_BYTES] + content[-_HEAD_BYTES:]

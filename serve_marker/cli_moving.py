"""The commands for a logbook that moves house: its clips found in a folder, all of it packed and unpacked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from serve_marker.cli_named import allow_clips, open_logbook
from serve_marker.cli_printout import progress_on_stderr, say

if TYPE_CHECKING:
    from serve_marker.logbook.records import ClipEntry


def logbook_find_clips(logbook: Path, folder: Path) -> None:
    """Look for a logbook's moved clips in a folder. Where they are is kept."""
    from serve_marker.logbook.moved_clips import find_all_moved, found_sentences, keep_places

    with open_logbook(logbook) as book:
        book.clip_folders.add(folder)
        found = find_all_moved(book, folder)
        keep_places(book, found.moved)
    for sentence in found_sentences(found, folder):
        say(sentence)


def logbook_pack(
    logbook: Path,
    out: Annotated[Path, typer.Option("-o", "--out", help="A new .zip file, or a new folder.")],
    clips: Annotated[list[Path] | None, typer.Option("--clips", help="A folder in which clips may be opened.")] = None,
) -> None:
    """Pack a logbook and its clips for your own move to another computer."""
    from serve_marker.logbook.pack import NOT_SHARING, pack

    with open_logbook(logbook) as book:
        allow_clips(book, clips or [])
        packed = pack(book, out, progress_on_stderr("megabytes"))
    say(NOT_SHARING)
    _say_missing(packed.missing)
    say(f"{out} is ready.")


def logbook_unpack(
    pack: Path,
    out: Annotated[Path, typer.Option("-o", "--out", help="The new folder to unpack into.")],
) -> None:
    """Unpack a logbook and its clips from a zip file into a new folder."""
    from serve_marker.logbook.unpack import unpack

    unpacked = unpack(pack, out, progress_on_stderr("megabytes"))
    _say_missing(unpacked.missing)
    say(f"{unpacked.logbook} is ready.")


def _say_missing(clips: Sequence[ClipEntry]) -> None:
    from serve_marker.logbook.moved_clips import missing_sentence

    for entry in clips:
        say(missing_sentence(entry))

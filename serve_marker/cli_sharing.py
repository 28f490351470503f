"""The commands that share what a logbook holds: stills, and files for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from serve_marker.cli_named import (
    Audience,
    OneServer,
    OtherFolders,
    OutFile,
    OutFolder,
    PracticeName,
    allow_clips,
    opened_for,
    practice_named,
    require_target,
)
from serve_marker.cli_printout import print_paths, progress_on_stderr, say
from serve_marker.report.still_sizes import DEFAULT_SIZE, STILL_SIZES


def stills(
    logbook: Path,
    out: OutFolder,
    practice: PracticeName = "",
    clips: OtherFolders = None,
    size: Annotated[str, typer.Option(help=f"{', '.join(STILL_SIZES)}.")] = DEFAULT_SIZE,
    audience: Audience = "team",
) -> None:
    """Write a picture of each landing, and of all, by server and by aim."""
    from serve_marker.desktop.app import offscreen_app
    from serve_marker.desktop.share.stills import write_stills

    with opened_for(logbook, audience) as book:
        allow_clips(book, clips or [])
        practice_id = practice_named(book, practice)
        offscreen_app()
        paths = write_stills(book, out, practice_id, progress_on_stderr("stills"), size=size)
    print_paths(paths)


def excerpts(
    logbook: Path,
    out: Annotated[Path, typer.Option("-o", "--out", help="A folder, or one file ending in .mp4.")],
    practice: PracticeName = "",
    server: OneServer = "",
    aim: Annotated[str, typer.Option(help="Only serves at this aim.")] = "",
    overlay: Annotated[bool, typer.Option(help="Draw on the film; else it is copied as it is.")] = True,
    clips: OtherFolders = None,
    audience: Audience = "team",
) -> None:
    """Write serves as film: a file for each server, or one for all."""
    from serve_marker.desktop.app import offscreen_app
    from serve_marker.desktop.share.excerpts import chosen_serves, write_excerpts
    from serve_marker.report.sheets import player_ids

    with opened_for(logbook, audience) as book:
        allow_clips(book, clips or [])
        players = player_ids(book, server) if server else []
        serves = chosen_serves(book, practice_named(book, practice), players, aim)
        offscreen_app()
        paths = write_excerpts(book, out, serves, overlay, progress_on_stderr("excerpts"))
    print_paths(paths)


def pages(
    logbook: Path,
    out: OutFolder,
    practice: PracticeName = "",
    server: OneServer = "",
    clips: OtherFolders = None,
    audience: Audience = "team",
) -> None:
    """Write a page for the phone of each server, with her stills in it."""
    from serve_marker.desktop.app import offscreen_app
    from serve_marker.desktop.share.phone_pages import write_phone_pages
    from serve_marker.report.sheets import player_ids

    with opened_for(logbook, audience) as book:
        allow_clips(book, clips or [])
        players = player_ids(book, server) if server else []
        offscreen_app()
        paths = write_phone_pages(book, out, practice_named(book, practice), players, progress_on_stderr("pages"))
    print_paths(paths)


def export(
    logbook: Path,
    out: OutFile,
    clip: Annotated[str, typer.Option(help="The clip whose subtitles are written.")] = "",
    audience: Audience = "team",
) -> None:
    """Write a logbook for other programs. The ending chooses.

    Serves as a table: .csv, .xlsx or .parquet. Everything: .json. Subtitles of a clip: .vtt. Planned practices: .ics.
    """
    from serve_marker.report.write_export import write_export

    with opened_for(logbook, audience) as book:
        write_export(book, out, clip)
    say(str(out))


def marks_export(
    logbook: Path,
    out: OutFile,
    clip: Annotated[Path, typer.Option(help="The clip whose marks are written.")],
    audience: Audience = "team",
) -> None:
    """Write the marks of a clip as a table that import reads."""
    from serve_marker.report.write_marks import write_marks
    from serve_marker.study.sentences import count_words
    from serve_marker.video.clip import open_clip

    require_target(out, ".csv", clip)
    with opened_for(logbook, audience) as book:
        count, more = write_marks(book, open_clip(clip), out)
    say(f"{count_words(count, 'serve')} written to {out.name}.")
    if more:
        say(f"Such a table leaves out part of {count_words(more, 'serve')}; JSON holds all.")

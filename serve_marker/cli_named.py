"""What is named on the command line: the file to write, the logbook, its practice, the folders of its clips."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from serve_marker.cli_printout import say
from serve_marker.errors import UserError
from serve_marker.printable import quoted_name

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

OutFile = Annotated[Path, typer.Option("-o", "--out", help="The file to write.")]
OutFolder = Annotated[Path, typer.Option("-o", "--out", help="The folder to write into.")]
OtherFolders = Annotated[
    list[Path] | None,
    typer.Option("--clips", help="A folder of another computer in which clips may be opened."),
]
Audience = Annotated[str, typer.Option("--for", help="team, outside or coach: who will see it.")]
OneServer = Annotated[str, typer.Option("--server", help="Only this server: shirt number or name.")]
PracticeName = Annotated[str, typer.Option("--practice", help="Only the practice of this name.")]


def require_target(out: Path, ending: str, source: Path) -> None:
    """Refuse a file to write that has another ending, or is the one being read."""
    if out.suffix.lower() != ending:
        raise UserError(f"{out.name} does not end in {ending}. Choose a name that does.")
    if out.exists() and source.exists() and out.samefile(source):
        raise UserError(f"{out.name} is the file being read; choose another name for what is written.")


def open_logbook(path: Path) -> Logbook:
    """Return the opened logbook of that path."""
    from serve_marker.logbook.store import Logbook

    return Logbook.open(path)


@contextmanager
def opened_for(path: Path, audience: str) -> Iterator[Logbook]:
    """Yield the opened logbook of that path as an audience may see it; who is left out is said on stderr."""
    from serve_marker.logbook.consents import AUDIENCES
    from serve_marker.logbook.records import player_words
    from serve_marker.logbook.sharing import players_left_out, shared_with

    if audience not in AUDIENCES:
        raise UserError(f"Nothing is made for {quoted_name(audience)}; choose one of {', '.join(AUDIENCES)}.")
    today = date.today().isoformat()
    with open_logbook(path) as book:
        for player in players_left_out(book, audience, today):
            say(f"Left out, without consent: {quoted_name(player_words(player))}.", on_stderr=True)
        with shared_with(book, audience, today) as shared:
            yield shared


def allow_clips(logbook: Logbook, folders: list[Path]) -> None:
    """Let clips be opened in these folders and in those of this computer the logbook names, each of which is said.

    Another computer is asked only where its folder is among ``folders``.
    """
    from serve_marker.logbook.clip_places import local_folders_outside

    logbook.clip_folders.update(folders)
    for folder in local_folders_outside(logbook):
        say(f"Clips are also looked for in {quoted_name(folder)}, outside the logbook's folder.", on_stderr=True)
        logbook.clip_folders.add(folder)


def practice_named(logbook: Logbook, name: str) -> str | None:
    """Return the id of the practice of that name, None for no name.

    Raises
    ------
    UserError
        Naming the practices there are.
    """
    if not name:
        return None
    practices = logbook.practices()
    for practice in practices:
        if practice.name == name:
            return practice.id
    known = ", ".join(p.name for p in practices) or "none yet"
    raise UserError(f"{logbook.path.name} has no practice named {name}; it has: {known}.")

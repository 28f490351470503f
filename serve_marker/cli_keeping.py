"""The commands that keep a logbook: one made of two or of JSON, what is left of a damaged one, players erased."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from serve_marker.cli_named import open_logbook, require_target
from serve_marker.cli_printout import say
from serve_marker.errors import UserError

if TYPE_CHECKING:
    from serve_marker.logbook.merge import Merged
    from serve_marker.logbook.store import Logbook

OutLogbook = Annotated[Path, typer.Option("-o", "--out", help="The logbook to write.")]


def logbook_rescue(path: Path, out: OutLogbook) -> None:
    """Write what can be read of a damaged logbook into a new one. What is lost is told."""
    from serve_marker.logbook.rescue import rescue, write_rescued

    require_target(out, ".logbook", path)
    logbook, lost = rescue(path)
    with logbook:
        write_rescued(logbook, out)
    for sentence in lost or ["Nothing is lost."]:
        say(sentence)
    say(f"{out} is ready.")


def logbook_import(
    path: Annotated[Path, typer.Argument(metavar="FILE.json", help="What export wrote as JSON.")],
    out: OutLogbook,
) -> None:
    """Make a new logbook of one exported as JSON."""
    from serve_marker.logbook.json_tables import write_logbook

    require_target(out, ".logbook", path)
    write_logbook(path, out)
    say(f"{out} is ready.")


def logbook_erase(
    path: Path,
    player: Annotated[str, typer.Option(help="Shirt number or name.")],
    keep_serves: Annotated[bool, typer.Option(help="Her serves stay, without a name.")] = False,
    folder: Annotated[
        list[Path] | None, typer.Option(help="A folder with sheets or stills, to be cleared too.")
    ] = None,
) -> None:
    """Erase a player from a logbook, its backups and copies. Sheets and stills of her go too."""
    from serve_marker.report.erase_player import erase_player
    from serve_marker.report.sheets import player_ids

    with open_logbook(path) as logbook:
        found = player_ids(logbook, player)
    if len(found) > 1:
        raise UserError(f"{player} names {len(found)} players; give the full name of one.")
    erasure = erase_player(path, found[0], keep_serves=keep_serves, folders=folder or [])
    for sentence in (*erasure.done, *erasure.left):
        say(sentence)


def logbook_merge(
    first: Path,
    second: Path,
    out: OutLogbook,
    same: Annotated[list[str] | None, typer.Option(help="A player of both that is one.")] = None,
    different: Annotated[list[str] | None, typer.Option(help="A name that two players share.")] = None,
) -> None:
    """Make one logbook of two of the same team; both stay as they are."""
    from serve_marker.logbook.merge import write_merged
    from serve_marker.study.agreement import merge_sentences

    require_target(out, ".logbook", first)
    with open_logbook(first) as one, open_logbook(second) as other:
        merged = _merged(one, other, _folded(same), _folded(different))
    write_merged(merged, out)
    with open_logbook(out) as book:
        for sentence in merge_sentences(merged, book):
            say(sentence)


def _merged(one: Logbook, other: Logbook, same: set[str], different: set[str]) -> Merged:
    """Merge, with what was said of players in doubt."""
    from serve_marker.logbook.merge import PlayersInDoubtError, merge

    answers: dict[frozenset[str], bool] = {}
    while True:
        try:
            return merge(one, other, answers)
        except PlayersInDoubtError as doubt:
            told = {}
            for pair in doubt.questions:
                names = _folded(player.name for player in pair)
                if names & (same | different):
                    told[frozenset(player.id for player in pair)] = bool(names & same)
            if not told:
                raise
            answers |= told


def _folded(names: Iterable[str] | None) -> set[str]:
    return {" ".join(name.split()).casefold() for name in names or ()}

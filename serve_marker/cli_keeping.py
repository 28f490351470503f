"""The commands that keep a logbook: one made of two or of JSON, what is left of a damaged one, players erased."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from serve_marker.cli_named import open_logbook, require_target
from serve_marker.cli_printout import print_answer, say
from serve_marker.errors import UserError
from serve_marker.printable import quoted_name

if TYPE_CHECKING:
    from serve_marker.logbook.merge import Merged
    from serve_marker.logbook.store import Logbook

OutLogbook = Annotated[Path, typer.Option("-o", "--out", help="The logbook to write.")]
Same = Annotated[list[str] | None, typer.Option("--same", help="A player who is the same in both.")]
Different = Annotated[list[str] | None, typer.Option("--different", help="A name that two players share.")]
Result = TypeVar("Result")


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
    same: Same = None,
    different: Different = None,
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


def logbook_load(
    logbook: Path,
    also: Annotated[Path | None, typer.Option(help="The logbook of her other team.")] = None,
    same: Same = None,
    different: Different = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")] = False,
) -> None:
    """Tell how many serves each player hit in a week. Two teams add up."""
    from serve_marker.study.load_words import RANGE_NOTE, week_lines
    from serve_marker.study.loads import COUNTED, LOAD_NOTE, by_week
    from serve_marker.study.loads_of_both import loads_in, loads_of_both

    with open_logbook(logbook) as book:
        if also is None:
            loads, shared = loads_in(book), set[str]()
        else:
            with open_logbook(also) as other:
                asked = _folded(same), _folded(different)
                loads, shared = _answered(lambda answers: loads_of_both(book, other, answers), *asked)
    weeks = by_week(loads)
    in_both = sorted(set(weeks.loc[weeks["player_id"].isin(shared), "server"]))
    rows = weeks[["server", "week", "week_begins", *COUNTED]].to_dict("records")
    words = [*week_lines(loads), "In brackets: the jump serves among them.", RANGE_NOTE]
    if in_both:
        words.append(f"In both teams: {', '.join(map(quoted_name, in_both))}.")
    print_answer({"weeks": rows, "in_both": in_both}, as_json, lambda _plain: [*words, LOAD_NOTE])


def _merged(one: Logbook, other: Logbook, same: set[str], different: set[str]) -> Merged:
    from serve_marker.logbook.merge import merge

    return _answered(lambda answers: merge(one, other, answers), same, different)


def _answered(work: Callable[[dict[frozenset[str], bool]], Result], same: set[str], different: set[str]) -> Result:
    """Do work on two logbooks, with what was said of players in doubt."""
    from serve_marker.logbook.merge import PlayersInDoubtError

    answers: dict[frozenset[str], bool] = {}
    while True:
        try:
            return work(answers)
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

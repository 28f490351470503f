"""Blocks of a plan as a coach types them into a table, and back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError
from serve_marker.logbook.records import SERVE_TYPES, TARGET_KINDS, PlanBlock, Player, player_words

BLOCK_COLUMNS = ("players", "aim", "serve type", "targets", "effort", "serves each", "minutes", "why")
PlayersWritten = Callable[[str], Sequence[Player]]


def block_texts(block: PlanBlock, players: Mapping[str, Player]) -> tuple[str, ...]:
    """Return a block as the texts of BLOCK_COLUMNS; what is not asked for is "".

    Examples
    --------
    >>> block = PlanBlock(player_ids=("p",), aim="deep 1", effort=0.8, serves=20, minutes=8, reason="not yet")
    >>> block_texts(block, {"p": Player(id="p", name="Marit", number=7)})
    ('7 Marit', 'deep 1', '', '', '80 %', '20', '8', 'not yet')
    """
    who = ", ".join(player_words(players[key]) for key in block.player_ids if key in players)
    targets = "" if block.target_kind == "none" else block.target_kind
    effort = f"{100 * block.effort:.0f} %" if block.effort else ""
    minutes = str(block.minutes) if block.minutes else ""
    return who, block.aim, block.serve_type, targets, effort, str(block.serves), minutes, block.reason


def block_from_texts(
    texts: Sequence[str], number: int, court: Court, scheme: AreaScheme, written: PlayersWritten
) -> PlanBlock:
    """Return the block that the texts of BLOCK_COLUMNS describe; ``written`` finds the players of numbers and names.

    Raises
    ------
    UserError
        Naming the block's ``number`` and what cannot be read.
    """
    who, aim, serve_type, targets, effort, serves, minutes, reason = (text.strip() for text in texts)
    players = tuple(player.id for player in written(who))
    if not players:
        raise UserError(f"Block {number} needs players; write numbers or names.")
    parse_aim(aim, court, scheme)
    if serve_type.casefold() not in ("", *SERVE_TYPES):
        raise UserError(f"Block {number}: {serve_type} is no serve type; choose one of: {', '.join(SERVE_TYPES)}.")
    if targets.casefold() not in ("", *TARGET_KINDS):
        raise UserError(f"Block {number}: {targets} is no kind of target; choose one of: {', '.join(TARGET_KINDS)}.")
    each = _whole(serves, number, "serves each")
    if not each:
        raise UserError(f"Block {number}: how many serves each? Write a number of 1 or more.")
    share = _whole(effort.removesuffix("%").strip(), number, "effort in %")
    if share > 100:
        raise UserError(f"Block {number}: the effort asked for lies between 0 and 100 %.")
    return PlanBlock(
        player_ids=players,
        aim=" ".join(aim.casefold().split()),
        serve_type=serve_type.casefold(),
        target_kind=targets.casefold() or TARGET_KINDS[0],
        effort=share / 100,
        serves=each,
        minutes=_whole(minutes, number, "minutes"),
        reason=reason,
    )


def _whole(text: str, number: int, what: str) -> int:
    if not text:
        return 0
    if not text.isdecimal() or len(text) > 3:
        raise UserError(f"Block {number}: {text} is no number; write {what} as a whole number.")
    return int(text)

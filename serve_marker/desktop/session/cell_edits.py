"""A serve with one cell of the serve list written anew."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError
from serve_marker.logbook.outcomes import OUTCOMES, RECEPTIONS
from serve_marker.logbook.records import SERVE_TYPES, TARGET_KINDS, Player, Serve
from serve_marker.study.settings import StudySettings

PLACING_COLUMNS = ("outcome", "landing_height_m", "serve_type")
"""Columns on which a serve's place depends."""
HIGHEST_RECEPTION_M = 3.0


def with_cell(
    serve: Serve,
    column: str,
    text: str,
    court: Court,
    scheme: AreaScheme,
    settings: StudySettings,
    player_written: Callable[[str], Player],
) -> Serve:
    """Return the serve with what is written in that column; a UserError where it cannot be."""
    if column == "server":
        return replace(serve, player_id=player_written(text).id if text else None)
    if column == "serve_type":
        return replace(serve, serve_type=_one_of(text, ("", *SERVE_TYPES), "serve type"))
    if column == "aim":
        parse_aim(text, court, scheme)
        return replace(serve, aim=text)
    if column == "outcome":
        return with_outcome(serve, _one_of(text, OUTCOMES, "outcome"))
    if column == "reception":
        return with_reception(serve, _one_of(text, RECEPTIONS, "reception"))
    if column == "target_kind":
        return replace(serve, target_kind=_one_of(text, TARGET_KINDS, "kind of target"))
    if column == "landing_height_m":
        return replace(serve, landing_height_m=_height_m(serve, text))
    if column == "pass_rating":
        rating = None if text in ("", "-") else int(_one_of(text, ("0", "1", "2", "3", "4"), "pass rating"))
        return replace(serve, pass_rating=rating) if rating is None else with_rating(serve, rating, settings)
    if column == "passer":
        return replace(serve, passer_id=player_written(text).id if text else None)
    if column == "note":
        return replace(serve, note=text)
    raise ValueError(f"the serve list has no editable column {column!r}")


def with_outcome(serve: Serve, outcome: str) -> Serve:
    """Return the serve ended so; only a received one keeps what became of it."""
    return replace(serve, outcome=outcome, reception=serve.reception if outcome == "received" else "")


def with_reception(serve: Serve, reception: str) -> Serve:
    """Return the serve with what became of it once received."""
    if reception and serve.outcome != "received":
        raise UserError("Only a received ball is played, over or a shank. Press R if it was received.")
    return replace(serve, reception=reception)


def with_rating(serve: Serve, rating: int, settings: StudySettings) -> Serve:
    """Return the serve with its pass rated on the team's scale."""
    if rating > settings.best_pass:
        raise UserError(
            f"Passes are rated 0 to {settings.best_pass} here; Practice > Units and settings chooses another scale."
        )
    return replace(serve, pass_rating=rating)


def _one_of(text: str, choices: tuple[str, ...], what: str) -> str:
    if text not in choices:
        raise UserError(f"{text} is no {what}; choose one of: {', '.join(filter(None, choices))}.")
    return text


def _height_m(serve: Serve, text: str) -> float:
    if serve.outcome != "received" or serve.landing is None or not serve.landing.on_ball:
        raise UserError("Only a ball marked at its passer has a height. Shift+R marks one.")
    try:
        height_m = float(text.replace(",", "."))
    except ValueError:
        height_m = math.nan
    if not 0.0 <= height_m <= HIGHEST_RECEPTION_M:
        raise UserError(
            f"{text or 'Nothing'} is no height of a reception; write metres from 0 to {HIGHEST_RECEPTION_M:g}."
        )
    return height_m

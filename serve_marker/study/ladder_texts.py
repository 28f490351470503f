"""Steps of the ladder as a coach types them into a table, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from serve_marker.court.aims import parse_aim
from serve_marker.court.areas import AreaScheme, area_names
from serve_marker.court.dimensions import Court
from serve_marker.errors import UserError
from serve_marker.study.ladder import LadderStep
from serve_marker.study.settings import PER_MPS

STEP_COLUMNS = ("step", "aims", "serve types", "mastery", "not enough", "effort", "least pace", "risk")
ALL_AREAS, ANY_AREA = "all areas", "any area"
ALL, ANY = " and ", " or "


def step_texts(step: LadderStep, court: Court, unit: str) -> tuple[str, ...]:
    """Return a step as the texts of STEP_COLUMNS; what is not asked for is "".

    Examples
    --------
    >>> from serve_marker.court.dimensions import COURTS
    >>> step_texts(LadderStep("deep 1", ("deep 1",)), COURTS["indoor"], "km/h")
    ('deep 1', 'deep 1', '', '75 %', '50 %', '80 %', '', '10 %')
    """
    everywhere = step.aims == area_names(court.name)
    if everywhere:
        aims = ALL_AREAS if step.every_aim else ANY_AREA
    else:
        aims = (ALL if step.every_aim else ANY).join(step.aims)
    mastery, not_enough = (
        f"{value:g} m" if step.by_places else _percent(value) for value in (step.mastery, step.not_enough)
    )
    pace = f"{PER_MPS[unit] * step.least_pace_mps:.0f} {unit}" if step.least_pace_mps else ""
    effort = _percent(step.least_effort) if step.least_effort else ""
    return step.name, aims, ", ".join(step.serve_types), mastery, not_enough, effort, pace, _percent(step.risk)


def step_from_texts(
    texts: Sequence[str], court: Court, scheme: AreaScheme, unit: str, known: LadderStep | None = None
) -> LadderStep:
    """Return the step that the texts of STEP_COLUMNS describe; `known` where it still reads so.

    Raises
    ------
    UserError
        Naming the step and what cannot be read.

    Examples
    --------
    >>> from serve_marker.court.areas import default_scheme
    >>> from serve_marker.court.dimensions import COURTS
    >>> court = COURTS["indoor"]
    >>> typed = ("corners", "deep 1 or deep 5", "float", "0.9 m", "1.2 m", "", "", "5")
    >>> step = step_from_texts(typed, court, default_scheme(court), "km/h")
    >>> step.aims, step.every_aim, step.by_places, step.mastery, step.risk
    (('deep 1', 'deep 5'), False, True, 0.9, 0.05)
    """
    if known is not None and tuple(texts) == step_texts(known, court, unit):
        return known
    name, aims, types, mastery, not_enough, effort, pace, risk = (text.strip() for text in texts)
    named, every_aim = _aims(name, aims, court, scheme)
    by_places = mastery.endswith("m")
    if by_places != not_enough.endswith("m"):
        raise UserError(f"{name}: write mastery and not enough both in %, or both in m.")
    read = _number if by_places else _share
    step = LadderStep(
        name=name,
        aims=named,
        every_aim=every_aim,
        serve_types=tuple(part.strip().casefold() for part in types.split(",") if part.strip()),
        not_enough=read(name, not_enough, "m"),
        mastery=read(name, mastery, "m"),
        by_places=by_places,
        least_effort=_share(name, effort) if effort else 0.0,
        least_pace_mps=_number(name, pace, unit) / PER_MPS[unit] if pace else 0.0,
    )
    return replace(step, risk=_share(name, risk)) if risk else step


def _aims(name: str, text: str, court: Court, scheme: AreaScheme) -> tuple[tuple[str, ...], bool]:
    words = " ".join(text.casefold().split())
    if words in (ALL_AREAS, ANY_AREA):
        return area_names(court.name), words == ALL_AREAS
    if ALL in words and ANY in words:
        raise UserError(f"{name}: join the aims by and, or all of them by or, not both.")
    parts = tuple(part.strip() for part in words.split(ANY if ANY in words else ALL) if part.strip())
    for part in parts:
        parse_aim(part, court, scheme)
    return parts, ANY not in words


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _share(name: str, text: str, _unit: str = "") -> float:
    return _number(name, text, "%") / 100


def _number(name: str, text: str, unit: str) -> float:
    try:
        return float(text.removesuffix(unit).strip().replace(",", "."))
    except ValueError:
        raise UserError(f"{name}: {text or 'an empty cell'} is no number; write one, such as 75 % or 1.2 m.") from None

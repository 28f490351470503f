"""What players, or their parents, agreed to: being filmed, shown to the team, shown outside it, and until when."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

CONSENT_COLUMNS = (
    *("filmed_from", "filmed_until", "team_from", "team_until", "outside_from", "outside_until", "keep_until"),
)
AUDIENCES = {
    "team": ("filmed", "team"),
    "outside": ("filmed", "outside"),
    "coach": (),
}
"""For whom something is made, and what a player must have agreed to for being in it."""


@dataclass(frozen=True, kw_only=True)
class Consent:
    """What a player agreed to, each from a day on and until another, YYYY-MM-DD; None: not at all, or without end.

    ``id`` is the player's; ``keep_until`` is the last day on which what is known of her may be kept.
    """

    id: str
    filmed_from: str | None = None
    filmed_until: str | None = None
    team_from: str | None = None
    team_until: str | None = None
    outside_from: str | None = None
    outside_until: str | None = None
    keep_until: str | None = None

    def covers(self, what: str, day: str) -> bool:
        """Return whether she agreed to be "filmed", or shown to the "team" or "outside", on a day.

        Examples
        --------
        >>> consent = Consent(id="p", team_from="2026-09-01", team_until="2027-06-30")
        >>> [consent.covers("team", day) for day in ("2026-08-31", "2026-09-01", "2027-06-30", "2027-07-01")]
        [False, True, True, False]
        >>> consent.covers("outside", "2026-10-01")
        False
        """
        begins, ends = getattr(self, f"{what}_from"), getattr(self, f"{what}_until")
        return begins is not None and begins <= day and (ends is None or day <= ends) and not self.is_over(day)

    def is_over(self, day: str) -> bool:
        """Return whether what is known of her may be kept no longer."""
        return self.keep_until is not None and self.keep_until < day


def left_out(player_ids: Collection[str], consents: Sequence[Consent], audience: str, day: str) -> list[str]:
    """Return the players who are left out of what is made for an audience on a day.

    A team that keeps no consents has nobody left out: it keeps them elsewhere.

    Examples
    --------
    >>> marit = Consent(id="m", filmed_from="2026-09-01", team_from="2026-09-01")
    >>> [left_out(["m", "n"], [marit], audience, "2026-10-01") for audience in AUDIENCES]
    [['n'], ['m', 'n'], []]
    >>> left_out(["m", "n"], [], "outside", "2026-10-01")
    []
    """
    if not consents:
        return []
    kept = {consent.id: consent for consent in consents}
    needed = AUDIENCES[audience]
    return [key for key in player_ids if not all(kept.get(key, Consent(id=key)).covers(what, day) for what in needed)]


def overdue_sentences(names: Mapping[str, str], consents: Sequence[Consent], day: str) -> list[str]:
    """Return a sentence for each player of whom too much is kept for too long; ``names`` are theirs by id.

    Examples
    --------
    >>> overdue_sentences({"m": "7 Marit"}, [Consent(id="m", keep_until="2026-06-30")], "2026-07-01")
    ['What is known of 7 Marit was to be kept until 2026-06-30. Erase her, or ask again.']
    """
    return [
        f"What is known of {names[consent.id]} was to be kept until {consent.keep_until}. Erase her, or ask again."
        for consent in consents
        if consent.is_over(day) and consent.id in names
    ]

"""How a serve can end, and what can become of a received ball, with the words for it."""

OUTCOME_WORDS = {
    "floor": "on the floor",
    "net": "into the net",
    "received": "received",
    "target": "struck the target",
    "out": "out, landing not seen",
    "fault": "fault",
    "blocked": "blocked",
}
OUTCOMES = tuple(OUTCOME_WORDS)
RECEPTION_WORDS = {
    "": "received",
    "played": "received and played on",
    "over": "received, back over the net",
    "shank": "received, nobody could play it",
}
RECEPTIONS = tuple(RECEPTION_WORDS)
RALLIES = ("", "won", "lost")
"""How the rally ended for the server's team, "" where nobody noted it."""

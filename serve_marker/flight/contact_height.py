"""How high servers hit where no reach of theirs is known."""

from __future__ import annotations

CONTACT_HEIGHT_M = 2.4
JUMP_CONTACT_HEIGHT_M = {"jump float": 2.7, "jump topspin": 2.85}
"""Heights of the ball's centre at the hit where no reach is known (common practice, no source): a jump topspin is hit
like a spike, a jump float off a lower jump."""
CONTACT_HEIGHT_SD_M = 0.2


def usual_contact_height_m(serve_type: str) -> float:
    """Height of the ball's centre at the hit where no reach is known."""
    return JUMP_CONTACT_HEIGHT_M.get(serve_type, CONTACT_HEIGHT_M)

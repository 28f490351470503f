"""What was found out about the camera's place, as it is put to the coach."""

from __future__ import annotations

from serve_marker.marking.view_check import ClipCheck
from serve_marker.video.sentences import clock


def camera_check_question(name: str, made_on: str, check: ClipCheck, own: bool, time_scale: float = 1.0) -> str:
    """Return the question about a view held against a clip; ``own``: the clip had this view already.

    ``time_scale`` makes the clip's times true where it is in slow motion.
    """
    number = next((number for number, stretch in enumerate(check.stretches) if stretch.view is not None), None)
    if number is None:
        return check.warnings[0]
    first, later = check.stretches[number], check.stretches[number + 1 :]
    place = _place_words(name, made_on, first.turned_deg, first.shifted_px)
    parts = []
    if number:
        part = "up to then the lines could not be re-aligned, and that part needs landmarks of its own"
        parts.append(f"From {clock(first.from_s * time_scale)} on this is {place}; {part}.")
    elif not (own and first.shifted_px == 0.0 and later):
        parts.append(f"This is {place}.")
    for stretch in later:
        when = f"The camera was moved at {clock(stretch.from_s * time_scale)}"
        if stretch.view is None:
            parts.append(f"{when}, and the lines could not be re-aligned: that part needs landmarks of its own.")
        else:
            parts.append(f"{when}: turned {stretch.turned_deg:.1f} degrees; lines re-aligned from there on.")
    return f"{' '.join(parts)} Please check: do the drawn lines lie on the painted ones?"


def _place_words(name: str, made_on: str, turned_deg: float, shifted_px: float) -> str:
    if shifted_px == 0.0:
        return f"the place of {name}; nothing has moved since {made_on}"
    return (
        f"the place of {name}: the camera turned {turned_deg:.1f} degrees since {made_on} and the court "
        f"shifted {shifted_px:.0f} px; lines re-aligned"
    )


def found_nothing_words(count: int) -> str:
    """Return that none of the stored views is of this place.

    Examples
    --------
    >>> found_nothing_words(1)
    'This is not the place of the one stored view of this gym; mark four landmarks for a new one.'
    """
    which = "the one stored view" if count == 1 else f"any of the {count} stored views"
    return f"This is not the place of {which} of this gym; mark four landmarks for a new one."

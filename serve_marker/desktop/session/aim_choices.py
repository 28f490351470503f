"""The aims a coach steps through: no aim, the nine areas, the columns or zones, the seams."""

from __future__ import annotations

from serve_marker.court.areas import BEACH_COLUMNS, area_names, seam_names


def aims_on(court_name: str) -> tuple[str, ...]:
    """Return the aims that are offered on a court, "" for none first.

    Examples
    --------
    >>> aims_on("beach")[-4:], aims_on("indoor")[-1]
    (('seam middle', 'cross', 'middle', 'line'), 'zone 6')
    """
    columns = BEACH_COLUMNS if court_name == "beach" else tuple(f"zone {zone}" for zone in range(1, 7))
    return ("", *area_names(court_name), *seam_names(court_name), *columns)

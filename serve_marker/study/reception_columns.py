"""What each serve asked of the passers it was hit against, as columns of the serve table."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.formations import Formation
from serve_marker.court.reception import in_reach, receive
from serve_marker.errors import UserError
from serve_marker.logbook.records import StoredFormation
from serve_marker.study.groups import Rows, rows_of, where_known
from serve_marker.study.settings import StudySettings

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

FACED_COLUMNS = ("gap_m", "nearest", "way", "forward_m", "right_m", "passer_seam", "reached")


def formations_of(logbook: Logbook) -> dict[str, Formation]:
    """Return the logbook's formations by id."""
    return {stored.id: formation_from(stored) for stored in logbook.formations()}


def formation_from(stored: StoredFormation) -> Formation:
    """Read a stored formation; it keeps the name it was stored under."""
    try:
        plain = json.loads(stored.document)
    except ValueError:
        raise UserError(f"The formation {stored.name} cannot be read; set it anew on the court.") from None
    return Formation(stored.name, Formation.from_dict(plain).passers)


def formation_record(formation_id: str, formation: Formation) -> StoredFormation:
    """Return a formation as the logbook stores it."""
    return StoredFormation(id=formation_id, name=formation.name, document=json.dumps(formation.to_dict()))


def reception_columns(
    formation_ids: NDArray[Any],
    points_half_m: Floats,
    flight_s: Floats,
    courts: Sequence[tuple[Court, Rows]],
    formations: Mapping[str, Formation],
    settings: StudySettings,
) -> dict[str, Any]:
    """Return FACED_COLUMNS (N,) for landings (N, 2) in the half frame; NaN, "" and None where nothing can be told.

    ``nearest`` is the passer whose ball it was, ``way`` and ``forward_m``, ``right_m`` her way to it, ``reached``
    whether a passer could get to it in the serve's own flight time, None where that time is not known. ``courts`` are
    the courts with the rows of the serves hit on each.
    """
    count = len(formation_ids)
    columns: dict[str, Any] = {name: np.full(count, np.nan) for name in ("gap_m", "forward_m", "right_m")}
    columns |= {name: np.full(count, "", dtype=object) for name in ("nearest", "way", "passer_seam")}
    columns["reached"] = np.full(count, None, dtype=object)
    for court, on_court in courts:
        for formation_id, there in rows_of(formation_ids[on_court]).items():
            if formation_id not in formations:
                continue
            rows, formation = on_court[there], formations[formation_id]
            points = points_half_m[rows]
            told = receive(points, formation, court, settings.seam_width_m)
            for name in ("gap_m", "forward_m", "right_m", "way"):
                columns[name][rows] = getattr(told, name)
            columns["nearest"][rows], columns["passer_seam"][rows] = told.passer, told.seam
            got = in_reach(points, flight_s[rows], formation, court, settings.movement)
            known = np.isfinite(flight_s[rows]) & np.isfinite(points).all(axis=1)
            columns["reached"][rows] = where_known(got, known)
    return {name: columns[name] for name in FACED_COLUMNS}

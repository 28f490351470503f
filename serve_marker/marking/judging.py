"""From floor points to what a coach calls them: area, seam, depth, in or out, aim hit or missed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.camera.view.view import longer_half_axis_m
from serve_marker.court.aims import Aim, aim_bounds, aim_hit, parse_aim
from serve_marker.court.areas import AreaScheme, classify
from serve_marker.court.dimensions import Court, Floats
from serve_marker.court.line_calls import area_sure, call_lines, possible_places
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve
from serve_marker.logbook.serve_arrays import Columns, columns_of, points_in

LINE_OUTCOMES = ("floor", "target", "out")
MISSED_OUTCOMES = ("net", "out", "fault", "blocked")
LANDING_COLUMNS = ("landing_x_m", "landing_y_m", "landing_cov_xx_m2", "landing_cov_xy_m2", "landing_cov_yy_m2")
JUDGED_BY = ("outcome", "aim", "served_to", "contact_y_m", *LANDING_COLUMNS)
"""The columns of a serve that `judge_columns` reads."""


@dataclass(frozen=True, eq=False)
class Judgement:
    """What a serve's landing means in the half frame. Words are "" and numbers NaN where nothing can be told.

    ``aim_hit`` is None without an aim, or where it cannot be told whether the aim was hit; ``aim_surely`` and
    ``aim_may`` are whether it was hit for sure, and whether it may have been.
    """

    half: str
    half_x_m: float
    half_y_m: float
    cov_half_m2: Floats
    area: str
    area_sure: bool
    zone: str
    depth_band: str
    seam: str
    verdict: str
    line_margin_m: float
    area_margin_m: float
    aim_hit: bool | None
    aim_surely: bool
    aim_may: bool
    missed: str


def judge(serve: Serve, court: Court, scheme: AreaScheme) -> Judgement:
    """Judge one serve that has been placed."""
    columns = judge_all([serve], court, scheme)
    return Judgement(**{name: columns[name][0] for name in Judgement.__dataclass_fields__})


def judge_all(serves: Sequence[Serve], court: Court, scheme: AreaScheme) -> dict[str, NDArray[Any]]:
    """As `judge_columns`, for records."""
    return judge_columns(columns_of(serves), court, scheme)


def judge_columns(columns: Columns, court: Court, scheme: AreaScheme) -> dict[str, NDArray[Any]]:
    """Judge N placed serves: the fields of `Judgement` as columns, ``error_m``, and what the landings may have hit.

    ``areas_may``, ``bands_may``, ``seams_may`` and ``seam_sure`` are those of `serve_marker.court.line_calls.Possible`;
    A received ball hit its aim for sure only where its estimated landing was in for sure, as no call tells that of it.
    """
    halves = halves_of(columns)
    places_m, cov_m2 = points_in(columns, "landing")
    turn = np.where(halves == "a", -1.0, 1.0)
    half_m = np.column_stack([court.half_width_m + turn * places_m[:, 0], turn * places_m[:, 1]])
    found = classify(half_m, court, scheme)
    calls = call_lines(half_m, cov_m2, court)
    possible = possible_places(half_m, cov_m2, court, scheme)
    hits, surely, may = _aims_hit(columns, half_m, cov_m2, court, scheme)
    received = columns["outcome"] == "received"
    surely &= ~received | (calls.verdict == "in")
    may &= ~received | (calls.verdict != "out")
    unjudged = ~_is_one_of(columns["outcome"], LINE_OUTCOMES)
    return {
        "half": halves,
        "half_x_m": half_m[:, 0],
        "half_y_m": half_m[:, 1],
        "cov_half_m2": cov_m2,
        "error_m": longer_half_axis_m(cov_m2),
        "area": found.area,
        "area_sure": area_sure(half_m, cov_m2, court, scheme),
        "zone": found.zone,
        "depth_band": found.depth_band,
        "seam": found.seam,
        "verdict": np.where(unjudged, "", calls.verdict).astype(object),
        "line_margin_m": calls.line_margin_m,
        "area_margin_m": found.area_margin_m,
        "aim_hit": hits,
        "aim_surely": surely,
        "aim_may": may,
        "missed": np.where(unjudged, "", calls.missed).astype(object),
        "areas_may": possible.areas,
        "bands_may": possible.bands,
        "seams_may": possible.seams,
        "seam_sure": possible.seam_sure,
    }


def halves_of(columns: Columns) -> NDArray[np.object_]:
    """The receiving end of N serves, "" where unknown; as `served_to` tells it of a record."""
    contact_y_m, landing_y_m = columns["contact_y_m"], columns["landing_y_m"]
    told = columns["served_to"] != ""
    by_contact = np.where(contact_y_m > 0, "a", "b")
    by_landing = np.where(np.isnan(landing_y_m), "", np.where(landing_y_m > 0, "b", "a"))
    halves = np.where(np.isnan(contact_y_m), by_landing, by_contact).astype(object)
    halves[told] = columns["served_to"][told]
    return halves


def _aims_hit(
    columns: Columns, half_m: Floats, cov_m2: Floats, court: Court, scheme: AreaScheme
) -> tuple[NDArray[np.object_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each serve hit its aim, None where that cannot be told; whether for sure; whether it may have."""
    outcome, aims = columns["outcome"], columns["aim"]
    hits = np.full(len(aims), None, dtype=object)
    struck, missed = outcome == "target", _is_one_of(outcome, MISSED_OUTCOMES)
    surely, may = struck.copy(), (aims != "") & ~missed
    landed = np.isfinite(half_m.sum(axis=1)) & ~struck & ~missed
    for text in dict.fromkeys(aims.tolist()):
        aim = _known_aim(text, court, scheme)
        if aim is None:
            continue
        aimed = aims == text
        there = np.flatnonzero(aimed & landed)
        hits[there] = aim_hit(half_m[there], aim, court)
        surely[there], may[there] = aim_bounds(half_m[there], cov_m2[there], aim, court)
        hits[aimed & struck], hits[aimed & missed] = True, False
    return hits, np.asarray(surely, dtype=bool), np.asarray(may, dtype=bool)


def _known_aim(text: str, court: Court, scheme: AreaScheme) -> Aim | None:
    """An aim kept from another court may not fit this one; then nothing is told."""
    try:
        return parse_aim(text, court, scheme)
    except UserError:
        return None


def _is_one_of(words: NDArray[Any], names: Sequence[str]) -> NDArray[np.bool_]:
    return np.asarray(np.any([words == name for name in names], axis=0), dtype=bool)

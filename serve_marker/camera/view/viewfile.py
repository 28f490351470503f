"""MARKS.json in, VIEW.json in and out. Wrong files are refused with one sentence."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.view import REST, USUAL_FRAMES_OFF, Trace, View
from serve_marker.court.dimensions import Court, Floats, court_named
from serve_marker.errors import UserError
from serve_marker.plain_json import read_json, text_of_file

VERSION = 3
"""Version 1 had no lens; its views are read as views without bend."""
WITHOUT_CLICKS = 2
"""The version of views none of whose marks moved from where they were clicked; all their marks count as clicks."""
TRACED_LINES = ("end-a", "attack-a", "centre", "attack-b", "end-b", "left", "right")


@dataclass(frozen=True)
class MarksFile:
    """What a MARKS.json holds, checked for its shape."""

    court: Court
    image_size: tuple[int, int]
    net_height_m: float
    marks: dict[str, tuple[float, float]]
    traces: dict[str, Trace]
    clicked: dict[str, tuple[float, float]]


def read_marks(path: Path) -> MarksFile:
    """Read a MARKS.json (docs of the command line name its keys)."""
    plain = _parsed(text_of_file(path), path.name)
    size = _size(plain.get("image_size"), path.name)
    court = plain.get("court", "indoor")
    return MarksFile(
        court=court_named(court) if isinstance(court, str) else Court.from_dict(court),
        image_size=size,
        net_height_m=_number(plain.get("net_height_m"), f"net_height_m in {path.name}", low=0.5, high=3.5),
        marks=_marks(plain.get("marks"), path.name),
        traces=_traces(plain.get("traces", {}), size, path.name),
        clicked=_clicked(plain, path.name),
    )


def view_to_text(view: View) -> str:
    """Return a view as the text of a VIEW.json, from which `view_from_text` makes the same view."""
    return json.dumps(
        {
            "version": VERSION if view.clicked else WITHOUT_CLICKS,
            "court": view.court.to_dict(),
            "image_size": list(view.image_size),
            "net_height_m": view.net_height_m,
            "marks": {name: list(pixel) for name, pixel in view.marks.items()},
            **(_crossings_part(view) if view.clicked else {}),
            "traces": {line: [list(pixel) for pixel in trace] for line, trace in view.traces.items()},
            "homography": view.homography.tolist(),
            "homography_cov": view.homography_cov.tolist(),
            "rms_px": view.rms_px,
            "misfit_sd_px": view.misfit_sd_px,
            "camera_position_m": list(view.camera_position_m) if view.camera_position_m else None,
            "own_click_sd_px": view.own_click_sd_px,
            "click_frames_off": view.click_frames_off,
            "focal_px": view.focal_px if math.isfinite(view.focal_px) else None,
            "lens": {
                "k1": view.lens.k1,
                "k2": view.lens.k2,
                "centre_px": list(view.lens.centre_px),
                "scale_px": view.lens.scale_px,
            },
            "rest_cov": view.rest_cov.tolist(),
        },
        indent=1,
        allow_nan=False,
    )


def _crossings_part(view: View) -> dict[str, Any]:
    return {
        "clicked": {name: list(pixel) for name, pixel in view.clicked.items()},
        "crossing_misfit_sd_px": view.crossing_misfit_sd_px,
    }


def view_from_text(text: str, name: str = "The view") -> View:
    """Make a view of the text of a VIEW.json; ``name`` is what sentences call it."""
    plain = _parsed(text, name)
    version = plain.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise UserError(f"{name} is not a view file; make one with 'serve-marker view fit'.")
    if version > VERSION:
        raise UserError(f"{name} was written by a newer Serve Marker (view version {version}); update this one.")
    size = _size(plain.get("image_size"), name)
    place, of_crossings = plain.get("camera_position_m"), plain.get("crossing_misfit_sd_px")
    if place is not None:
        place = tuple(float(value) for value in _array(place, (3,), "camera_position_m", name))
    return View(
        court=Court.from_dict(plain.get("court")),
        image_size=size,
        net_height_m=_number(plain.get("net_height_m"), f"net_height_m in {name}", low=0.5, high=3.5),
        homography=_array(plain.get("homography"), (3, 3), "homography", name),
        homography_cov=_array(plain.get("homography_cov"), (9, 9), "homography_cov", name),
        marks=_marks(plain.get("marks"), name),
        rms_px=_number(plain.get("rms_px"), f"rms_px in {name}", low=0.0),
        misfit_sd_px=_number(plain.get("misfit_sd_px"), f"misfit_sd_px in {name}", low=0.0),
        crossing_misfit_sd_px=None if of_crossings is None else _number(of_crossings, f"misfit in {name}", low=0.0),
        camera_position_m=place,
        traces=_traces(plain.get("traces", {}), size, name),
        clicked=_clicked(plain, name),
        **(_lens_part(plain, name) if version > 1 else {}),
    )


def _lens_part(plain: Mapping[str, Any], name: str) -> dict[str, Any]:
    lens = plain.get("lens")
    if not isinstance(lens, dict):
        raise UserError(f"The lens in {name} is damaged; fit the view again.")
    focal, own = plain.get("focal_px"), plain.get("own_click_sd_px")
    frames_off = plain.get("click_frames_off", USUAL_FRAMES_OFF)
    return {
        "lens": Lens(
            k1=_number(lens.get("k1"), f"lens in {name}"),
            k2=_number(lens.get("k2"), f"lens in {name}"),
            centre_px=_pixel(lens.get("centre_px"), f"lens in {name}"),
            scale_px=_number(lens.get("scale_px"), f"lens in {name}", low=1e-6),
        ),
        "rest_cov": _array(plain.get("rest_cov"), (REST, 9 + REST), "rest_cov", name),
        "own_click_sd_px": None if own is None else _number(own, f"own_click_sd_px in {name}", low=1e-3),
        "click_frames_off": int(_number(frames_off, f"click_frames_off in {name}", low=0.0, high=9.0)),
        "focal_px": math.nan if focal is None else _number(focal, f"focal_px in {name}", low=0.0),
    }


def save_view(view: View, path: Path) -> None:
    """Write a VIEW.json: a temporary file first, so that no half-written one is left."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(view_to_text(view), encoding="utf-8")
        part.replace(path)
    except OSError as exc:
        part.unlink(missing_ok=True)
        raise UserError(f"{path.name} cannot be written ({exc.strerror}); choose another place.") from exc


def load_view(path: Path) -> View:
    """Read a VIEW.json."""
    return view_from_text(text_of_file(path), path.name)


def _parsed(text: str, name: str) -> Mapping[str, Any]:
    try:
        plain = read_json(text)
    except ValueError as exc:
        if isinstance(exc, json.JSONDecodeError):
            raise UserError(f"{name} is not valid JSON (line {exc.lineno}); check the file.") from exc
        raise UserError(f"{name} cannot be used: {exc}; check the file.") from exc
    if not isinstance(plain, dict):
        raise UserError(f"{name} must hold one JSON object with named values.")
    return plain


def _number(value: object, what: str, low: float = -math.inf, high: float = math.inf) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise UserError(f"The {what} is missing or not a number; write it in figures.")
    if not low <= value <= high:
        raise UserError(f"The {what} is {value:g}; it must lie between {low:g} and {high:g}.")
    return float(value)


def _size(value: object, name: str) -> tuple[int, int]:
    whole = isinstance(value, list | tuple) and len(value) == 2 and all(type(side) is int for side in value)
    if not whole or not isinstance(value, list | tuple) or not all(16 <= side <= 32768 for side in value):
        raise UserError(f"The image_size in {name} must be [width, height] in whole pixels.")
    return value[0], value[1]


def _pixel(value: object, what: str) -> tuple[float, float]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise UserError(f"The {what} must be two numbers, [x, y] in pixels.")
    return _number(value[0], what), _number(value[1], what)


def _clicked(plain: Mapping[str, Any], name: str) -> dict[str, tuple[float, float]]:
    clicked = _marks(plain.get("clicked", {}), name, "clicked")
    unknown = [landmark for landmark in clicked if landmark not in plain.get("marks", {})]
    if unknown:
        raise UserError(f"In {name} {unknown[0]} is clicked but no mark; add or remove it.")
    return clicked


def _marks(value: object, name: str, what: str = "marks") -> dict[str, tuple[float, float]]:
    if not isinstance(value, dict):
        raise UserError(f'The {what} in {name} must be named pixels, such as "end-b/left": [x, y].')
    return {landmark: _pixel(pixel, f"mark {landmark} in {name}") for landmark, pixel in value.items()}


def _traces(value: object, size: tuple[int, int], name: str) -> dict[str, Trace]:
    if not isinstance(value, dict):
        raise UserError(f'The traces in {name} must be lists of pixels, such as "end-b": [[x, y]].')
    traces: dict[str, Trace] = {}
    for line, pixels in value.items():
        if line not in TRACED_LINES:
            raise UserError(f"The trace {line!r} in {name} names no line; choose from {', '.join(TRACED_LINES)}.")
        if not isinstance(pixels, list):
            raise UserError(f"The trace {line} in {name} must be a list of pixels.")
        traces[line] = tuple(_pixel(pixel, f"trace {line} in {name}") for pixel in pixels)
        if not all(-0.5 <= x <= size[0] - 0.5 and -0.5 <= y <= size[1] - 0.5 for x, y in traces[line]):
            raise UserError(f"The trace {line} in {name} leaves the picture; trace only what the picture shows.")
    return traces


def _array(value: object, shape: tuple[int, ...], what: str, name: str) -> Floats:
    try:
        array = np.array(value, dtype=float)
    except (TypeError, ValueError):
        array = np.array(np.nan)
    if array.shape != shape or not np.isfinite(array).all():
        raise UserError(f"The {what} in {name} is damaged; fit the view again.")
    return array

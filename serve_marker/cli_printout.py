"""What commands print: answers in words or as JSON, paths, progress."""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import typer

from serve_marker.printable import printable

PROGRESS_EVERY_S = 0.2

JsonAnswer = dict[str, Any]


def view_fit_lines(answer: JsonAnswer) -> list[str]:
    """Lines about a view just made.

    Examples
    --------
    >>> lines = view_fit_lines({"rms_px": 0.42, "residuals_px": {"end-b/left": 0.9}, "camera_height_m": 4.5,
    ...                    "warnings": [], "expected_error_m": {"end_a": 0.041, "end_b": 0.09, "worst": None}})
    >>> print(*lines, sep=chr(10))
    A click is good to 4 cm at end a, 9 cm at end b (95 %).
    The camera stands 4.5 m above the floor.
    The marks lie 0.4 px off the lines, end-b/left the furthest with 0.9 px.
    """
    error = answer["expected_error_m"]
    worst = max(answer["residuals_px"], key=answer["residuals_px"].get)
    return [
        f"A click is good to {_length(error['end_a'])} at end a, {_length(error['end_b'])} at end b (95 %).",
        f"The camera stands {answer['camera_height_m']:.1f} m above the floor.",
        f"The marks lie {answer['rms_px']:.1f} px off the lines, {worst} the furthest with "
        f"{answer['residuals_px'][worst]:.1f} px.",
        *answer["warnings"],
    ]


def view_locate_lines(answer: JsonAnswer, error_m: float) -> list[str]:
    """Lines about the floor under a pixel; ``error_m`` is the longer half-axis of its 95 % ellipse.

    Examples
    --------
    >>> answer = {"half_x_m": 1.42, "half_y_m": 7.8, "half": "a", "verdict": "in", "line_margin_m": 1.2,
    ...           "area": "deep 1", "seam": "", "area_margin_m": 0.3, "area_sure": False, "x_m": 3.08, "y_m": -7.8}
    >>> print(*view_locate_lines(answer, 0.05), sep=chr(10))
    End a, 1.42 m from the server's left sideline. 7.80 m from the net, ±5 cm (95 %).
    In, by 120 cm. Deep 1, though a neighbouring area is only 30 cm away.
    From the court's centre: x 3.08 m, y -7.80 m.
    """
    margin = _length(abs(answer["line_margin_m"] or 0.0))
    call = {"in": f"In, by {margin}.", "out": f"Out, by {margin}.", "too close": "Too close to a line to call."}
    area = ""
    if answer["area"]:
        area = answer["area"][0].upper() + answer["area"][1:]
        area += f", {answer['seam']}" if answer["seam"] else ""
        unsure = f", though a neighbouring area is only {_length(answer['area_margin_m'])} away"
        area = f" {area}{'' if answer['area_sure'] else unsure}."
    return [
        f"End {answer['half']}, {answer['half_x_m']:.2f} m from the server's left sideline. "
        f"{answer['half_y_m']:.2f} m from the net, ±{_length(error_m)} (95 %).",
        f"{call[answer['verdict']]}{area}",
        f"From the court's centre: x {answer['x_m']:.2f} m, y {answer['y_m']:.2f} m.",
    ]


def view_check_lines(answer: JsonAnswer) -> list[str]:
    """Lines about a view held against a clip.

    Examples
    --------
    >>> rows = [{"from_s": 0.0, "to_s": 15.3, "turned_deg": 0.0, "shifted_px": 0.0, "view": "gym.json"},
    ...         {"from_s": 15.3, "to_s": 29.8, "turned_deg": 1.5, "shifted_px": 20.1, "view": None}]
    >>> print(*view_check_lines({"same_place": True, "stretches": rows, "warnings": []}), sep=chr(10))
    The clip was filmed from the view's place.
    0:00.0 to 0:15.3: nothing moved. Use gym.json.
    0:15.3 to 0:29.8: turned 1.5 degrees, the court shifted 20 px. Name a folder with -o for its view.
    """
    if not answer["same_place"]:
        return ["The clip was not filmed from the view's place.", *answer["warnings"]]
    return [
        "The clip was filmed from the view's place.",
        *(_stretch(row) for row in answer["stretches"]),
        *answer["warnings"],
    ]


def _stretch(row: JsonAnswer) -> str:
    from serve_marker.video.frame_times import clock

    when = f"{clock(row['from_s'])} to {clock(row['to_s'])}"
    if row["shifted_px"] is None:
        return f"{when}: no view holds here."
    moved = f"turned {row['turned_deg'] or 0.0:.1f} degrees, the court shifted {row['shifted_px']:.0f} px"
    moved = moved if row["shifted_px"] else "nothing moved"
    return f"{when}: {moved}. {'Use ' + row['view'] if row['view'] else 'Name a folder with -o for its view'}."


def _length(metres: float | None) -> str:
    if metres is None:
        return "no telling how far"
    return f"{100 * metres:.0f} cm" if metres < 2 else f"{metres:.1f} m"


def print_answer(
    answer: dict[str, Any], as_json: bool, words: Callable[[dict[str, Any]], list[str]] | None = None
) -> None:
    """Print an answer as one JSON object, or in words, or else as one line per item."""
    plain = without_nan(answer)
    if as_json:
        typer.echo(json.dumps(plain, allow_nan=False))
        return
    if words is not None:
        for line in words(plain):
            say(line)
        return
    for name, value in plain.items():
        say(f"{name}: {value_words(value)}")


def say(line: str, *, on_stderr: bool = False) -> None:
    """Print one line. Names in it may be anybody's: what steers a terminal is printed as its escape."""
    typer.echo(printable(line), err=on_stderr)


def without_nan(value: Any) -> Any:
    """Return the value with "cannot tell" (NaN) as None, which is how JSON says it."""
    if isinstance(value, dict):
        return {key: without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [without_nan(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def value_words(value: Any) -> str:
    """Return one value as a person reads it."""
    if value is None:
        return "cannot tell"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3f}"
    if isinstance(value, dict):
        return ", ".join(f"{key} {value_words(item)}" for key, item in value.items())
    if isinstance(value, list):
        return "; ".join(value_words(item) for item in value) or "none"
    return str(value) or "none"


def print_paths(paths: list[Path]) -> None:
    """Print what was written, one path a line."""
    for path in paths:
        say(str(path))


def progress_on_stderr(job: str) -> Callable[[int, int], None]:
    """Return a function (done, total) that keeps one line on stderr up to date, a few times a second."""
    told_s = -math.inf

    def show(done: int, total: int) -> None:
        nonlocal told_s
        finished, now_s = done >= total, time.monotonic()
        if finished or now_s >= told_s + PROGRESS_EVERY_S:
            told_s = now_s
            sys.stderr.write(f"\r{job}: {done} of {total}" + ("\n" if finished else ""))
            sys.stderr.flush()

    return show

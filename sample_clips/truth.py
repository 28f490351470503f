"""What is true of a sample clip, and the marks a careful coach would make on it."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np

from sample_clips.action import Delivery
from sample_clips.flight import RADIUS_M, Array
from sample_clips.lens import Camera
from sample_clips.scenario import NET_HEIGHT_M, PLAYERS, Filming

LINES_Y_M = {"end-a": -9.0, "attack-a": -3.0, "centre": 0.0, "attack-b": 3.0, "end-b": 9.0}
SIDES_X_M = {"left": -4.5, "right": 4.5}
CONTACT_RADIUS_M = 0.065
MARK_COLUMNS = (
    "server",
    "serve_type",
    "aim",
    "outcome",
    "contact_frame",
    "contact_x_px",
    "contact_y_px",
    "landing_frame",
    "landing_x_px",
    "landing_y_px",
    "pass_rating",
    "passer",
    "note",
)


def pixels_in_picture(camera: Camera, points_m: dict[str, tuple[float, float, float]]) -> dict[str, list[float]]:
    """Pixels of the named points that lie in the picture."""
    pixels = {name: camera.project(np.array([point]))[0] for name, point in points_m.items()}
    return {name: rounded(pixel, 4) for name, pixel in pixels.items() if camera.inside(pixel)}


def rounded(values: Array, digits: int) -> list[float]:
    """Plain numbers of an array, rounded."""
    return [round(float(value), digits) for value in np.asarray(values).ravel()]


def landmark_points() -> dict[str, tuple[float, float, float]]:
    """The floor landmarks in the court frame [m]."""
    return {f"{line}/{side}": (x, y, 0.0) for line, y in LINES_Y_M.items() for side, x in SIDES_X_M.items()}


def floor_px(camera: Camera, place_m: Array) -> Array:
    """Pixel (2,) of the floor point under a place (3,)."""
    return np.asarray(camera.project(np.array([[place_m[0], place_m[1], 0.0]]))[0])


def in_or_out(landing_m: Array) -> tuple[str, float]:
    """The call, and the touch point's distance inside the outer edges of the half [m]."""
    margin = min(4.5 - abs(float(landing_m[0])), 9.0 + float(landing_m[1]))
    return ("in" if margin >= -CONTACT_RADIUS_M else "out"), margin


def serve_truth(camera: Camera, serve: Delivery, times_s: list[float]) -> dict[str, Any]:
    """Everything true of one serve."""
    clock = np.array(times_s)
    contact_frame = int(np.argmin(np.abs(clock - serve.contact_s)))
    told: dict[str, Any] = {
        "server": serve.player.number,
        "name": serve.player.name,
        "serve_type": serve.attempt.serve_type,
        "aim": serve.attempt.aim,
        "outcome": serve.attempt.outcome,
        "contact_time_s": round(serve.contact_s, 6),
        "contact_frame": contact_frame,
        "contact_floor_px": rounded(floor_px(camera, serve.contact_m), 4),
        "contact_xyz_m": rounded(serve.contact_m, 5),
        "end_time_s": round(serve.end_s, 6),
        "passer": serve.attempt.passer,
        "pass_rating": serve.attempt.pass_rating,
        "note": serve.attempt.note,
    }
    if serve.landing_s is None or serve.landing_m is None:
        nothing = (
            "landing_time_s",
            "landing_frame",
            "landing_px",
            "landing_xy_m",
            "half_xy_m",
            "in_out",
            "margin_m",
            "pace_mps",
        )
        return told | dict.fromkeys(nothing) | {"ball_px": []}
    landing_frame = int(np.argmin(np.abs(clock - serve.landing_s)))
    call, margin = in_or_out(serve.landing_m)
    near = [frame for frame in range(landing_frame - 3, landing_frame + 4) if 0 <= frame < len(times_s)]
    under = serve.path.at(clock[near]) - np.array([0.0, 0.0, RADIUS_M])
    way_m = float(np.hypot(*(serve.landing_m - serve.contact_m)[:2]))
    return told | {
        "landing_time_s": round(serve.landing_s, 6),
        "landing_frame": landing_frame,
        "landing_px": rounded(floor_px(camera, serve.landing_m), 4),
        "landing_xy_m": rounded(serve.landing_m[:2], 6),
        "half_xy_m": rounded(np.array([4.5 - serve.landing_m[0], -serve.landing_m[1]]), 6),
        "in_out": call,
        "margin_m": round(margin, 5),
        "pace_mps": round(way_m / (serve.landing_s - serve.contact_s), 4),
        "ball_px": [[frame, *rounded(pixel, 3)] for frame, pixel in zip(near, camera.project(under), strict=True)],
    }


def clip_truth(filming: Filming, serves: list[Delivery], times_s: list[float]) -> dict[str, Any]:
    """Everything true of a clip."""
    camera = filming.camera
    net_top = {f"net-top/{side}": (x, 0.0, NET_HEIGHT_M) for side, x in SIDES_X_M.items()}
    players = [
        {
            "number": player.number,
            "name": player.name,
            "hand": player.hand,
            "position": player.position,
            "standing_reach_m": player.standing_reach_m,
            "jump_reach_m": player.jump_reach_m,
        }
        for player in PLAYERS
    ]
    return {
        "file": filming.file,
        "team": "Tidewater",
        "date": filming.date,
        "practice": filming.practice,
        "gym": filming.gym,
        "view": filming.place,
        "purpose": "drill",
        "target_kind": filming.target_kind,
        "image_size": list(camera.size),
        "court": "indoor",
        "net_height_m": NET_HEIGHT_M,
        "variable_rate": filming.variable,
        "keyframe_distance": filming.keyframe_distance,
        "shutter_s": filming.shutter_s,
        "players": players,
        "passers": [{"number": each.number, "name": each.name} for each in filming.passers],
        "mats_half_m": [dict(zip(("x", "y", "width", "depth"), mat, strict=True)) for mat in filming.mats],
        "camera": {
            "K": camera.matrix.tolist(),
            "R": camera.rotation.tolist(),
            "t": camera.translation.tolist(),
            "position_m": camera.position.tolist(),
        },
        "landmarks_px": pixels_in_picture(camera, landmark_points()),
        "net_top_px": pixels_in_picture(camera, net_top),
        "serves": [serve_truth(camera, serve, times_s) for serve in serves],
        "times_s": [round(time_s, 6) for time_s in times_s],
    }


def view_marks(truth: dict[str, Any]) -> dict[str, Any]:
    """The landmark marks of a careful coach, to 0.1 px."""
    marks = {name: [round(value, 1) for value in pixel] for name, pixel in truth["landmarks_px"].items()}
    return {
        "court": truth["court"],
        "image_size": truth["image_size"],
        "net_height_m": truth["net_height_m"],
        "marks": marks,
    }


def serve_marks(serve: dict[str, Any]) -> dict[str, Any]:
    """One row of marks: the nearest frames, the floor points to 0.1 px."""
    row = dict.fromkeys(MARK_COLUMNS, "") | {
        "server": serve["name"],
        "serve_type": serve["serve_type"],
        "aim": serve["aim"],
        "outcome": serve["outcome"],
        "contact_frame": serve["contact_frame"],
        "contact_x_px": round(serve["contact_floor_px"][0], 1),
        "contact_y_px": round(serve["contact_floor_px"][1], 1),
        "pass_rating": "" if serve["pass_rating"] is None else serve["pass_rating"],
        "passer": serve["passer"],
        "note": serve["note"],
    }
    if serve["landing_px"] is not None:
        row |= {
            "landing_frame": serve["landing_frame"],
            "landing_x_px": round(serve["landing_px"][0], 1),
            "landing_y_px": round(serve["landing_px"][1], 1),
        }
    return row


def write_truth(filming: Filming, serves: list[Delivery], times_s: list[float], folder: Path) -> None:
    """Write truth, view marks and serve marks beside a clip."""
    stem = Path(filming.file).stem
    truth = clip_truth(filming, serves, times_s)
    (folder / f"{stem}.truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    (folder / f"{stem}.marks.json").write_text(json.dumps(view_marks(truth), indent=1) + "\n", encoding="utf-8")
    with (folder / f"{stem}.marks.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, MARK_COLUMNS)
        writer.writeheader()
        writer.writerows(serve_marks(serve) for serve in truth["serves"])

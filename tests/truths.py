"""Truth of rendered clips in one shape: the project's own always, those beside the project where they are.

The own clips are drawn by a pinhole; tests that project points themselves do it through the bend of a phone's lens
(`LENS_BEND`, OpenCV's k1 and k2), so that the lens is always part of what they hold.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import COURTS, landmarks

ROOT = Path(__file__).resolve().parents[1]
SHARED_CLIPS = ROOT.parent / "shared" / "clips"
LENS_BEND = [-0.05, 0.007, 0.0, 0.0, 0.0]
TYPES = {
    "float": "float_standing",
    "jump float": "jump_float",
    "topspin": "topspin_standing",
    "jump topspin": "jump_topspin",
}


def truths() -> dict[str, dict[str, Any]]:
    """Return each clip's truth by name; ``path`` is the clip itself."""
    own = sorted((ROOT / "sample_clips").glob("*.truth.json"))
    found = {path.name.split(".")[0]: _own(json.loads(path.read_text(encoding="utf-8")), path.parent) for path in own}
    for path in sorted(SHARED_CLIPS.glob("*.truth.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        found[truth["clip"]] = truth | {"path": path.parent / truth["file"]}
    return found


def _own(told: dict[str, Any], folder: Path) -> dict[str, Any]:
    camera, matrix = told["camera"], np.array(told["camera"]["K"])
    frames = len(told["times_s"])
    return {
        "clip": told["file"].split(".")[0],
        "file": told["file"],
        "path": folder / told["file"],
        "display_size": told["image_size"],
        "net_height": told["net_height_m"],
        "vfr": told["variable_rate"],
        "n_frames": frames,
        "frame_times": told["times_s"],
        "segments": [
            {
                "frames": [0, frames - 1],
                "camera": {
                    "fx": matrix[0, 0],
                    "fy": matrix[1, 1],
                    "cx": matrix[0, 2],
                    "cy": matrix[1, 2],
                    "dist": LENS_BEND,
                    "rvec": cv2.Rodrigues(np.array(camera["R"]))[0].ravel().tolist(),
                    "tvec": camera["t"],
                    "position": camera["position_m"],
                },
            }
        ],
        "serves": [_serve(i, serve, told["net_height_m"]) for i, serve in enumerate(told["serves"])],
    }


def _serve(index: int, told: dict[str, Any], net_height_m: float) -> dict[str, Any]:
    serve = {
        "index": index,
        "server": told["name"],
        "type": TYPES[told["serve_type"]],
        "outcome": told["outcome"],
        "contact_frame": told["contact_frame"],
        "contact_time": told["contact_time_s"],
        "contact_pos": told["contact_xyz_m"],
        "landing_in_frame": told["landing_px"] is not None,
    }
    if told["landing_xy_m"] is None:
        return serve
    flight_s = told["landing_time_s"] - told["contact_time_s"]
    return (
        serve
        | _launch(told, flight_s, net_height_m)
        | {
            "landing_frame": told["landing_frame"],
            "ball_track": told["ball_px"],
            "landing_time": told["landing_time_s"],
            "landing_xy": told["landing_xy_m"],
            "margin_to_outer_edge_m": told["margin_m"],
            "in_out": told["in_out"],
            "avg_horizontal_speed_contact_to_landing": told["pace_mps"],
        }
    )


def _launch(told: dict[str, Any], flight_s: float, net_height_m: float) -> dict[str, float]:
    """The launch that brings the ball from contact to landing in its time, by the equations of the clips."""
    sys.path.insert(0, str(ROOT))
    try:
        from sample_clips.action import DRAG_CD, DRAG_PER_CD, TOPSPIN_LIFT_CL
        from sample_clips.flight import RADIUS_M, fly, height_at_net, launch_for_duration
    finally:
        sys.path.remove(str(ROOT))
    drag = DRAG_PER_CD * DRAG_CD
    lift = DRAG_PER_CD * TOPSPIN_LIFT_CL if "topspin" in told["serve_type"] else 0.0
    start_m, end_m = np.array(told["contact_xyz_m"]), np.array([*told["landing_xy_m"], RADIUS_M])
    launch = launch_for_duration(start_m, end_m, flight_s, drag, lift)
    places_m = fly(start_m, launch[None], flight_s, drag, lift)[0][:, 0]
    return {
        "launch_speed": float(np.linalg.norm(launch)),
        "launch_elevation_deg": float(np.degrees(np.arctan2(launch[2], np.hypot(*launch[:2])))),
        "net_clearance_center_m": height_at_net(places_m) - net_height_m,
    }


def is_own(truth: dict[str, Any]) -> bool:
    """Whether a clip is the project's own, drawn by a pinhole, its truth telling the ball's underside."""
    return bool(truth["path"].parent.name == "sample_clips")


def turn_of(truth: dict[str, Any]) -> float:
    return -1.0 if truth["segments"][0]["camera"]["position"][1] > 0 else 1.0


def true_view(truth: dict[str, Any]) -> View:
    """The view of a clip's first place, from its true landmarks."""
    camera, turn = truth["segments"][0]["camera"], turn_of(truth)
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1]])
    bend = np.zeros(5) if is_own(truth) else np.array(camera["dist"])
    places = {name: (turn * x, turn * y, 0.0) for name, (x, y, *_) in landmarks(COURTS["indoor"]).items()}
    pose = (np.array(camera["rvec"], dtype=float), np.array(camera["tvec"], dtype=float))
    pixels, _ = cv2.projectPoints(np.array(list(places.values())), *pose, matrix, bend)
    width, height = truth["display_size"]
    seen = {name: (float(x), float(y)) for name, (x, y) in zip(places, pixels.reshape(-1, 2), strict=True)}
    inside = {name: at for name, at in seen.items() if 0 < at[0] < width and 0 < at[1] < height}
    return fit_view(inside, COURTS["indoor"], (width, height), truth["net_height"]).view

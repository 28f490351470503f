"""A clip's facts by name, as a person or a script asks for them."""

from __future__ import annotations

from typing import Any

from serve_marker.video.clip import Clip


def clip_facts(clip: Clip) -> dict[str, Any]:
    """What is known of a clip, in plain values.

    `filmed_at_fps` is a suggestion from the container, None where it names no rate faster than shown; `starts_s` is
    the container's own time of the first frame [s]; `pixel_aspect` is the width of one of the upright picture's pixels
    over its height; `hidden_frames` are left out by an edit list; `damaged` lists ranges of frames (empty where none
    were looked for).
    """
    return {
        "frames": clip.frame_count,
        "duration_s": clip.duration_s,
        "width": clip.width,
        "height": clip.height,
        "pixel_aspect": clip.pixel_aspect,
        "rotation_deg": clip.rotation_deg,
        "mirrored": clip.mirrored,
        "codec": clip.codec,
        "high_dynamic_range": clip.high_dynamic_range,
        "variable_rate": clip.variable_rate,
        "shown_fps": clip.shown_fps,
        "filmed_at_fps": clip.capture_rate,
        "keyframes": len(clip.keyframes),
        "starts_s": clip.starts_s,
        "hidden_frames": clip.hidden_frames,
        "sound": clip.has_sound,
        "damaged": [{"first": s.first, "last": s.last, "why": s.why} for s in clip.damaged],
        "warnings": list(clip.warnings),
    }

"""Film of real devices: every frame that FFmpeg decodes is counted and shown, and none is called damaged."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.frames import FrameReader

REAL = Path(__file__).resolve().parents[3] / "shared" / "real"
EXPECTED: dict[str, Any] = json.loads((REAL / "expected.json").read_text()) if REAL.is_dir() else {}


@pytest.mark.skipif(not EXPECTED, reason="the films of real devices are not beside the project")
@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_real_files_are_told_rightly(name: str) -> None:
    want, clip = EXPECTED[name], open_clip(REAL / name)
    assert (clip.frame_count, clip.rotation_deg) == (want["frames"], want["rotation_deg"])
    assert sum(part.last - part.first + 1 for part in scan_damage(clip)) <= want["damaged_at_most"]
    assert round(clip.capture_rate or 0) == want.get("filmed_at_fps", round(clip.capture_rate or 0))
    with FrameReader(clip) as reader:
        for i in range(min(clip.frame_count, 12)):
            assert reader.frame(i).shape == (clip.height, clip.width, 3)

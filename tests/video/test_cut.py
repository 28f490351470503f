"""Copied parts of true clips: turned, of uneven rate, with sound, and every picture as it was."""

import numpy as np
import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.cut import copy_parts
from serve_marker.video.frames import FrameReader


@pytest.mark.parametrize("name", ["portrait-30.mp4", "low-corner-120.mov", "behind-servers-30vfr.mp4"])
def test_a_copied_part_shows_the_same_pictures_upright_at_the_same_times(shared_clips, tmp_path, name):
    clip = open_clip(shared_clips / name)
    copy_parts(clip, [(7.3, 9.1), (3.0, 4.0)], tmp_path / "cut.mp4")
    copied = open_clip(tmp_path / "cut.mp4")
    assert (copied.width, copied.height, copied.rotation_deg) == (clip.width, clip.height, clip.rotation_deg)
    assert copied.warnings == ()
    begins = max(key for key in clip.keyframes if key <= clip.frame_at(3.0))
    with FrameReader(clip) as film, FrameReader(copied) as reader:
        for later in (0, 5, 20):
            assert np.array_equal(reader.frame(later), film.frame(begins + later))
    assert copied.times_s[:20] == pytest.approx(clip.times_s[begins : begins + 20] - clip.times_s[begins], abs=1e-4)

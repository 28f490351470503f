from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import av
import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from serve_marker.desktop.film.loudness_strip import LoudnessStrip
from serve_marker.video.clip import Clip, open_clip
from serve_marker.video.sound import Loudness
from serve_marker.video.sudden_sounds import Spikes

pytestmark = pytest.mark.gui
SPIKES_S = (0.5, 1.2, 1.9)


def heard() -> Loudness:
    times_s = np.arange(400, dtype=np.float64) * 0.005
    level_db = np.full(400, -60.0)
    level_db[[100, 240, 380]] = -5.0
    return Loudness(times_s, level_db, Spikes(np.array(SPIKES_S), np.full(3, -5.0), np.zeros(3)))


@pytest.fixture
def strip(dressed, qtbot) -> Iterator[LoudnessStrip]:
    made = LoudnessStrip(lambda time_s: 100 * time_s)
    qtbot.addWidget(made)
    made.resize(200, 20)
    yield made
    made.close_worker()


def film(path: Path, sound: bool) -> Clip:
    with av.open(str(path), "w") as out:
        pictures = out.add_stream("libx264", rate=25)
        pictures.width, pictures.height, pictures.pix_fmt = 64, 48, "yuv420p"
        tone = out.add_stream("pcm_s16le", rate=48000, layout="mono") if sound else None
        for _ in range(25):
            out.mux(pictures.encode(av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")))
        out.mux(pictures.encode(None))
        if tone is not None:
            samples = np.zeros((1, 48000), np.int16)
            samples[0, 24000:24400] = 20000 * np.sign(np.sin(np.arange(400)))
            frame = av.AudioFrame.from_ndarray(samples, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 48000, 0
            out.mux(tone.encode(frame))
            out.mux(tone.encode(None))
    return open_clip(path)


def test_a_clip_with_sound_shows_the_strip(strip: LoudnessStrip, tmp_path: Path, qtbot):
    strip.listen(film(tmp_path / "loud.mov", sound=True))
    assert strip.isVisible()
    qtbot.waitUntil(lambda: not strip.busy, timeout=60_000)
    assert strip.spikes_s == pytest.approx([0.5], abs=0.006)


def test_a_clip_without_sound_lacks_it(strip: LoudnessStrip, tmp_path: Path, qtbot):
    strip.listen(film(tmp_path / "silent.mov", sound=False))
    qtbot.waitUntil(lambda: not strip.busy, timeout=60_000)
    assert not strip.isVisible()
    assert not len(strip.spikes_s)


def test_spikes_and_level_are_drawn_where_the_time_bar_has_them(strip: LoudnessStrip):
    strip.set_loudness(heard())
    drawn = strip.grab().toImage()
    background = drawn.pixelColor(20, 2)
    for time_s in SPIKES_S:
        assert drawn.pixelColor(round(100 * time_s), 2) != background
        assert drawn.pixelColor(round(100 * time_s), 14) != background
    assert drawn.pixelColor(80, 14) == background


def test_a_click_goes_there(strip: LoudnessStrip, qtbot):
    strip.set_loudness(heard())
    with qtbot.waitSignal(strip.seek, timeout=60_000) as gone:
        qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(120, 10))
    assert gone.args[0] == pytest.approx(1.2, abs=0.01)


def test_slow_motion_makes_serves_fly_longer(strip: LoudnessStrip, qtbot):
    times_s = np.array([4.0, 12.0, 44.0, 52.0])
    strip.set_loudness(Loudness(times_s, np.full(4, -5.0), Spikes(times_s, np.full(4, -5.0), np.zeros(4))))
    qtbot.waitUntil(lambda: not strip.busy, timeout=60_000)
    assert not strip.likely
    strip.set_time_scale(1 / 8)
    qtbot.waitUntil(lambda: len(strip.likely) == 2, timeout=60_000)
    assert [serve.hit_s for serve in strip.likely] == [4.0, 44.0]


def test_a_marked_contact_tells_which_sound_is_the_hit(strip: LoudnessStrip, qtbot):
    times_s = np.array([1.0, 1.4, 2.3])
    strip.set_loudness(Loudness(times_s, np.full(3, -5.0), Spikes(times_s, np.full(3, -5.0), np.zeros(3))))
    for contact_s in (1.38, 0.98):
        strip.set_marked([contact_s], [])
        qtbot.waitUntil(lambda: not strip.busy, timeout=60_000)
        (likely,) = strip.likely
        assert likely.hit_s == pytest.approx(contact_s + 0.02)

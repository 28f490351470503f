"""Loudness and spikes, against tones of known level and the rendered clip's own truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.progress import Cancelled
from serve_marker.video.sound import loudness
from serve_marker.video.sudden_sounds import find_spikes

RATE_HZ = 48_000
CLICKS_S = (0.4, 0.9, 1.1)


def with_sound(path: Path, samples: Any, film_starts_s: float = 0.0) -> Path:
    """A film of 2 s at 25 frames a second beside these samples (N,) in PCM."""
    with av.open(str(path), "w") as out:
        film: Any = out.add_stream("libx264", rate=25)
        film.width, film.height, film.pix_fmt = 64, 48, "yuv420p"
        tone: Any = out.add_stream("pcm_s16le", rate=RATE_HZ, layout="mono")
        for k in range(50):
            frame: Any = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 4 * k, np.uint8), format="rgb24")
            frame.pts = k + round(25 * film_starts_s)
            out.mux(film.encode(frame))
        out.mux(film.encode(None))
        sound: Any = av.AudioFrame.from_ndarray((samples[None] * 32767).astype(np.int16), format="s16", layout="mono")
        sound.sample_rate, sound.pts = RATE_HZ, 0
        out.mux(tone.encode(sound))
        out.mux(tone.encode(None))
    return path


def clicks() -> Any:
    samples = np.random.default_rng(1).normal(0, 0.002, 2 * RATE_HZ)
    for click_s in CLICKS_S:
        start = round(click_s * RATE_HZ)
        samples[start : start + 960] += np.random.default_rng(2).normal(0, 0.2, 960) * np.exp(-np.arange(960) / 200)
    return np.clip(samples, -1, 1)


def test_a_tone_has_the_level_of_its_power(tmp_path: Path) -> None:
    # A sine of amplitude a has the mean power a^2 / 2: 0.5 gives -9.03 dB.
    tone = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(2 * RATE_HZ) / RATE_HZ)
    heard = loudness(open_clip(with_sound(tmp_path / "tone.mov", tone)))
    assert heard is not None
    assert heard.level_db[5:-5] == pytest.approx(10 * np.log10(0.125), abs=0.1)
    assert np.diff(heard.times_s) == pytest.approx(0.005)
    assert len(heard.times_s) == pytest.approx(400, abs=2)


def test_clicks_are_spikes_on_the_clips_own_time(tmp_path: Path) -> None:
    heard = loudness(open_clip(with_sound(tmp_path / "clicks.mov", clicks())))
    assert heard is not None
    assert heard.spikes.times_s == pytest.approx(CLICKS_S, abs=0.006)


def test_time_is_the_films_where_it_starts_later_than_the_sound(tmp_path: Path) -> None:
    heard = loudness(open_clip(with_sound(tmp_path / "late.mkv", clicks(), film_starts_s=0.2)))
    assert heard is not None
    assert heard.spikes.times_s == pytest.approx([click_s - 0.2 for click_s in CLICKS_S], abs=0.006)


def test_no_sound_no_strip(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    assert loudness(open_clip(make_clip(tmp_path / "silent.mp4", 5))) is None


def test_steady_noise_has_no_spikes() -> None:
    level_db = np.random.default_rng(3).normal(-40, 1.0, 2000)
    assert not len(find_spikes(np.arange(2000, dtype=np.float64) * 0.005, level_db).times_s)


def test_progress_rises_to_the_end_and_cancel_stops(tmp_path: Path) -> None:
    clip = open_clip(with_sound(tmp_path / "clicks.mov", clicks()))
    told: list[tuple[int, int]] = []
    loudness(clip, progress=lambda done, of: told.append((done, of)))
    assert told == sorted(set(told))
    with pytest.raises(Cancelled):
        loudness(clip, cancelled=lambda: True)


def test_hits_and_bounces_of_a_rendered_clip_are_spikes(shared_clips: Path) -> None:
    truth = json.loads((shared_clips / "low-corner-120.truth.json").read_text())
    heard = loudness(open_clip(shared_clips / "low-corner-120.mov"))
    assert heard is not None
    off_s = {event["t"]: np.abs(heard.spikes.times_s - event["t"]).min() for event in truth["audio_events"]}
    hits = [off_s[event["t"]] for event in truth["audio_events"] if event["kind"] in ("hit", "land", "net")]
    assert len(hits) == 12
    assert max(hits) <= 0.03
    assert np.mean([off <= 0.03 for off in off_s.values()]) > 0.7

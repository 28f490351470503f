"""A camera's own jitter is no fault, one frame out of step in an even film is."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from serve_marker.video.clip import open_clip
from serve_marker.video.doubtful_times import doubt_of, doubt_of_stamps
from serve_marker.video.mp4_index import Packed, TrackIndex

EVEN = [20 * k for k in range(60)]
UNEVEN = np.cumsum([20 + (k % 7 == 3) * 20 + k % 3 for k in range(60)]).tolist()
PAUSED = [*EVEN[:30], *[stamp + 2000 for stamp in EVEN[30:]]]


def jittered(fps: int, jitter_ms: float, ticks_s: int, frames: int = 1800) -> NDArray[np.int64]:
    """Stamps up to so much off an even beat, evenly drawn."""
    rng = np.random.default_rng(round(fps + 10 * jitter_ms))
    times_s = 0.01 + np.arange(frames) / fps + rng.uniform(-jitter_ms, jitter_ms, frames) / 1000
    return np.sort(np.round(times_s * ticks_s).astype(np.int64))


def late(fps: int, share: float, ticks_s: int) -> NDArray[np.int64]:
    """Six hundred even stamps, some of them late by 3 to 15 ms but before the next one."""
    rng = np.random.default_rng(fps)
    delays_s = np.where(rng.random(600) < share, rng.uniform(0.003, min(0.015, 0.9 / fps), 600), 0.0)
    return np.round((np.arange(600) / fps + delays_s) * ticks_s).astype(np.int64)


def in_whole_ms(stamps: NDArray[np.int64], ticks_s: int) -> NDArray[np.int64]:
    return np.round(stamps * 1000 / ticks_s).astype(np.int64) * (ticks_s // 1000)


@pytest.mark.parametrize("ticks_s", [1000, 90_000])
@pytest.mark.parametrize("fps", [30, 60])
@pytest.mark.parametrize("jitter_ms", [0, 0.3, 0.5, 0.7, 1, 1.5, 2, 6])
def test_jitter_is_no_fault(fps: int, jitter_ms: float, ticks_s: int) -> None:
    stamps = jittered(fps, jitter_ms, ticks_s)
    assert doubt_of_stamps(stamps) is None
    assert doubt_of_stamps(in_whole_ms(stamps, ticks_s)) is None


@pytest.mark.parametrize("ticks_s", [1000, 90_000])
@pytest.mark.parametrize("fps", [30, 60])
@pytest.mark.parametrize("share", [0.02, 0.05, 0.2])
def test_frames_late_now_and_then_are_no_fault(fps: int, share: float, ticks_s: int) -> None:
    stamps = late(fps, share, ticks_s)
    assert doubt_of_stamps(stamps) is None
    assert doubt_of_stamps(in_whole_ms(stamps, ticks_s)) is None


@pytest.mark.parametrize("fps", [30, 60])
@pytest.mark.parametrize("jitter_ms", [0, 1, 1.5, 2, 3, 6])
def test_shown_times_of_their_own_are_not_held_against_even_decode_times(fps: int, jitter_ms: float) -> None:
    assert doubt_of(decoded_evenly(jittered(fps, jitter_ms, 90_000), 90_000 // fps)) is None


@pytest.mark.parametrize("fps", [30, 60])
@pytest.mark.parametrize("share", [0.02, 0.05, 0.2])
def test_late_frames_are_not_held_against_even_decode_times(fps: int, share: float) -> None:
    assert doubt_of(decoded_evenly(late(fps, share, 90_000), 90_000 // fps)) is None


def decoded_evenly(shown: NDArray[np.int64], gap: int) -> TrackIndex:
    """An index of 90,000 ticks a second whose decode times are even and whose shown times are not."""
    frames = len(shown)
    return TrackIndex(
        ticks_s=90_000,
        media_length=frames * gap,
        movie_ticks_s=600,
        movie_length=frames * gap // 150,
        track_length=frames * gap // 150,
        edits=(),
        samples=frames,
        deltas=Packed(np.array([frames]), np.array([gap])),
        offsets=Packed(np.ones(frames, dtype=np.int64), shown - gap * np.arange(frames)),
    )


@pytest.mark.parametrize("name", ["phone.mp4", "phone.mkv", "phone.ts"])
@pytest.mark.parametrize("jitter_ms", [0.5, 1, 2, 6])
@pytest.mark.parametrize("b_frames", [0, 2])
def test_no_false_alarm_for_a_jittery_film(
    tmp_path: Path, make_clip: Callable[..., Path], name: str, jitter_ms: float, b_frames: int
) -> None:
    stamps = jittered(30, jitter_ms, 1000, frames=90).tolist()
    path = make_clip(tmp_path / name, stamps=stamps, time_base=Fraction(1, 1000), b_frames=b_frames)
    assert open_clip(path).warnings == ()


@pytest.mark.parametrize("ticks_s", [1000, 90_000])
@pytest.mark.parametrize("fps", [25, 29.97, 30, 50, 59.94, 60])
@pytest.mark.parametrize("late_ms", [-5, 5])
@pytest.mark.parametrize("frames", [12, 60, 1800])
def test_one_frame_5_ms_off_an_even_film_is_found(fps: float, ticks_s: int, late_ms: int, frames: int) -> None:
    stamps = np.round(np.arange(frames) / fps * ticks_s).astype(np.int64)
    stamps[frames // 2] += late_ms * ticks_s // 1000
    doubt = doubt_of_stamps(stamps)
    assert doubt is not None
    assert doubt.stamps.tolist() == [stamps[frames // 2]]


@pytest.mark.parametrize("suffix", ["mkv", "ts"])
def test_a_frame_askew_in_another_container_is_told(
    tmp_path: Path, make_clip: Callable[..., Path], suffix: str
) -> None:
    stamps = [20 * k for k in range(40)]
    assert open_clip(make_clip(tmp_path / f"even.{suffix}", stamps=stamps)).warnings == ()
    stamps[17] += 8
    clip = open_clip(make_clip(tmp_path / f"askew.{suffix}", stamps=stamps))
    assert [(stretch.first, stretch.last) for stretch in clip.damaged] == [(17, 17)]
    assert f"Some frames of askew.{suffix} are out of step" in clip.warnings[0]
    assert "copy it again" not in clip.warnings[0]


@pytest.mark.parametrize("stamps", [EVEN, UNEVEN, PAUSED], ids=["even", "uneven", "paused"])
def test_no_false_alarm_in_other_containers(tmp_path: Path, make_clip: Callable[..., Path], stamps: list[int]) -> None:
    for name in ("film.mkv", "film.ts"):
        assert open_clip(make_clip(tmp_path / name, stamps=stamps, b_frames=2)).warnings == ()

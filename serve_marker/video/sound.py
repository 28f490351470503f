"""How loud a clip is over time, and the spikes that hits and bounces make."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.video.clip import Clip
from serve_marker.video.opening import open_container
from serve_marker.video.packet_stamps import decoded
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter
from serve_marker.video.sudden_sounds import WINDOW_S, Spikes, find_spikes

SILENCE_DB = -90.0
RATE_HZ = 48_000


@dataclass(frozen=True, eq=False)
class Loudness:
    """Level of short windows of sound, on the clip's own time (0 at its first frame), and the spikes in it.

    times_s: (N,) middles of the windows; level_db: (N,) root mean square, 0 dB being full scale.
    """

    times_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    spikes: Spikes


def loudness(clip: Clip, progress: Progress | None = None, cancelled: IsCancelled | None = None) -> Loudness | None:
    """Loudness of the clip's first sound track in windows of 5 ms; None where it has no sound that can be decoded.

    Raises
    ------
    UserError
        If the file cannot be opened.
    Stopped
        If `cancelled` says so.
    """
    told = ProgressReporter(progress, cancelled)
    container = open_container(clip.path)
    try:
        if not container.streams.audio or container.streams.audio[0].codec_context is None:
            return None
        stream = container.streams.audio[0]
        for other in container.streams:
            if other.index != stream.index:
                other.discard = av.stream.Discard.all
        starts_s, powers, sharp = _windows(container, stream, clip, told)
    finally:
        container.close()
    if not len(powers):
        return None
    times_s = starts_s + WINDOW_S / 2
    return Loudness(times_s, _decibels(powers), find_spikes(times_s, _decibels(sharp)))


def _windows(
    container: Any, stream: Any, clip: Clip, told: ProgressReporter
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Starts [s], mean power, and mean power of the difference between neighbouring samples, of each window."""
    size = round(RATE_HZ * WINDOW_S)
    first_s = float(clip.stamps[0] * clip.time_base)
    starts: list[NDArray[np.float64]] = []
    powers: list[NDArray[np.float64]] = []
    sharp: list[NDArray[np.float64]] = []
    rest, begin_s = np.zeros(0, dtype=np.float32), None
    for start_s, samples in _samples(container, stream):
        if begin_s is None or abs(begin_s + len(rest) / RATE_HZ - start_s) > 2 * WINDOW_S:
            rest, begin_s = np.zeros(0, dtype=np.float32), start_s
        rest = np.concatenate([rest, samples])
        count = len(rest) // size
        if count:
            blocks = rest[: count * size].reshape(count, size).astype(np.float64)
            starts.append(np.asarray(begin_s + np.arange(count) * WINDOW_S - first_s, dtype=np.float64))
            powers.append((blocks**2).mean(axis=1))
            sharp.append((np.diff(blocks, axis=1) ** 2).mean(axis=1))
            rest, begin_s = rest[count * size :], begin_s + count * WINDOW_S
        told.reach(start_s - first_s, clip.duration_s)
    if not starts:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    return np.concatenate(starts), np.concatenate(powers), np.concatenate(sharp)


def _samples(container: Any, stream: Any) -> Iterator[tuple[float, NDArray[np.float32]]]:
    """Start [s] and samples (N,) from -1 to 1, all channels in one, at 48 kHz."""
    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    try:
        for frame in decoded(container.demux(stream)):
            pieces: list[Any] = resampler.resample(frame)
            for piece in pieces:
                if piece.pts is not None:
                    yield float(piece.pts * piece.time_base), piece.to_ndarray().reshape(-1)
    except (av.FFmpegError, OSError):
        return


def _decibels(power: NDArray[np.float64]) -> NDArray[np.float64]:
    return 10 * np.log10(np.maximum(power, 10 ** (SILENCE_DB / 10)))

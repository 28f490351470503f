"""A court filmed with sound: claps at known times, and damage at known frames. Used by tests and benchmarks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import av
import numpy as np

RATE_HZ = 48_000


def with_claps(
    silent: Path,
    path: Path,
    claps_s: Sequence[float],
    metadata: dict[str, str] | None = None,
    gains: Sequence[float] = (),
) -> Path:
    """Write a copy of a film with soft noise and claps, at these gains or 1, as its sound."""
    with av.open(str(silent)) as source:
        length_s = float(source.duration or 0) / 1e6
    return film_with_sound(silent, path, _samples(length_s, claps_s, gains or [1.0] * len(claps_s)), metadata)


def film_with_sound(silent: Path, path: Path, samples: Any, metadata: dict[str, str] | None = None) -> Path:
    """Write a copy of a film (its packets as they are) with samples (N,) at RATE_HZ as its sound."""
    with av.open(str(silent)) as source, av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as out:
        out.metadata.update(metadata or {})
        pictures: Any = source.streams.video[0]
        film: Any = out.add_stream_from_template(pictures)
        tone: Any = out.add_stream("aac", rate=RATE_HZ, layout="mono")
        for packet in source.demux(pictures):
            if packet.dts is not None:
                packet.stream = film
                out.mux(packet)
        sound: Any = av.AudioFrame.from_ndarray(samples.astype(np.float32)[None], "flt", "mono")
        sound.sample_rate, sound.pts = RATE_HZ, 0
        out.mux(tone.encode(sound))
        out.mux(tone.encode(None))
    return path


def _samples(length_s: float, claps_s: Sequence[float], gains: Sequence[float]) -> Any:
    chance = np.random.default_rng(1)
    samples = chance.normal(0, 0.002, round(length_s * RATE_HZ))
    for clap_s, gain in zip(claps_s, gains, strict=True):
        start = round(clap_s * RATE_HZ)
        samples[start : start + 960] += gain * chance.normal(0, 0.3, 960) * np.exp(-np.arange(960) / 200)
    return np.clip(samples, -1, 1)


def spoil_packet(path: Path, which: int) -> None:
    """Fill one packet of the pictures, counted in the order of decoding, with zeros."""
    content = path.read_bytes()
    with av.open(str(path)) as container:
        start, size = [(int(p.pos or 0), p.size) for p in container.demux(video=0) if p.size][which]
    path.write_bytes(content[:start] + bytes(size) + content[start + size :])

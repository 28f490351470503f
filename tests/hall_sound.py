"""Sound for rendered serves: what a phone in a hall would hear of a clip's true hits and landings, with other noise.

Sound takes its time from the true places to the true camera and fades with the distance.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 48_000
SOUND_MPS = 343.0
HEARD_FULLY_M = 6.0
REBOUND_INTERVAL, FEWEST_GAIN = 0.72, 0.04
Samples = NDArray[np.float64]
Event = tuple[float, str, float, tuple[float, ...]]
"""Time [s], kind of sound, gain and place [m]."""


def events(truth: dict[str, Any], chance: np.random.Generator) -> list[Event]:
    """Return what the served balls do in a clip of `truths.py`: hits, landings, nets, passes, and their rebounds."""
    found: list[Event] = []
    for serve in truth["serves"]:
        hit_s, end = serve["contact_time"], (0.0, -5.0, 0.0)
        found.append((hit_s, "hit", chance.uniform(0.6, 1.0), tuple(serve["contact_pos"])))
        if serve["outcome"] == "net":
            found.append((hit_s + 0.5, "net", 0.3, (0.0, 0.0, 2.0)))
            found += rebounds(hit_s + 1.15, chance.uniform(0.5, 0.7), 0.35, (0.0, 1.0, 0.0), chance)
        elif serve.get("landing_time") is None:
            played_s = serve.get("reception_time") or hit_s + 1.2
            found.append((played_s, "hit", 0.5, end))
            found += rebounds(played_s + 1.4, chance.uniform(0.6, 0.9), 0.5, end, chance)
        else:
            place = (*serve["landing_xy"][:2], 0.0)
            found += rebounds(serve["landing_time"], chance.uniform(0.75, 1.1), chance.uniform(0.6, 1.0), place, chance)
    return found


def rebounds(
    first_s: float, interval_s: float, gain: float, place: tuple[float, ...], chance: np.random.Generator
) -> list[Event]:
    """Return a ball's touches of the floor from the first on; somebody may pick it up after three or more."""
    found: list[Event] = []
    left, ratio = chance.integers(3, 9), REBOUND_INTERVAL * chance.uniform(0.95, 1.08)
    while left and gain > FEWEST_GAIN:
        found.append((first_s, "floor", gain, place))
        first_s, interval_s, gain, left = first_s + interval_s, interval_s * ratio, gain * ratio, left - 1
    return found


def _fading(length_s: float, fade_s: float) -> tuple[Samples, Samples]:
    since_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    return since_s, np.exp(-since_s / fade_s)


def _dull(samples: Samples, steps: int) -> Samples:
    return np.convolve(samples, np.ones(steps) / np.sqrt(steps), mode="same")


def _hit(chance: np.random.Generator) -> Samples:
    return _thud(chance, (0.06, 0.007), (6, 13), 0.5, 380.0)


def _floor(chance: np.random.Generator) -> Samples:
    return _thud(chance, (0.1, 0.012), (8, 21), 0.6, 130.0)


def _thud(
    chance: np.random.Generator, times_s: tuple[float, float], steps: tuple[int, int], share: float, pitch_hz: float
) -> Samples:
    """Dull noise over a tone, of a length and fading in a time (``times_s``)."""
    since_s, fading = _fading(*times_s)
    noise = _dull(chance.normal(0, 0.4, len(since_s)), int(chance.integers(*steps)))
    return (noise + share * np.sin(2 * np.pi * pitch_hz * since_s)) * fading


def _net(chance: np.random.Generator) -> Samples:
    since_s, fading = _fading(0.2, 0.04)
    return np.asarray(_dull(chance.normal(0, 0.3, len(since_s)), 12) * fading * (1 - np.exp(-since_s / 0.01)))


def _squeak(chance: np.random.Generator) -> Samples:
    since_s = np.arange(round(chance.uniform(0.06, 0.16) * RATE_HZ)) / RATE_HZ
    pitch_hz = chance.uniform(1800, 3300) * (1 + chance.uniform(-1, 3) * since_s)
    return np.asarray(0.4 * np.hanning(len(since_s)) * np.sin(2 * np.pi * pitch_hz * since_s))


def _whistle(chance: np.random.Generator) -> Samples:
    since_s = np.arange(round(chance.uniform(0.3, 0.8) * RATE_HZ)) / RATE_HZ
    swell = np.clip(np.minimum(since_s, since_s[::-1]) / 0.015, 0, 1)
    return np.asarray(0.5 * swell * np.sin(2 * np.pi * 2900 * since_s + 3 * np.sin(2 * np.pi * 28 * since_s)))


def _voice(chance: np.random.Generator) -> Samples:
    since_s = np.arange(round(chance.uniform(0.12, 0.35) * RATE_HZ)) / RATE_HZ
    pitch_hz = chance.uniform(130, 260)
    parts = sum(np.sin(2 * np.pi * pitch_hz * k * since_s) / k for k in range(1, 12))
    return np.asarray(0.25 * np.hanning(len(since_s)) ** 0.5 * parts)


SOUNDS: dict[str, Callable[[np.random.Generator], Samples]] = {
    "hit": _hit,
    "floor": _floor,
    "net": _net,
    "squeak": _squeak,
    "whistle": _whistle,
    "voice": _voice,
}


def _others(length_s: float, every_s: dict[str, float], chance: np.random.Generator) -> list[Event]:
    """Return other noise, each kind about once in so many seconds, from all over the hall."""
    found: list[Event] = []
    for kind, apart_s in every_s.items():
        for _ in range(round(length_s / apart_s)):
            at_s, place = chance.uniform(0, length_s), (chance.uniform(-8, 8), chance.uniform(-14, 14), 1.0)
            if kind == "ball":
                found += rebounds(at_s, chance.uniform(0.3, 0.9), chance.uniform(0.15, 0.6), place, chance)
            else:
                found.append((at_s, kind, chance.uniform(0.15, 0.5), place))
    return found


def _dribbles(truth: dict[str, Any], chance: np.random.Generator) -> list[Event]:
    """Return two or three bounces under the server's hand before each toss."""
    found: list[Event] = []
    for serve in truth["serves"]:
        last_s = serve["contact_time"] - chance.uniform(1.4, 1.9)
        times_s = [last_s - 0.6 * k * chance.uniform(0.9, 1.1) for k in range(chance.integers(2, 4))]
        found += [(at_s, "floor", chance.uniform(0.2, 0.3), tuple(serve["contact_pos"])) for at_s in times_s]
    return found


NOISES = ("echoing hall", "other balls", "low signal")


def sound_of(truth: dict[str, Any], noise: str, seed: int) -> Samples:
    """Return samples (N,) at 48 kHz, from -1 to 1, of one of `NOISES` about the clip's true serves."""
    chance = np.random.default_rng(seed)
    length_s = truth["frame_times"][-1] + 0.1
    heard = events(truth, chance)
    every_s = {"squeak": 1.5, "voice": 2.5, "whistle": 8.0}
    if noise == "other balls":
        heard += _dribbles(truth, chance) + _others(length_s, every_s | {"ball": 4.0, "hit": 6.0}, chance)
    else:
        heard += _others(length_s, every_s, chance)
    samples = np.zeros(round(length_s * RATE_HZ))
    camera_m = np.array(truth["segments"][0]["camera"]["position"])
    for at_s, kind, gain, place in heard:
        away_m = float(np.linalg.norm(np.array(place) - camera_m))
        start = round((at_s + away_m / SOUND_MPS) * RATE_HZ)
        if 0 <= start < len(samples):
            made = 0.8 * gain * min(1.0, HEARD_FULLY_M / away_m) * SOUNDS[kind](chance)
            samples[start : start + len(made)] += made[: len(samples) - start]
    if noise == "echoing hall":
        samples = _echoing(samples, chance)
    hiss = 0.003 if noise != "low signal" else 0.008
    samples += _dull(chance.normal(0, hiss, len(samples)), 4)
    return np.clip(samples if noise != "low signal" else samples / 8, -1, 1)


def _echoing(samples: Samples, chance: np.random.Generator) -> Samples:
    """A bare hall: early echoes of the walls, and a tail that takes two seconds to fade by 60 dB."""
    since_s = np.arange(2 * RATE_HZ) / RATE_HZ
    tail = chance.normal(0, 0.012, len(since_s)) * 10 ** (-3 * since_s / 2.0) * (since_s > 0.02)
    tail[[0, *(chance.uniform(0.02, 0.11, 6) * RATE_HZ).astype(int)]] += [1.0, *chance.uniform(0.1, 0.3, 6)]
    size = len(samples) + len(tail)
    echoed = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)
    return np.asarray(echoed[: len(samples)])

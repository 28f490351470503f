from __future__ import annotations

import numpy as np
import pytest

from serve_marker.spotting.candidates import Look
from serve_marker.spotting.tracks import FEWEST_LOOKS, picture_tracks

LARGEST_PX = 20.0


def ball_at(k: int) -> tuple[float, float]:
    return 40 + 22.0 * k, 300 - 14.0 * k + 0.6 * k**2


def film(balls: int, noise: int, hidden: tuple[int, ...] = (), seed: int = 3) -> list[Look]:
    rng = np.random.default_rng(seed)
    seen = []
    for k in range(balls):
        centres = [] if k in hidden else [ball_at(k)]
        centres += rng.uniform((0, 0), (1280, 720), (noise, 2)).tolist()
        seen.append(Look(k, k / 30, np.array(centres).reshape(-1, 2), np.full(len(centres), 60.0)))
    return seen


@pytest.mark.parametrize("noise", [0, 20, 150])
def test_a_ball_among_noise_is_one_track(noise: int) -> None:
    tracks = picture_tracks(film(24, noise), LARGEST_PX)

    # the ball is the first candidate of every look
    shares = [(track.candidates == 0).sum() for track in tracks]
    assert max(shares) >= 21
    longest = tracks[int(np.argmax(shares))]
    assert (longest.candidates == 0).mean() >= 0.9


def test_a_ball_hidden_for_some_looks_is_still_one_track() -> None:
    (track,) = picture_tracks(film(24, 0, hidden=(10, 11, 12)), LARGEST_PX)

    assert track.looks.tolist() == [k for k in range(24) if k not in (10, 11, 12)]
    assert track.centres_px[-1].tolist() == pytest.approx(ball_at(23))


def test_what_is_seen_too_briefly_is_no_track() -> None:
    assert picture_tracks(film(FEWEST_LOOKS - 1, 0), LARGEST_PX) == []


def test_a_turn_ends_a_track() -> None:
    looks = film(12, 0)
    x, y = ball_at(11)
    for k in range(12):
        centre = np.array([[x - 20.0 * (k + 1), y - 12.0 * (k + 1)]])
        looks.append(Look(12 + k, (12 + k) / 30, centre, np.array([60.0])))

    tracks = picture_tracks(looks, LARGEST_PX)

    assert len(tracks) == 2
    assert tracks[0].looks[-1] <= 13
    assert tracks[1].looks[0] >= 10

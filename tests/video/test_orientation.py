"""Every display matrix of quarter turns and mirrors, checked point by point against the matrix itself."""

from __future__ import annotations

import itertools
import struct

import numpy as np
import pytest

from serve_marker.video.orientation import Orientation, orientation_of

QUARTERS = [
    (a, b, c, d)
    for a, b, c, d in itertools.product((-1, 0, 1), repeat=4)
    if a * d - b * c in (-1, 1) and a * b == c * d == 0
]
QUARTERS = [m for m in QUARTERS if sum(map(abs, m)) == 2]


def packed(a: float, b: float, c: float, d: float) -> bytes:
    fixed = [round(v * 65536) for v in (a, b, c, d)]
    return struct.pack("=9i", fixed[0], fixed[1], 0, fixed[2], fixed[3], 0, 0, 0, 1 << 30)


@pytest.mark.parametrize("linear", QUARTERS)
def test_each_pixel_goes_where_the_matrix_sends_it(linear: tuple[int, int, int, int]) -> None:
    # ISO/IEC 14496-12, 8.3.2: (p, q) -> (a p + c q, b p + d q), then moved so that the picture starts at (0, 0).
    a, b, c, d = linear
    orientation, exact = orientation_of(packed(a, b, c, d))
    assert exact
    height, width = 3, 5
    stored = np.arange(height * width * 3, dtype=np.uint8).reshape(height, width, 3)
    shown = orientation.upright(stored)
    assert orientation.upright_size(width, height) == (shown.shape[1], shown.shape[0])
    corners = np.array([(a * p + c * q, b * p + d * q) for p in (0, width - 1) for q in (0, height - 1)])
    left, top = corners.min(axis=0)
    for p, q in itertools.product(range(width), range(height)):
        assert np.array_equal(shown[b * p + d * q - top, a * p + c * q - left], stored[q, p])


def test_there_are_eight_ways_to_hold_a_phone() -> None:
    assert len({orientation_of(packed(*linear))[0] for linear in QUARTERS}) == len(QUARTERS) == 8


@pytest.mark.parametrize(
    ("linear", "orientation", "exact"),
    [
        ((0.9999, 0.01, -0.01, 0.9999), Orientation(0), True),
        ((0.1, 0.99, -0.99, 0.1), Orientation(90), False),
        ((2, 0, 0, 2), Orientation(0), True),
        ((0, 0, 0, 0), Orientation(0), False),
    ],
)
def test_matrices_that_are_no_quarter_turn(
    linear: tuple[float, float, float, float], orientation: Orientation, exact: bool
) -> None:
    assert orientation_of(packed(*linear)) == (orientation, exact)


def test_no_matrix_means_as_stored() -> None:
    assert orientation_of(None) == orientation_of(b"") == (Orientation(), True)

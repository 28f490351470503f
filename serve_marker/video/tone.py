"""High dynamic range film (PQ or HLG, BT.2020 colours) made fit for an ordinary screen.

The curves are those of ITU-R BT.2100 (PQ: table 4, HLG: table 5), the change of primaries that of ITU-R BT.2087.
What is brighter than the white of a printed page is compressed by the extended Reinhard curve towards the
brightest value kept (1000 cd/m2), each colour by itself: simple, steady from frame to frame, and colours that glare
turn white rather than clip to one primary.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

PQ, HLG = 16, 18
PAPER_WHITE_CDM2 = 203.0
BRIGHTEST_CDM2 = 1000.0
STEPS = 4096
BT2020_TO_BT709 = np.array(
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]], dtype=np.float32
)


def is_high_dynamic_range(frame: Any) -> bool:
    """Whether the frame (av VideoFrame) is coded by one of the two curves for bright screens."""
    return int(frame.color_trc) in (PQ, HLG)


def to_screen(coded: NDArray[np.uint16], curve: int) -> NDArray[np.uint8]:
    """The picture (H, W, 3) RGB for an ordinary BT.709 screen; `coded` (H, W, 3) fills all 16 bits."""
    import cv2

    light = _curve(curve)[coded >> 4]
    light = cv2.transform(light, BT2020_TO_BT709)
    light = np.asarray(light * np.float32((STEPS - 1) * PAPER_WHITE_CDM2 / BRIGHTEST_CDM2))
    cv2.threshold(light, 0.0, 0.0, cv2.THRESH_TOZERO, dst=light)
    cv2.threshold(light, float(STEPS - 1), 0.0, cv2.THRESH_TRUNC, dst=light)
    return _to_display()[light.astype(np.uint16)]


def luminance_cdm2(coded: NDArray[np.float64], curve: int) -> NDArray[np.float64]:
    """Light on the screen [cd/m2] for grey coded from 0 to 1, on a screen of 1000 cd/m2 for HLG.

    Examples
    --------
    >>> np.round(luminance_cdm2(np.array([0.0, 0.508, 1.0]), PQ)).tolist()
    [0.0, 100.0, 10000.0]
    >>> np.round(luminance_cdm2(np.array([0.0, 0.75, 1.0]), HLG)).tolist()
    [0.0, 203.0, 1000.0]
    """
    if curve == PQ:
        m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 32, 3424 / 4096, 2413 / 128, 2392 / 128
        root = coded ** (1 / m2)
        return np.asarray(10_000 * (np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1))
    a = 0.17883277
    b, c = 1 - 4 * a, 0.5 - a * np.log(4 * a)
    scene = np.where(coded <= 0.5, coded**2 / 3, (np.exp((coded - c) / a) + b) / 12)
    return np.asarray(BRIGHTEST_CDM2 * scene**1.2)


@cache
def _curve(curve: int) -> NDArray[np.float32]:
    """(STEPS,) light as a share of paper white."""
    return (luminance_cdm2(np.linspace(0, 1, STEPS), curve) / PAPER_WHITE_CDM2).astype(np.float32)


@cache
def _to_display() -> NDArray[np.uint8]:
    """(STEPS,) from light, as a share of the brightest kept, to the coded value of BT.709 for a gamma of 2.4."""
    light = np.linspace(0, 1, STEPS) * BRIGHTEST_CDM2 / PAPER_WHITE_CDM2
    brightest = BRIGHTEST_CDM2 / PAPER_WHITE_CDM2
    compressed = light * (1 + light / brightest**2) / (1 + light)
    return np.round(255 * compressed ** (1 / 2.4)).astype(np.uint8)

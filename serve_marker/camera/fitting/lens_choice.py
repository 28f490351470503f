"""Which lens the marks speak for, and how careful they were: the likeliest camera with all its doubt."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.fitting.bundle_adjustment import Adjusted, Known, Observations, adjust, covariance_with
from serve_marker.camera.fitting.focal_length import focal_of
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.usual_lenses import CENTRE_SHARE_SD, CROPPED_SHARE_SD, K1_SD, K2_SD, USUAL_FOCAL
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.model import CameraModel, from_homography
from serve_marker.court.dimensions import Floats

TOLD_FOCAL_LOG_SD = 0.1
"""A picture that tells the focal length to within this needs no expectation of it."""
WORSE_SE = 1.0
"""A richer lens is dropped where it foretells left-out marks worse by more than this many standard errors."""
CROPPED_P = 1e-4
CROPPED_GAIN = 0.3
LENSES = ("none", "k1", "k1+k2")


@dataclass(frozen=True, eq=False)
class LensChoice:
    """The camera chosen.

    Parameters
    ----------
    lens_model : one of LENSES.
    cov : (11, 11), of the unknowns; where a simpler lens was chosen, about it and not about the richest one's.
    noise : deviation to count with over that of the clicks expected; 1 where nothing else shows.
    hand : what the marks show of it.
    seen : the observations with that deviation.
    known : what was taken as known beforehand, with the lens's bend held as chosen.
    """

    found: Adjusted
    lens_model: str
    cov: Floats
    noise: float
    hand: Hand
    seen: Observations
    known: Known

    @property
    def camera(self) -> CameraModel:
        """The camera itself."""
        return self.found.camera


def middle_of(image_size: tuple[int, int]) -> tuple[float, float]:
    """The picture's middle [px].

    Examples
    --------
    >>> middle_of((1280, 720))
    (639.5, 359.5)
    """
    return (image_size[0] - 1) / 2, (image_size[1] - 1) / 2


def start_camera(H: Floats, H_cov: Floats, image_size: tuple[int, int]) -> CameraModel | None:
    """A camera without bend near a homography of the marks."""
    lens = Lens(0.0, 0.0, middle_of(image_size), max(image_size) / 2)
    return from_homography(H, focal_of(H, H_cov, image_size), lens)


def choose_camera(
    start: CameraModel, seen: Observations, image_size: tuple[int, int], click_sd_px: float, measured: bool = False
) -> LensChoice | None:
    """Return the likeliest camera, None where none settles.

    Three lenses are tried (none, k1, k1 and k2, all with expectations of phones' lenses beside them). The richest is
    taken that foretells each mark from the others no worse than the simpler ones do, within what chance does, so that
    few marks are never bent to their clicks' errors. Its covariance is the richest lens's second moment about it.
    """
    known = known_of(image_size)
    first = adjust(start, seen, _held(known, "none"))
    if first is None:
        return None
    if first.cov[0, 0] < TOLD_FOCAL_LOG_SD**2:
        known = replace(known, usual_focal_px=0.0)
    tried = _tried(first.camera, seen, known)
    if not tried:
        return None
    name, found = _best(tried)
    if _chance(found) < CROPPED_P:
        loose = replace(known, centre_sd_px=CROPPED_SHARE_SD * max(image_size))
        cut = adjust(found.camera, seen, loose)
        if cut is not None and cut.foretold.sum() < CROPPED_GAIN * found.foretold.sum():
            known, tried = loose, _tried(first.camera, seen, loose)
            name, found = _best(tried)
    hand = Hand(found.squares, found.freedom, click_sd_px, measured)
    noise = hand.over_click
    if noise > 1.0:
        seen = replace(seen, sd_px=seen.sd_px * noise)
        found = adjust(found.camera, seen, _held(known, name)) or found
    cov = covariance_with(found, seen, known)
    richest = found if name == LENSES[-1] else adjust(found.camera, seen, known)
    if richest is not None:
        away = found.camera.step_to(richest.camera)
        cov = cov + np.outer(away, away)
    return LensChoice(found, name, cov, noise, hand, seen, _held(known, name))


def known_of(image_size: tuple[int, int]) -> Known:
    """What is expected of any camera of that picture size."""
    longer = max(image_size)
    return Known(middle_of(image_size), CENTRE_SHARE_SD * longer, K1_SD, K2_SD, USUAL_FOCAL * longer)


def _held(known: Known, name: str) -> Known:
    return replace(known, k1_sd=known.k1_sd if name != "none" else 0.0, k2_sd=known.k2_sd if name == "k1+k2" else 0.0)


def _tried(start: CameraModel, seen: Observations, known: Known) -> list[tuple[str, Adjusted]]:
    tried: list[tuple[str, Adjusted]] = []
    for name in LENSES:
        found = adjust(tried[-1][1].camera if tried else start, seen, _held(known, name))
        if found is not None:
            tried.append((name, found))
    return tried


def _best(tried: list[tuple[str, Adjusted]]) -> tuple[str, Adjusted]:
    """The richest lens that foretells left-out marks no worse than any simpler one, within what chance does."""
    for richer in range(len(tried) - 1, 0, -1):
        worse = [tried[richer][1].foretold - found.foretold for _, found in tried[:richer]]
        if all(more.mean() <= WORSE_SE * more.std() / np.sqrt(len(more)) for more in worse):
            return tried[richer]
    return tried[0]


def _chance(found: Adjusted) -> float:
    """The chance that default clicks leave residuals as large."""
    from scipy.special import chdtrc

    return float(chdtrc(found.freedom, found.squares)) if found.freedom > 0.5 else 1.0

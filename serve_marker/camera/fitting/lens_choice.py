"""Which lens the marks speak for, and how careful they were: the likeliest camera with all its doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from serve_marker.camera.fitting.bundle_adjustment import Adjusted, Known, Observations, adjust, covariance_with
from serve_marker.camera.fitting.focal_length import focal_of
from serve_marker.camera.fitting.hand import Hand
from serve_marker.camera.fitting.usual_lenses import CENTRE_SHARE_SD, CROPPED_SHARE_SD, K1_SD, K2_SD, USUAL_FOCAL
from serve_marker.camera.view.landmark_ways import CROSSING_SD_PX
from serve_marker.camera.view.lens import Lens
from serve_marker.camera.view.model import CameraModel, from_homography
from serve_marker.court.dimensions import Floats

TOLD_FOCAL_LOG_SD = 0.1
"""A picture that tells the focal length to within this needs no expectation of it."""
WORSE_SE = 1.0
"""A richer lens is dropped where it foretells left-out marks worse by more than this many standard errors."""
CROPPED_P = 1e-4
CROPPED_GAIN = 0.3
TRUST_IN_CROSSINGS = (True, True, True, False)
"""How coarse the clicks are shows once they weigh no more than they should beside crossings; only then is it asked
whether these are off as well."""
LENSES = ("none", "k1", "k1+k2")


@dataclass(frozen=True, eq=False)
class LensChoice:
    """The camera chosen.

    Parameters
    ----------
    lens_model : one of LENSES.
    cov : (11, 11), of the unknowns; where a simpler lens was chosen, about it and not about the richest one's.
    hand : what the marks show of it.
    crossings : the same of what crossings are off.
    expected : the observations, each with the deviation expected of a careful click or of a crossing.
    seen : the observations with the deviations that the marks showed.
    known : what was taken as known beforehand, with the lens's bend held as chosen.
    """

    found: Adjusted
    lens_model: str
    cov: Floats
    hand: Hand
    crossings: Hand
    expected: Observations
    seen: Observations
    known: Known

    @property
    def misfit_sd_px(self) -> float:
        """What shows in the marks beyond careful clicks and crossings, per axis [px]."""
        parts = [self.hand] + [self.crossings] * bool(self.seen.crossing.any())
        return math.hypot(*(part.click_sd_px * math.sqrt(part.over_click**2 - 1) for part in parts))

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
    start: CameraModel, expected: Observations, image_size: tuple[int, int], hand: Hand
) -> LensChoice | None:
    """Return the likeliest camera, None where none settles; ``hand`` is what is known of it without any camera.

    Three lenses are tried (none, k1, k1 and k2, all with expectations of phones' lenses beside them). The richest is
    taken that foretells each mark from the others no worse than the simpler ones do, within what chance does, so that
    few marks are never bent to their clicks' errors. Its covariance is the richest lens's second moment about it.
    """
    known = known_of(image_size)
    over = np.where(expected.crossing | (not hand.ways.moved_px), 1.0, max(1.0, hand.usual))
    seen = replace(expected, sd_px=expected.sd_px * over)
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
    for trust in TRUST_IN_CROSSINGS if expected.crossing.any() else (False,):
        hand, crossings = shown_by(found, expected, hand)
        over = np.where(expected.crossing, 1.0 if trust else crossings.over_click, hand.over_click)
        seen = replace(expected, sd_px=expected.sd_px * over)
        found = adjust(found.camera, seen, _held(known, name)) or found
    cov = covariance_with(found, seen, known)
    richest = found if name == LENSES[-1] else adjust(found.camera, seen, known)
    if richest is not None:
        away = found.camera.step_to(richest.camera)
        cov = cov + np.outer(away, away)
    return LensChoice(found, name, cov, hand, crossings, expected, seen, _held(known, name))


def shown_by(found: Adjusted, expected: Observations, hand: Hand) -> tuple[Hand, Hand]:
    """The hand, and in the same way what crossings are off, as a camera's residuals show them.

    Parameters
    ----------
    expected : what the camera was found by, each with the deviation expected of a careful click or of a crossing.
    hand : what is known of it without the camera.
    """
    squares = ((found.residual_px / expected.sd_px[:, None]) ** 2).sum(axis=1)
    freedom = np.trace(found.checked, axis1=1, axis2=2) - expected.free
    clicks, moved = (
        (float(squares[kept].sum()), float(freedom[kept].sum())) for kept in (~expected.crossing, expected.crossing)
    )
    return replace(hand, squares=clicks[0], freedom=clicks[1]), Hand(*moved, CROSSING_SD_PX, measured=True)


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

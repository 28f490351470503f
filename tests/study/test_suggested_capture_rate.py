"""The rate a clip was filmed at, guessed from paces: 25 to 140 km/h are a serve's (facts of published measurements)."""

from __future__ import annotations

import numpy as np
import pytest

from serve_marker.logbook.records import FloorPoint, Mark, Serve
from serve_marker.study.suggested_capture_rate import placed_paces_mps, suggested_fps

FRAME_S = 1 / 30


def serve(flight_s: float) -> Serve:
    """16 m from one end line towards the other."""
    contact, landing = (Mark(time_s, None, FRAME_S, FRAME_S) for time_s in (1.0, 1.0 + flight_s))
    here = [FloorPoint(0.0, y_m, 0.01, 0.01, 0.0) for y_m in (-9.0, 7.0)]
    return Serve(id="s", clip_id="c", contact=contact, landing=landing, contact_point=here[0], landing_point=here[1])


@pytest.mark.parametrize(("flight_s", "scale", "pace_mps"), [(1.0, 1.0, 16.0), (8.0, 1.0, 2.0), (8.0, 1 / 8, 16.0)])
def test_paces_are_way_over_true_time(flight_s: float, scale: float, pace_mps: float) -> None:
    unknown = Serve(id="u", clip_id="c", contact=Mark(1.0))
    paces = placed_paces_mps([serve(flight_s), unknown], scale)
    assert paces[0] == pytest.approx(pace_mps)
    assert np.isnan(paces[1])


@pytest.mark.parametrize(
    ("paces_mps", "shown_fps", "fps"),
    [
        ([2.0], 30.0, 240.0),  # 2.0 x 240/30 = 16
        ([4.0, 4.2, np.nan], 30.0, 120.0),  # 4.1 x 4 = 16.4
        ([0.5], 30.0, 960.0),
        ([6.5], 60.0, 120.0),  # 6.5 m/s is 23 km/h; x 2 = 13
        ([16.0, 15.0, 2.0], 30.0, None),  # most can be true
        ([60.0], 30.0, None),  # too fast is no slow motion
        ([np.nan], 30.0, None),
        ([], 30.0, None),
        ([2.0], 960.0, None),
    ],
)
def test_the_rate_that_makes_them_serves(paces_mps: list[float], shown_fps: float, fps: float | None) -> None:
    assert suggested_fps(np.array(paces_mps), shown_fps) == fps

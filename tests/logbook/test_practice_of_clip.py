"""The day on which a clip was filmed: the container's own, else its name's, else the file's."""

from __future__ import annotations

import pytest

from serve_marker.logbook.practice_of_clip import date_of_clip

WRITTEN = "2026-12-24"


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("VID_20261103_190512.mp4", "2026-11-03"),
        ("20261103_190512.mp4", "2026-11-03"),
        ("2026-11-03 19.05.12.mov", "2026-11-03"),
        ("2026-11-03.mov", "2026-11-03"),
        ("PXL_20261103_180512345.mp4", "2026-11-03"),
        ("VID-20261103-WA0004.mp4", "2026-11-03"),
        ("Tidewater 2026_11_03 deep 1.mkv", "2026-11-03"),
        ("20240229_190512.mp4", "2024-02-29"),
        ("20230229_190512.mp4", WRITTEN),
        ("20261303_190512.mp4", WRITTEN),
        ("20261103190512.mp4", "2026-11-03"),
        ("120261103_1.mp4", WRITTEN),
        ("IMG_4711.MOV", WRITTEN),
        ("GX010203.MP4", WRITTEN),
        ("tuesday.mp4", WRITTEN),
        ("19991103_190512.mp4", WRITTEN),
        ("30261103_190512.mp4", WRITTEN),
    ],
)
def test_a_name_tells_the_day_where_it_holds_one(name, day):
    assert date_of_clip(name, None, WRITTEN) == day


def test_the_containers_own_day_goes_before_the_name():
    assert date_of_clip("VID_20261103_190512.mp4", "2026-11-02", WRITTEN) == "2026-11-02"

from __future__ import annotations

import random

from serve_marker.logbook.file_name_order import by_name


def test_files_are_in_the_order_a_camera_counts():
    names = ["3.mp4", "GX010034.MP4", "GX020034.MP4", "IMG_2.MOV", "img_2 (1).mov", "IMG_10.MOV", "VID_20261103.mp4"]
    mixed = random.Random(1).sample(names, len(names))
    in_order = sorted(mixed, key=by_name)
    assert in_order.index("IMG_2.MOV") < in_order.index("IMG_10.MOV")
    assert in_order.index("GX010034.MP4") < in_order.index("GX020034.MP4")
    assert in_order[0] == "3.mp4"


def test_a_file_stands_before_its_numbered_followers():
    names = ["tuesday.mp4", "tuesday2.mp4", "tuesday10.mp4"]
    assert sorted(["tuesday10.mp4", "tuesday2.mp4", "tuesday.mp4"], key=by_name) == names


def test_folders_do_not_count():
    assert sorted(["z/a.mp4", "a/b.mp4"], key=by_name) == ["z/a.mp4", "a/b.mp4"]

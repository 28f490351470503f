from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

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


def test_a_number_may_be_of_any_length() -> None:
    """Python itself reads no number of more than 4,300 digits."""
    long = [
        "film 7.mp4",
        "film 0010.mp4",
        f"film {'9' * 4999}.mp4",
        f"film 1{'0' * 4999}.mp4",
        f"film {'9' * 5000}.mp4",
    ]

    mixed = random.Random(1).sample(long, len(long))
    assert sorted(mixed, key=by_name) == long


@given(st.lists(st.integers(0, 10**20)))
def test_numbers_of_one_length_and_another_are_in_their_own_order(numbers: list[int]) -> None:
    assert sorted((f"{number}.mp4" for number in numbers), key=by_name) == [f"{n}.mp4" for n in sorted(numbers)]

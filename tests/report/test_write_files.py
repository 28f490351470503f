"""Names of files: safe in the folder they are meant for, and none twice."""

from __future__ import annotations

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from serve_marker.report import write_files


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("../../etc/passwd", "etc-passwd"),
        ("a/b\\c", "a-b-c"),
        ("..", "unnamed"),
        ("NUL", "NUL-"),
        ("7 Zofia 🏐", "7 Zofia"),
        ("two\nlines", "two lines"),
        ("-rf", "rf"),
        ("x" * 300, "x" * 60),
    ],
)
def test_names_of_files_stay_in_their_folder(text, name):
    assert write_files.safe_name(text) == name


@given(st.text())
def test_no_name_leaves_its_folder(text):
    name = write_files.safe_name(text)
    assert os.path.basename(name) == name  # noqa: PTH119
    assert name.strip(".") not in ("",)
    assert len(name) <= write_files.LONGEST_NAME + 1


@given(st.lists(st.text(max_size=4), max_size=12))
def test_no_two_files_of_a_folder_have_one_name_even_where_case_does_not_count(texts):
    taken: set[str] = set()
    names = [write_files.free_name(text, taken) for text in texts]
    assert len({name.casefold() for name in names}) == len(texts)

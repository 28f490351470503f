"""Every file of the torture folder shows what it has to, or says why not."""

from __future__ import annotations

import random
import runpy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.damage import scan_damage
from serve_marker.video.frames import FrameReader

torture = runpy.run_path(str(Path(__file__).with_name("torture.py")))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Any]]:
    place = tmp_path_factory.mktemp("torture")
    return place, torture["make_folder"](place)


def test_the_torture_folder(folder: tuple[Path, list[Any]], read_number: Callable[..., int]) -> None:
    place, cases = folder
    assert len(cases) > 30
    for case in cases:
        check(place / case.name, case, read_number)


def check(path: Path, case: Any, read_number: Callable[..., int]) -> None:
    if case.sentence:
        with pytest.raises(UserError, match=case.sentence):
            open_clip(path)
        return
    clip = open_clip(path)
    assert clip.frame_count == len(case.numbers)
    assert clip.times_s == pytest.approx(case.times_s, abs=0.0011)
    assert (clip.width, clip.height) == tuple(case.size)
    assert (clip.rotation_deg, clip.mirrored) == (case.rotation_deg, case.mirrored)
    assert not case.warning or any(case.warning in said for said in clip.warnings)
    assert case.warning or not any("cut off" in said for said in clip.warnings), case.name
    order = random.Random(case.name).sample(range(clip.frame_count), clip.frame_count)
    wrong = set()
    with FrameReader(clip) as reader:
        for i in order:
            try:
                picture = reader.frame(i)
                assert picture.shape == (clip.height, clip.width, 3)
                shown = read_number(shrunk(picture, case.enlarged))
            except (UserError, AssertionError):
                wrong.add(i)
                continue
            if shown != case.numbers[i]:
                wrong.add(i)
    marked = {i for stretch in scan_damage(clip) for i in range(stretch.first, stretch.last + 1)}
    assert wrong <= marked <= set(case.may_lack), case.name


def shrunk(picture: Any, enlarged: int) -> Any:
    if picture.shape[1] == 159:
        return np.pad(picture, ((0, 1), (0, 1), (0, 0)), mode="edge")
    return picture[::enlarged, ::enlarged]

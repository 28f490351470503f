"""The demo, from its one command to everything it writes."""

from __future__ import annotations

import errno
import shutil
from pathlib import Path

import pytest

from serve_marker.logbook.store import Logbook


@pytest.mark.gui
def test_the_demo_makes_everything_a_coach_would_show(run, tmp_path):
    folder = tmp_path / "demo"
    answer = run("demo", "-o", folder)
    again = run("demo", "-o", folder)

    made = [p.suffix for p in folder.rglob("*") if p.is_file()]
    assert answer.code == 0, answer.err
    assert made.count(".pdf") >= 1
    assert made.count(".png") >= 9
    assert {".csv", ".xlsx", ".logbook"} <= set(made)
    assert not {".settings", ".ini"} & set(made)
    assert 8 <= len(answer.out.strip().splitlines()) <= 12
    assert (again.code, len(again.err.strip().splitlines()[-1:])) == (2, 1)
    assert Path(folder / "window.png").stat().st_size > 20_000
    assert f"invented, from the spread written in {folder / 'clips' / 'season.json'}" in answer.out
    assert (folder / "clips" / "season.json").exists()
    stills = [p.relative_to(folder / "stills").as_posix() for p in folder.rglob("stills/*/*.png")]
    assert {name.partition("/")[0] for name in stills} == {"2026-10-06 Autumn serving", "2026-11-10 Winter serving"}
    assert {"001 4 Ines.png", "all landings winter-stand.png"} <= {Path(name).name for name in stills}
    with Logbook.open(folder / "tidewater.logbook") as book:
        at_passers = book.practices()[-1]
        filmed = book.clips(at_passers.id)[0]
        assert len(book.serves(practice_id=at_passers.id)) >= 120
        assert {serve.formation_id for serve in book.serves(clip_id=filmed.id)} == {at_passers.formation_id}
        assert len({serve.player_id for serve in book.serves()}) == 10


@pytest.mark.parametrize("step", ["copyfileobj", "rmtree"])
def test_a_full_disk_is_one_sentence_and_leaves_nothing(run, tmp_path, monkeypatch, step):
    """The disk is full as the clips are copied; what cannot even be removed is left, and said no differently."""

    def no_space(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(shutil, "copyfileobj", no_space)
    if step == "rmtree":
        monkeypatch.setattr(shutil, "rmtree", lambda *_, **__: None)
    folder = tmp_path / "demo"
    answer = run("demo", "-o", folder)

    assert (answer.code, answer.out) == (2, "")
    assert answer.err.splitlines()[-1] == (
        f"The demo could not be written to {folder} (No space left on device). Choose another folder with -o."
    )
    assert folder.exists() == (step == "rmtree")

"""A table of marks read in from the command line: which practice its serves belong to."""

from __future__ import annotations

import os
import shutil
from datetime import datetime

from serve_marker.logbook.store import Logbook

CLIP = "autumn-gallery"


def test_without_a_date_a_practice_has_the_day_of_filming_and_keeps_it(run, sample_clips, tmp_path):
    """The name tells the day first; the film copied without its name, a year later, is still of that day."""
    marks, named, copied = sample_clips / f"{CLIP}.marks.csv", tmp_path / "VID_20260914_180000.mp4", tmp_path / "c.mp4"
    for film in (named, copied):
        shutil.copy(sample_clips / f"{CLIP}.mp4", film)
    logbook, view = tmp_path / "team.logbook", tmp_path / "view.json"
    run("logbook", "new", logbook)
    run("view", "fit", sample_clips / f"{CLIP}.marks.json", "-o", view)
    a_year_on = datetime(2027, 9, 14, 12).timestamp()
    os.utime(copied, (a_year_on, a_year_on))
    words = ("--view", view, "--practice", "Evening", "--no-film")
    first = run("marks", "import", logbook, marks, "--clip", named, *words)
    again = run("marks", "import", logbook, marks, "--clip", copied, *words)

    assert (first.code, again.code) == (0, 2)
    assert "already" in again.err
    with Logbook.open(logbook) as book:
        assert [practice.date for practice in book.practices()] == ["2026-09-14"]

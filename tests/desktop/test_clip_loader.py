"""Which clip of the logbook a file is: told by what it holds, never by its size alone."""

from __future__ import annotations

import pytest

from serve_marker.desktop.session.clip_loader import ClipLoader
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import Practice
from serve_marker.logbook.store import Logbook


@pytest.fixture
def workspace(qapp, tmp_path):
    Logbook.create(tmp_path / "team.logbook").close()
    made = Workspace()
    made.open_logbook(tmp_path / "team.logbook")
    yield made
    made.close()


def test_films_of_one_size_are_two_clips_and_a_copy_is_none(workspace, qtbot, filmed, tmp_path):
    """A free box (ISO/IEC 14496-12, 8.1.2) of 12 bytes at the end of a film changes nothing that is shown."""
    names = ("one.mp4", "other.mp4", "copy of one.mp4")
    for name, letter in zip(names, (b"A", b"B", b"A"), strict=True):
        (tmp_path / name).write_bytes(filmed.read_bytes() + b"\0\0\0\x0cfree" + 4 * letter)
    loader = ClipLoader(workspace)
    tuesday = Practice(id="1", date="2026-11-03", name="Tuesday")
    loader.practice_asked.connect(lambda days: loader.put_in(dict.fromkeys(days, tuesday)))
    shown = []
    for name in names:
        with qtbot.waitSignal(loader.opened, timeout=60_000):
            loader.add(tmp_path / name)
        shown.append(workspace.clip_entry.id)
    loader.close()
    assert shown[0] != shown[1]
    assert shown[2] == shown[0]
    assert len(workspace.book().clips()) == 2

"""Backups: verified, thinned out, restored with the present logbook kept; writers are never kept waiting."""

import os
import shutil
import sqlite3
import threading
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook import backups
from serve_marker.logbook.backups import (
    backup_folder,
    backups_of,
    kept_at_restoring,
    kept_moments,
    make_backup,
    restore_backup,
    serves_in,
)
from serve_marker.logbook.records import Gym
from serve_marker.logbook.store import Logbook

MONDAY = datetime(2026, 11, 2, 19, 0, 0)


def test_a_backup_holds_what_the_logbook_holds(logbook: Logbook) -> None:
    made = make_backup(logbook.path, MONDAY)

    assert made == logbook.path.parent / "team backups" / "team 2026-11-02 19.00.00.logbook"
    assert serves_in(made) == len(logbook.serves()) == 1
    with Logbook.open(made) as copy:
        assert copy.serves() == logbook.serves()
        assert copy.check() == []


def test_what_has_not_changed_is_not_copied_again(logbook: Logbook) -> None:
    make_backup(logbook.path, MONDAY)
    assert make_backup(logbook.path, MONDAY + timedelta(hours=1)) is None

    logbook.put(Gym(id="new", name="New hall"))
    make_backup(logbook.path, MONDAY + timedelta(hours=2))
    assert [backup.made.hour for backup in backups_of(logbook.path)] == [21, 19]


def test_ten_seasons_of_practices_leave_few_backups() -> None:
    """Two evenings a week for ten years, three backups each: by hand 3 newest + 6 days + 2 weeks + 11 months + 9 years.

    The newest three are of one day; of the seven days one is theirs, of the four weeks the seven days fill two, of the
    months and years the newest is there already.
    """
    evenings = [MONDAY + timedelta(days=7 * week + day) for week in range(520) for day in (0, 2)]
    moments = [evening + timedelta(minutes=minute) for evening in evenings for minute in (0, 30, 60)]
    kept = kept_moments(moments)

    assert set(sorted(moments)[-3:]) <= kept
    assert {moment.date() for moment in kept} >= {evening.date() for evening in evenings[-7:]}
    assert {moment.year for moment in kept} == {moment.year for moment in moments}
    assert len(kept) <= 3 + 7 + 4 + 12 + 11


def test_backups_beyond_those_kept_are_removed(logbook: Logbook) -> None:
    for minute in range(6):
        logbook.put(Gym(id="hall", name=f"Hall {minute}"))
        make_backup(logbook.path, MONDAY + timedelta(minutes=minute))

    assert [backup.made.minute for backup in backups_of(logbook.path)] == [5, 4, 3]


def test_a_damaged_logbook_pushes_no_sound_backup_out(logbook: Logbook) -> None:
    make_backup(logbook.path, MONDAY)
    with closing(sqlite3.connect(logbook.path, isolation_level=None)) as connection:
        connection.execute("UPDATE serve SET note = 'spoilt'")

    with pytest.raises(UserError, match=r"No sound backup of team\.logbook could be made\. The serve .* is not as"):
        make_backup(logbook.path, MONDAY + timedelta(days=1))
    assert [file.name for file in backup_folder(logbook.path).iterdir()] == ["team 2026-11-02 19.00.00.logbook"]


def test_a_full_disk_is_one_sentence(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_space(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backups, "copy_logbook", no_space)
    with pytest.raises(UserError, match=r"^No backup of team\.logbook could be made \(No space left on device\)"):
        make_backup(logbook.path)
    assert list(backup_folder(logbook.path).iterdir()) == []


def test_a_writer_does_not_wait_for_a_backup(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    """The backup stands still in the middle; whoever writes meanwhile is not kept waiting, and is in the backup."""
    with logbook.one_change():
        logbook.put(*(Gym(id=f"g{number}", name="Hall " * 100) for number in range(100)))
    monkeypatch.setattr(backups, "PAGES_AT_ONCE", 1)
    monkeypatch.setattr(backups, "PAUSE_S", 0.02)
    copying = threading.Thread(target=make_backup, args=(logbook.path, MONDAY))
    copying.start()
    while not list(logbook.path.parent.glob("team backups/.*.unfinished")):
        pass
    logbook.put(Gym(id="late", name="Late hall"))
    assert copying.is_alive()
    monkeypatch.setattr(backups, "PAUSE_S", 0.0)
    copying.join()

    with Logbook.open(backups_of(logbook.path)[0].path) as copy:
        assert "late" in [gym.id for gym in copy.gyms()]


def test_a_restored_backup_keeps_the_present_logbook_beside_it(logbook: Logbook) -> None:
    backup = make_backup(logbook.path, MONDAY)
    assert backup is not None
    logbook.put(Gym(id="new", name="New hall"))
    logbook.close()
    kept = restore_backup(logbook.path, backup, MONDAY + timedelta(hours=1))

    assert kept == logbook.path.with_name("team before 2026-11-02 20.00.00.logbook")
    assert [one.path for one in kept_at_restoring(logbook.path)] == [kept]
    for path, gyms in ((logbook.path, ["hall"]), (kept, ["hall", "new"])):
        with Logbook.open(path) as opened:
            assert sorted(gym.id for gym in opened.gyms()) == gyms


def test_the_journal_of_a_crash_goes_with_the_logbook_it_belongs_to(logbook: Logbook, tmp_path: Path) -> None:
    """A journal left beside a restored logbook would be rolled back into it."""
    backup = make_backup(logbook.path, MONDAY)
    assert backup is not None
    with logbook.one_change():
        logbook.put(Gym(id="half", name="Half written"))
        logbook._connection.execute("PRAGMA cache_spill = ON")
        logbook._connection.execute("PRAGMA cache_size = 1")
        logbook.put(*(Gym(id=f"g{number}", name="x" * 3000) for number in range(50)))
        crashed = tmp_path / "crashed"
        crashed.mkdir()
        for file in (logbook.path, logbook.path.with_name("team.logbook-journal")):
            shutil.copy(file, crashed)
    path = crashed / "team.logbook"
    kept = restore_backup(path, backup, MONDAY)

    assert kept is not None
    assert sorted(file.name for file in crashed.iterdir()) == [
        "team before 2026-11-02 19.00.00.logbook",
        "team before 2026-11-02 19.00.00.logbook-journal",
        "team.logbook",
    ]
    for one in (path, kept):
        with Logbook.open(one) as opened:
            assert [gym.id for gym in opened.gyms()] == ["hall"]
            assert opened.check() == []


def test_a_backup_that_cannot_be_read_is_said_and_changes_nothing(logbook: Logbook) -> None:
    before = logbook.path.read_bytes()

    with pytest.raises(UserError, match="could not be restored"):
        restore_backup(logbook.path, logbook.path.parent / "gone.logbook")
    assert logbook.path.read_bytes() == before


def test_other_files_in_the_folder_are_no_backups(logbook: Logbook) -> None:
    backup = make_backup(logbook.path, MONDAY)
    assert backup is not None
    (backup.parent / "notes.logbook").write_text("mine")
    os.utime(backup)
    make_backup(logbook.path, MONDAY + timedelta(hours=1))

    assert (backup.parent / "notes.logbook").read_text() == "mine"
    assert len(backups_of(logbook.path)) == 2
    assert serves_in(backup.parent / "notes.logbook") is None

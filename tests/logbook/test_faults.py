"""Faults outside the program: files, folders, the disk, other windows. One sentence each, nothing lost."""

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook import opening
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.records import Gym
from serve_marker.logbook.schema import APPLICATION_ID, MIGRATIONS
from serve_marker.logbook.store import Logbook

NOBODY = 65534
needs_posix = pytest.mark.skipif(os.name != "posix", reason="file rights and size limits are those of POSIX")


@pytest.fixture
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait only a moment for another window."""
    monkeypatch.setattr(opening, "BUSY_TIMEOUT_S", 0.05)


@contextmanager
def as_another_user() -> Iterator[None]:
    """Root may write anywhere, so as root the test acts as a user without rights."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder in which another user may be locked out of writing."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


def other_sqlite(path: Path, application_id: int = 0, version: int = 1) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE other (x)")
    connection.execute(f"PRAGMA application_id = {application_id}")
    connection.execute(f"PRAGMA user_version = {version}")
    connection.close()


def damaged(path: Path) -> None:
    with Logbook.create(path) as logbook:
        logbook.put(Gym(id="g", name="Hall"))
    path.write_bytes(path.read_bytes()[:100] + b"\xff" * 4000)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda path: None, "team.logbook is not there"),
        (lambda path: path.mkdir(), "team.logbook is a folder"),
        (lambda path: path.write_bytes(b""), "team.logbook is not a logbook"),
        (lambda path: path.write_text("not a database, only some text " * 99), "team.logbook is not a logbook"),
        (other_sqlite, "team.logbook is not a logbook"),
        (lambda path: other_sqlite(path, APPLICATION_ID, 0), "team.logbook is not a logbook"),
        (lambda path: other_sqlite(path, APPLICATION_ID, len(MIGRATIONS) + 1), "made by a newer Serve Marker"),
    ],
)
def test_what_is_no_logbook_is_refused_and_left_alone(tmp_path: Path, make: object, sentence: str) -> None:
    path = tmp_path / "team.logbook"
    make(path)  # type: ignore[operator]
    before = path.read_bytes() if path.is_file() else None

    with pytest.raises(UserError, match=sentence):
        Logbook.open(path)
    assert (path.read_bytes() if path.is_file() else None) == before
    assert [file.name for file in tmp_path.iterdir()] in ([], ["team.logbook"])


def test_a_name_that_cannot_be_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be reached"):
        Logbook.open(tmp_path / ("x" * 300))


def test_a_damaged_file_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "team.logbook"
    damaged(path)

    with pytest.raises(UserError, match=r"team.logbook is (damaged|not a logbook)"):
        Logbook.open(path)


def test_pages_that_hang_together_no_more_are_found_at_opening(logbook: Logbook) -> None:
    pages = bytearray(logbook.path.read_bytes())
    pages[-4096:-4088] = b"\xee" * 8
    logbook.path.write_bytes(pages)

    with pytest.raises(UserError, match=r"^team\.logbook is damaged .*; work on your latest copy of it\.$"):
        Logbook.open(logbook.path)


def test_check_names_what_belongs_to_nothing(logbook: Logbook) -> None:
    connection = sqlite3.connect(logbook.path, isolation_level=None)
    connection.execute("DELETE FROM player")
    connection.close()

    assert "A serve in team.logbook belongs to a player that is gone." in logbook.check()


def test_create_leaves_a_file_alone(tmp_path: Path) -> None:
    path = tmp_path / "team.logbook"
    path.write_text("mine")

    with pytest.raises(UserError, match="is there already"):
        Logbook.create(path)
    assert path.read_text() == "mine"


def test_create_needs_the_folder(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"The folder for team\.logbook is not there"):
        Logbook.create(tmp_path / "none" / "team.logbook")


def test_create_that_fails_leaves_no_file(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="NUL"):
        Logbook.create(tmp_path / "team.logbook", team="Tide\0water")

    assert list(tmp_path.iterdir()) == []


def test_a_second_window_waits_its_turn_and_can_read(hasty: None, logbook: Logbook) -> None:
    with Logbook.open(logbook.path) as other:
        with logbook._changing():
            logbook.put(Gym(id="new", name="New hall"))
            assert [gym.id for gym in other.gyms()] == ["hall"]
            assert len(other.serves()) == 1
            with pytest.raises(UserError, match=r"Another window is busy writing to team\.logbook"):
                other.put(Gym(id="late", name="Late hall"))
        other.put(Gym(id="late", name="Late hall"))

        assert {gym.id for gym in logbook.gyms()} == {gym.id for gym in other.gyms()} == {"hall", "new", "late"}


def test_a_large_change_under_way_does_not_keep_others_from_reading(hasty: None, logbook: Logbook) -> None:
    serve = logbook.serves()[0]
    with Logbook.open(logbook.path) as other, logbook._changing():
        for number in range(8000):
            logbook.put(replace(serve, id=f"s{number}", note="long " * 100))
        assert len(other.serves()) == 1


def test_a_full_disk_keeps_what_was_there(logbook: Logbook) -> None:
    serve = logbook.serves()[0]
    pages = logbook._connection.execute("PRAGMA page_count").fetchone()[0]
    logbook._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(UserError, match=r"The disk is full, so nothing was changed in team\.logbook"):
        logbook.put(replace(serve, note="x" * 100_000))
    logbook._connection.execute("PRAGMA max_page_count = 1000000")

    assert logbook.serves() == [serve]
    logbook.put(replace(serve, note="room again"))
    assert logbook.serves()[0].note == "room again"


@needs_posix
def test_a_file_that_may_not_grow_keeps_what_was_there(logbook: Logbook) -> None:
    """The system's own refusal to write, in another process so that only it is limited."""
    code = (
        "import resource, signal, sys; from serve_marker.logbook.store import Logbook\n"
        "from serve_marker.logbook.records import Gym; from serve_marker.errors import UserError\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); book = Logbook.open(sys.argv[1])\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (book.path.stat().st_size,) * 2)\n"
        "try: book.put(Gym(id='big', name='x' * 500_000))\n"
        "except UserError as error: print(error)\n"
        "book.close()"
    )
    done = subprocess.run([sys.executable, "-c", code, logbook.path], capture_output=True, text=True, check=True)

    assert "so nothing was changed" in done.stdout
    assert [gym.id for gym in logbook.gyms()] == ["hall"]
    assert logbook.check() == []


@needs_posix
@pytest.mark.parametrize(
    ("file_mode", "folder_mode"), [(0o444, 0o777), (0o666, 0o555), (0o444, 0o555)], ids=["file", "folder", "both"]
)
def test_read_only_is_read_and_not_written(open_folder: Path, file_mode: int, folder_mode: int) -> None:
    path = open_folder / "team.logbook"
    with Logbook.create(path) as logbook:
        logbook.put(Gym(id="hall", name="Hall"))
    path.chmod(file_mode)
    open_folder.chmod(folder_mode)

    with as_another_user(), Logbook.open(path) as logbook:
        assert [gym.name for gym in logbook.gyms()] == ["Hall"]
        with pytest.raises(UserError, match=r"^team\.logbook .*nothing was changed"):
            logbook.put(Gym(id="new", name="New"))
        assert [gym.name for gym in logbook.gyms()] == ["Hall"]
    open_folder.chmod(stat.S_IRWXU)


@needs_posix
def test_create_in_a_read_only_folder_is_one_sentence(open_folder: Path) -> None:
    open_folder.chmod(0o555)
    with as_another_user(), pytest.raises(UserError, match="cannot be made in this folder"):
        Logbook.create(open_folder / "team.logbook")
    open_folder.chmod(stat.S_IRWXU)

    assert list(open_folder.iterdir()) == []


@needs_posix
def test_a_file_moved_while_open_is_not_written_into_the_void(logbook: Logbook) -> None:
    logbook.path.rename(logbook.path.with_name("moved.logbook"))

    with pytest.raises(UserError, match="moved or deleted"):
        logbook.put(Gym(id="new", name="New"))
    with Logbook.open(logbook.path.with_name("moved.logbook")) as moved:
        assert len(moved.gyms()) == 1


@needs_posix
@pytest.mark.parametrize(("file_mode", "folder_mode"), [(0o666, 0o555), (0o444, 0o777)])
def test_an_older_logbook_that_may_not_be_changed_says_to_copy_it(
    open_folder: Path, file_mode: int, folder_mode: int
) -> None:
    path = open_folder / "old.logbook"
    path.touch()
    connection = opening.connect(path)
    migrate(connection, path, MIGRATIONS[:5])
    connection.close()
    path.chmod(file_mode)
    open_folder.chmod(folder_mode)
    with as_another_user(), pytest.raises(UserError) as refused:
        Logbook.open(path)
    assert str(refused.value) == (
        "old.logbook is of an older version and cannot be changed where it is. "
        "Copy it to another folder and open the copy."
    )
    assert [file.name for file in open_folder.iterdir()] == ["old.logbook"]
    open_folder.chmod(stat.S_IRWXU)

"""A logbook moves house: found, packed and unpacked whole, or refused in one sentence with nothing left behind."""

from __future__ import annotations

import errno
import os
import resource
import stat
import struct
import tracemalloc
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from serve_marker.cli import app
from serve_marker.errors import UserError
from serve_marker.logbook.clip_places import folder_to_ask_about, may_open, not_opened_sentence
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.health import missing_clips
from serve_marker.logbook.moved_clips import find_all_moved, keep_places
from serve_marker.logbook.pack import pack
from serve_marker.logbook.records import ClipEntry
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.unpack import LARGEST_LIST_BYTES, unpack
from tests.logbook.conftest import CLIP


def film(path: Path, content: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def clip_of(path: Path, key: str) -> ClipEntry:
    size_bytes, digest = fingerprint(path)
    return replace(CLIP, id=key, path=str(path), size_bytes=size_bytes, fingerprint=digest)


@pytest.fixture
def at_home(logbook: Logbook, tmp_path: Path) -> Logbook:
    """A logbook with two films of one name from two cards, and a third one that is nowhere."""
    first, second = film(tmp_path / "card 1" / "00001.mts", b"one" * 999), film(tmp_path / "card 2" / "00001.MTS", b"2")
    logbook.put(clip_of(first, "film"), clip_of(second, "second"), replace(CLIP, id="gone", path="/gone/third.mp4"))
    return logbook


def everything(book: Logbook) -> list[Any]:
    """All a logbook holds but where its clips lie."""
    clips = [replace(clip, path="") for clip in book.clips()]
    return [book.players(), book.views(), book.practices(), clips, book.serves(), book.team]


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def left_behind(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if "new house" in path.name or "unfinished" in path.name]


@pytest.mark.parametrize("name", ["move.zip", "move"])
def test_packed_and_opened_elsewhere_is_the_same_logbook(at_home: Logbook, tmp_path: Path, name: str) -> None:
    target = tmp_path / "stick" / name
    target.parent.mkdir()
    before = everything(at_home)

    packed = pack(at_home, target)
    assert [entry.id for entry in packed.missing] == ["gone"]
    assert names_in(target.parent) == [name]
    for card in ("card 1", "card 2"):
        (tmp_path / card).rename(tmp_path / f"{card} elsewhere")
    house = unpack(target, tmp_path / "house").logbook if name == "move.zip" else target / "team.logbook"

    with Logbook.open(house) as book:
        assert everything(book) == before
        places = {clip.id: Path(clip.path) for clip in book.clips()}
    assert places == {
        "film": house.parent / "00001.mts",
        "second": house.parent / "00001-2.MTS",
        "gone": Path("/gone/third.mp4"),
    }
    assert places["film"].read_bytes() == b"one" * 999
    assert places["second"].read_bytes() == b"2"


def test_a_pack_unpacked_by_another_program_opens_with_its_clips(at_home: Logbook, tmp_path: Path) -> None:
    pack(at_home, tmp_path / "move.zip")
    with zipfile.ZipFile(tmp_path / "move.zip") as archive:
        archive.extractall(tmp_path / "by hand")
    for card in ("card 1", "card 2"):
        (tmp_path / card).rename(tmp_path / f"{card} elsewhere")

    with Logbook.open(tmp_path / "by hand" / "move" / "team.logbook") as book:
        folder = book.path.parent
        assert missing_clips(book) == [
            f"00001.mts is not at 00001.mts, but the same film lies at {folder / '00001.mts'}.",
            f"00001-2.MTS is not at 00001-2.MTS, but the same film lies at {folder / '00001-2.MTS'}.",
            not_opened_sentence(book.clips()[2]),
        ]


def test_clips_of_another_system_are_found_by_content(logbook: Logbook, tmp_path: Path) -> None:
    place = film(tmp_path / "films" / "deep" / "renamed.mp4", b"moving pictures")
    entry = replace(clip_of(place, "film"), path=r"D:\Volleyball\tuesday.mp4")
    logbook.put(entry)

    assert entry.file_name == "tuesday.mp4"
    assert not may_open(logbook, entry.path)
    assert folder_to_ask_about(logbook, entry) is None, "nobody can allow a drive this computer does not have"
    assert missing_clips(logbook) == [
        r"tuesday.mp4 is not at D:\Volleyball\tuesday.mp4; put it back or beside the logbook."
    ]
    found = find_all_moved(logbook, tmp_path / "films")
    keep_places(logbook, found.moved)
    assert [clip.path for clip in logbook.clips()] == [str(place)]
    assert missing_clips(logbook) == []


def test_the_commands_say_what_they_do(at_home: Logbook, tmp_path: Path) -> None:
    at_home.close()
    run = CliRunner().invoke
    told = run(app, ["logbook", "pack", str(at_home.path), "-o", str(tmp_path / "move.zip")])
    assert told.stdout.splitlines() == [
        "A pack is for your own move, not for sharing. Nobody is left out of it.",
        '"third.mp4" is missing.',
        f"{tmp_path / 'move.zip'} is ready.",
    ]
    told = run(app, ["logbook", "unpack", str(tmp_path / "move.zip"), "-o", str(tmp_path / "house")])
    assert told.stdout.splitlines() == ['"third.mp4" is missing.', f"{tmp_path / 'house' / 'team.logbook'} is ready."]

    (tmp_path / "house" / "00001.mts").rename(film(tmp_path / "films" / "x", b""))
    found = ["logbook", "find", str(tmp_path / "house" / "team.logbook"), str(tmp_path / "films")]
    assert run(app, found).stdout.splitlines() == ['1 moved clip found in "films".', '"third.mp4" is missing.']
    assert run(app, found).stdout.splitlines()[0] == 'No moved clips found in "films".', "it is at home there now"


def test_nothing_that_is_there_is_written_over(at_home: Logbook, tmp_path: Path) -> None:
    pack(at_home, tmp_path / "move.zip")
    (tmp_path / "new house").mkdir()
    for work in (
        lambda: pack(at_home, tmp_path / "move.zip"),
        lambda: unpack(tmp_path / "move.zip", tmp_path / "card 1"),
    ):
        with pytest.raises(UserError, match="is there already; choose another name"):
            work()


def zip_with(path: Path, *members: tuple[str | zipfile.ZipInfo, bytes], logbook: bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("team/team.logbook", logbook)
        for name, content in members:
            archive.writestr(name, content)
    return path


def link(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    return info


def bomb(path: Path, content: bytes) -> Path:
    return zip_with(path, ("team/film.mp4", bytes(300 << 20)), logbook=content)


def million_members(path: Path, content: bytes) -> Path:
    """A list of members that is 46 bytes a member, each of them nothing: a gigabyte would be twenty million."""
    zip_with(path, logbook=content)
    raw = path.read_bytes()
    begin = raw.rfind(b"PK\x05\x06")
    start = struct.unpack("<L", raw[begin + 16 : begin + 20])[0]
    entry = raw[start:begin]
    many = entry * (2 * LARGEST_LIST_BYTES // len(entry))
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 65535, 65535, len(many), start, 0)
    path.write_bytes(raw[:start] + many + end)
    return path


def claiming(path: Path, content: bytes, size_bytes: int) -> Path:
    """A film that claims a size it does not have, in both places that tell it."""
    zip_with(path, ("team/film.mp4", b"x"), logbook=content)
    raw = bytearray(path.read_bytes())
    local, listed = raw.rfind(b"PK\x03\x04"), raw.rfind(b"PK\x01\x02")
    raw[local + 22 : local + 26] = raw[listed + 24 : listed + 28] = struct.pack("<L", size_bytes)
    path.write_bytes(raw)
    return path


def overlapping(path: Path, content: bytes) -> Path:
    """Ten thousand members that all are the same bytes."""
    zip_with(path, ("team/film.mp4", os.urandom(1000)), logbook=content)
    raw = path.read_bytes()
    end, listed = raw.rfind(b"PK\x05\x06"), raw.rfind(b"PK\x01\x02")
    start = struct.unpack("<L", raw[end + 16 : end + 20])[0]
    entry = raw[listed:end]
    again = b"".join(entry.replace(b"film.mp4", b"%04d.mp4" % number) for number in range(9000))
    many = raw[start:end] + again
    path.write_bytes(raw[:start] + many + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 9002, 9002, len(many), start, 0))
    return path


def nameless(path: Path, content: bytes) -> Path:
    """A member whose name begins with what ends a name."""
    zip_with(path, ("team/film.mp4", b"x"), logbook=content)
    path.write_bytes(path.read_bytes().replace(b"team/film.mp4", b"\0eam/film.mp4"))
    return path


Hostile = Callable[[Path, bytes], Path]
HOSTILE: dict[str, tuple[Hostile, str]] = {
    "steps back": (lambda p, c: zip_with(p, ("../film.mp4", b"x"), logbook=c), "holds what no pack"),
    "deep steps back": (lambda p, c: zip_with(p, ("a/b/../../../film.mp4", b"x"), logbook=c), "holds what no pack"),
    "a root": (lambda p, c: zip_with(p, ("/etc/film.mp4", b"x"), logbook=c), "holds what no pack"),
    "back slashes": (lambda p, c: zip_with(p, ("team\\..\\..\\film.mp4", b"x"), logbook=c), "holds what no pack"),
    "a drive": (lambda p, c: zip_with(p, ("C:/film.mp4", b"x"), logbook=c), "holds what no pack"),
    "a link": (lambda p, c: zip_with(p, (link("team/film.mp4"), b"/etc/passwd"), logbook=c), "holds what no pack"),
    "a bomb": (bomb, "holds what no pack"),
    "members without end": (million_members, "is no pack of a logbook, or is damaged"),
    "overlapping members": (overlapping, "holds what no pack"),
    "too large": (lambda p, c: claiming(p, c, 0xFFFFFFF0), "holds what no pack"),
    "no name": (nameless, "holds what no pack"),
    "two of one name": (lambda p, c: zip_with(p, ("team/FILM.mp4", b"x"), ("film.mp4", b"y"), logbook=c), "one name"),
    "two logbooks": (lambda p, c: zip_with(p, ("team/b.logbook", b"x"), logbook=c), "holds 2 logbooks"),
    "no logbook": (lambda p, c: zip_with(p, logbook=b"x"), "team.logbook is "),
    "cut off": (lambda p, c: Path(film(p, zip_with(p, logbook=c).read_bytes()[:-30])), "or is damaged"),
    "no zip": (lambda p, _: film(p, b"no zip file at all"), "is no pack of a logbook, or is damaged"),
    "nothing": (lambda p, _: film(p, b""), "is no pack of a logbook, or is damaged"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_zip_is_one_sentence_and_leaves_nothing(logbook: Logbook, tmp_path: Path, kind: str) -> None:
    make, words = HOSTILE[kind]
    source = make(tmp_path / "move.zip", logbook.path.read_bytes())
    there = sorted(tmp_path.rglob("*"))
    tracemalloc.start()
    try:
        with pytest.raises(UserError, match=words) as refused:
            unpack(source, tmp_path / "new house")
        assert tracemalloc.get_traced_memory()[1] < 64 << 20
    finally:
        tracemalloc.stop()
    assert "\n" not in str(refused.value)
    assert sorted(tmp_path.rglob("*")) == there


def test_a_changed_byte_is_found(at_home: Logbook, tmp_path: Path) -> None:
    """The zip file's own sum finds a film that is no longer what was packed."""
    pack(at_home, tmp_path / "move.zip")
    raw = (tmp_path / "move.zip").read_bytes()
    (tmp_path / "move.zip").write_bytes(raw.replace(b"oneone", b"onexne", 1))

    with pytest.raises(UserError, match="or is damaged"):
        unpack(tmp_path / "move.zip", tmp_path / "new house")
    assert left_behind(tmp_path) == []


def test_only_the_logbook_and_its_films_are_taken(at_home: Logbook, tmp_path: Path) -> None:
    pack(at_home, tmp_path / "move.zip")
    with zipfile.ZipFile(tmp_path / "move.zip", "a") as archive:
        archive.writestr("move/start.exe", b"evil")
        archive.writestr("move/2.mts", b"3")
        archive.writestr("__MACOSX/move/._00001.mts", b"forked")

    unpack(tmp_path / "move.zip", tmp_path / "house")
    assert names_in(tmp_path / "house") == ["00001-2.MTS", "00001.mts", "team.logbook"]


def test_no_room_is_said_before_anything_is_copied(at_home: Logbook, tmp_path: Path, monkeypatch: Any) -> None:
    pack(at_home, tmp_path / "move.zip")
    monkeypatch.setattr("shutil.disk_usage", lambda _: type("Usage", (), {"free": 1000}))
    for work in (
        lambda: pack(at_home, tmp_path / "new house"),
        lambda: unpack(tmp_path / "move.zip", tmp_path / "new house"),
    ):
        with pytest.raises(UserError, match=r"^This needs 1 MB, and 1 MB are free\. Choose another disk\.$"):
            work()
    assert left_behind(tmp_path) == []


@pytest.mark.parametrize("name", ["new house", "new house.zip"])
def test_a_disk_that_takes_no_more_is_one_sentence(at_home: Logbook, tmp_path: Path, name: str) -> None:
    """A limit on the size of files stands for the disk: writing fails half-way."""
    at_home.put(clip_of(film(tmp_path / "card 1" / "long.mp4", os.urandom(4 << 20)), "film"))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 20, hard))
    try:
        with pytest.raises(UserError, match=f"^{name} could not be written"):
            pack(at_home, tmp_path / name)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert left_behind(tmp_path) == []


def test_a_full_disk_has_a_sentence_of_its_own(at_home: Logbook, tmp_path: Path) -> None:
    def full(*_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(UserError, match=r"^The disk of new house is full\. Free some space, or choose another one\.$"):
        pack(at_home, tmp_path / "new house", full)
    assert left_behind(tmp_path) == []


def test_work_that_is_stopped_leaves_nothing(at_home: Logbook, tmp_path: Path) -> None:
    def stop(*_: int) -> None:
        raise KeyboardInterrupt

    pack(at_home, tmp_path / "move.zip")
    for work in (
        lambda: pack(at_home, tmp_path / "new house.zip", stop),
        lambda: unpack(tmp_path / "move.zip", tmp_path / "new house", stop),
    ):
        with pytest.raises(KeyboardInterrupt):
            work()
    assert left_behind(tmp_path) == []

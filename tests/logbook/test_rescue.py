"""A damaged logbook: what can be read is read, what is lost is said, the file itself stays as it is."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Mark, Player, Practice, Serve
from serve_marker.logbook.rescue import rescue, write_rescued
from serve_marker.logbook.store import Logbook

PAGE_BYTES = 4096
SERVES = 300


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """A logbook of three clips and 300 serves, each with a note and two marks of the ball."""
    path = tmp_path / "team.logbook"
    with Logbook.create(path, team="Tidewater") as book, book.one_change():
        book.put(Player(id="noor", name="Noor", number=7), Practice(id="m", date="2026-03-02", name="Monday"))
        book.put(*(ClipEntry(id=c, practice_id="m", path=f"{c}.mp4", size_bytes=1, fingerprint=c) for c in "abc"))
        book.put(
            *(
                Serve(
                    id=f"s{number:03d}",
                    clip_id="abc"[number % 3],
                    player_id="noor",
                    landing=Mark(number / 10, (1.0, 2.0), 0.02, 0.02),
                    ball_marks=(Mark(number / 10 + 0.02, (1.0, 3.0)), Mark(number / 10 + 0.04, (2.0, 3.0))),
                    note="deep and low " * 4,
                )
                for number in range(SERVES)
            )
        )
    return path


def pages_of(path: Path, table: str) -> list[int]:
    """The leaf pages of a table or index, by its own b-tree (SQLite's file format, section 1.6): 13, 10 are leaves."""
    raw = path.read_bytes()
    with closing(sqlite3.connect(path)) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    page = raw[(root - 1) * PAGE_BYTES : root * PAGE_BYTES]
    assert page[0] in (2, 5)
    cells = int.from_bytes(page[3:5], "big")
    places = [int.from_bytes(page[12 + 2 * cell : 14 + 2 * cell], "big") for cell in range(cells)]
    return [int.from_bytes(page[place : place + 4], "big") for place in places]


def spoil(path: Path, *pages: int) -> None:
    with path.open("rb+") as file:
        for page in pages:
            file.seek((page - 1) * PAGE_BYTES)
            file.write(os.urandom(PAGE_BYTES))


def test_one_spoilt_page_of_serves_loses_only_its_own(season: Path) -> None:
    pages = pages_of(season, "serve")
    spoil(season, pages[len(pages) // 2])
    before = season.read_bytes()
    with pytest.raises(UserError, match="damaged"):
        Logbook.open(season)
    book, lost = rescue(season)
    with book:
        read = len(book.serves())
        told = [int(sentence.split()[1]) for sentence in lost]

        assert [sentence.split(" of ", 1)[1] for sentence in lost] == [f'100 serves of "{c}.mp4".' for c in "abc"]
        assert 0 < sum(told) == SERVES - read < SERVES // len(pages) * 3
        assert [player.name for player in book.players()] == ["Noor"]
        assert all(len(serve.ball_marks) == 2 for serve in book.serves())
        assert book.check() == []
    assert season.read_bytes() == before


def test_what_lies_between_two_spoilt_pages_is_read(season: Path) -> None:
    pages = pages_of(season, "serve")
    spoil(season, pages[2], pages[-3])
    book, _ = rescue(season)
    with book:
        lost = SERVES - len(book.serves())

    assert len(pages) > 10
    assert 0 < lost < 2 * 3 * SERVES // len(pages)


def test_a_copy_that_broke_off_is_read_as_far_as_it_goes(season: Path) -> None:
    """The last tenth of the file is not there."""
    raw = season.read_bytes()
    season.write_bytes(raw[: len(raw) * 9 // 10 // PAGE_BYTES * PAGE_BYTES])
    with pytest.raises(UserError, match="damaged"):
        Logbook.open(season)
    book, lost = rescue(season)
    with book:
        assert 0 < len(book.serves()) < SERVES
        assert book.check() == []
    assert lost != []


def test_serves_keep_their_server_and_clip_where_those_are_gone(season: Path) -> None:
    """A page of its own holds the one player; another the three clips."""
    with closing(sqlite3.connect(season)) as connection:
        roots = dict(connection.execute("SELECT name, rootpage FROM sqlite_schema WHERE type = 'table'").fetchall())
    spoil(season, roots["player"], roots["clip"])
    book, lost = rescue(season)
    with book:
        assert len(book.serves()) == SERVES
        assert [player.name for player in book.players()] == ["Lost player"]
        assert {serve.player_id for serve in book.serves()} == {"noor"}
        assert sorted(clip.id for clip in book.clips()) == ["a", "b", "c"]
        assert {clip.path for clip in book.clips()} == {"lost clip.mp4"}
    assert any("of 1 players" in sentence or "some players" in sentence for sentence in lost)


def test_a_rescued_logbook_cannot_be_changed(season: Path) -> None:
    spoil(season, pages_of(season, "serve")[0])
    with rescue(season)[0] as book, pytest.raises(UserError, match=r"is damaged and open only to be read\. Restore a"):
        book.put(Player(id="new", name="Marit"))


def test_what_was_rescued_can_be_written_into_a_new_logbook(run: Callable[..., object], season: Path) -> None:
    spoil(season, pages_of(season, "serve")[1])
    target = season.with_name("rescued.logbook")
    answer = run("logbook", "rescue", season, "-o", target)

    assert answer.code == 0  # type: ignore[attr-defined]
    assert "Lost: " in answer.out  # type: ignore[attr-defined]
    with Logbook.open(target) as book:
        assert 200 < len(book.serves()) < SERVES
        assert book.check() == []
        book.put(Player(id="new", name="Marit"))
    assert run("logbook", "rescue", season, "-o", target).code == 2  # type: ignore[attr-defined]


def test_a_serve_with_a_flipped_bit_is_kept_and_named(season: Path) -> None:
    raw = season.read_bytes()
    place = raw.rindex(b"deep and low")
    season.write_bytes(raw[:place] + b"e" + raw[place + 1 :])
    spoil(season, pages_of(season, "serve")[0])
    book, lost = rescue(season)
    with book:
        assert any("eeep and low" in serve.note for serve in book.serves())
    assert any("is not as it was written" in sentence for sentence in lost)


def test_where_not_even_the_tables_can_be_read_it_says_so(season: Path) -> None:
    spoil(season, 1)
    with pytest.raises(UserError, match="is not a logbook"):
        rescue(season)


def test_the_sentences_of_a_sound_logbook_are_none(season: Path) -> None:
    book, lost = rescue(season)
    with book:
        assert lost == []
        assert len(book.serves()) == SERVES


def test_what_was_rescued_never_replaces_a_file(season: Path) -> None:
    book, _ = rescue(season)
    with book, pytest.raises(UserError, match="is there already"):
        write_rescued(book, season)

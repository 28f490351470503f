"""A player in two teams: her serves of a week add up, worked out by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from serve_marker.cli import app
from serve_marker.logbook.merge import PlayersInDoubtError
from serve_marker.logbook.records import ClipEntry, Mark, Player, Practice, Serve, Tally
from serve_marker.logbook.store import Logbook
from serve_marker.study.loads import by_week
from serve_marker.study.loads_of_both import loads_of_both

MONDAY, TUESDAY = "2026-11-02", "2026-11-03"


def team(path: Path, day: str, number: int, serves: int, film: str) -> Logbook:
    """A team whose Marit hit so many jump floats on a day; Noor one float, and twenty unfilmed ones typed in."""
    book = Logbook.create(path, team=path.stem)
    marit, noor = Player(id=f"m-{path.stem}", name="Marit", number=number), Player(id=f"n-{path.stem}", name="Noor")
    book.put(marit, noor, Practice(id=f"p-{path.stem}", date=day, name=path.stem))
    clip = ClipEntry(id=f"c-{path.stem}", practice_id=f"p-{path.stem}", path=film, size_bytes=9, fingerprint=film)
    floats = Serve(id=f"noor-{path.stem}", clip_id=clip.id, player_id=noor.id, serve_type="float")
    jumps = [
        Serve(
            id=f"{n}-{path.stem}",
            clip_id=clip.id,
            player_id=marit.id,
            serve_type="jump float",
            landing=Mark(10.0 * n),
            full_pace=n == 0,
        )
        for n in range(serves)
    ]
    tally = Tally(id=f"t-{path.stem}", date=day, player_id=noor.id, aim="", serve_type="float", serves=20)
    book.put(clip, floats, *jumps, tally)
    return book


@pytest.fixture
def teams(tmp_path: Path) -> Iterator[tuple[Logbook, Logbook]]:
    club = team(tmp_path / "club.logbook", MONDAY, 7, 12, "a.mp4")
    school = team(tmp_path / "school.logbook", TUESDAY, 4, 30, "b.mp4")
    with club, school:
        yield club, school


def counts(club: Logbook, school: Logbook, *, one: bool) -> dict[str, list[tuple[int, int, int]]]:
    answers = {frozenset(("m-club", "m-school")): one}
    weeks = by_week(loads_of_both(club, school, answers)[0])
    found: dict[str, list[tuple[int, int, int]]] = {}
    for row in weeks.to_dict("records"):
        cells = (row["serves"], row["jump_serves"], row["full_pace"])
        found.setdefault(row["server"].split()[-1], []).append(cells)
    return found


def test_two_teams_add_up_where_she_is_one_player(teams: tuple[Logbook, Logbook]) -> None:
    """12 and 30 jump floats, one of each at full pace; 1 + 20 and 1 + 20 floats of Noor, typed in alike in both."""
    assert counts(*teams, one=True) == {"Marit": [(42, 42, 2)], "Noor": [(42, 0, 0)]}
    assert counts(*teams, one=False) == {"Marit": [(12, 12, 1), (30, 30, 1)], "Noor": [(42, 0, 0)]}
    assert loads_of_both(*teams, {frozenset(("m-club", "m-school")): True})[1] == {"m-club", "n-club"}


def test_other_numbers_are_asked_about(teams: tuple[Logbook, Logbook]) -> None:
    with pytest.raises(PlayersInDoubtError, match='Are "7 Marit" and "4 Marit" one player'):
        loads_of_both(*teams, {})


def test_a_serve_that_both_marked_on_one_film_counts_once(teams: tuple[Logbook, Logbook]) -> None:
    """The school's film is the club's: its first twelve moments are those the club marked too."""
    club, school = teams
    (clip,) = school.clips()
    school.put(replace(clip, fingerprint="a.mp4"))

    assert counts(club, school, one=True)["Marit"] == [(30, 30, 1)]


def test_the_command_adds_up(teams: tuple[Logbook, Logbook]) -> None:
    club, school = teams
    before = [book.path.read_bytes() for book in teams]
    ask = ["logbook", "load", str(club.path), "--also", str(school.path)]
    refused = CliRunner().invoke(app, ask)
    assert isinstance(refused.exception, Exception)
    assert "one player? Say so with --same or --different" in str(refused.exception)
    told = CliRunner().invoke(app, [*ask, "--same", "Marit"]).stdout.splitlines()
    assert told[:2] == ["4 Marit, week of 2 Nov: 42 (42), 2 full pace.", "Noor, week of 2 Nov: 42 (0)."]
    assert 'In both teams: "4 Marit", "Noor".' in told
    alone = CliRunner().invoke(app, ["logbook", "load", str(club.path), "--json"]).stdout
    assert [row["serves"] for row in json.loads(alone)["weeks"]] == [12, 21]
    assert [book.path.read_bytes() for book in teams] == before

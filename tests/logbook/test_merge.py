"""Two logbooks merged: the order does not matter, twice is once, nothing is lost; who is who is asked when unsure."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from serve_marker.logbook.any_record import Record
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.merge import PlayersInDoubtError, merge, write_merged
from serve_marker.logbook.records import (
    ClipEntry,
    FloorPoint,
    Gym,
    Mark,
    Player,
    Practice,
    PracticePlan,
    Season,
    Serve,
    StoredView,
    Tally,
)
from serve_marker.logbook.store import Logbook
from serve_marker.logbook.tables import serve_text

NAMES = ("Ines", "Marit", "Noor", "Priya")


def contents(book: Logbook) -> dict[str, object]:
    """All a logbook holds, in an order of its own."""
    dump = "\n".join(sorted(line for line in book._connection.iterdump() if line.startswith("INSERT")))
    return {"rows": dump, "serves": sorted(map(serve_text, book.serves()))}


@contextmanager
def logbook_of(folder: Path, name: str, records: list[Record]) -> Iterator[Logbook]:
    with Logbook.create(folder / f"{name}.logbook", team="Tidewater") as book:
        book.put(*records)
        yield book


@contextmanager
def merged(first: Logbook, second: Logbook, name: str) -> Iterator[Logbook]:
    target = first.path.with_name(f"{name}.logbook")
    write_merged(merge(first, second), target)
    with Logbook.open(target) as book:
        yield book


@st.composite
def coach_records(draw: st.DrawFn, coach: str) -> list[Record]:
    """What a coach has in her logbook: some of the team's players and films, and serves as she marked them.

    Ids of one coach begin with her letter, but for records both have from a copy they began with.
    """

    def key(kind: str, number: int) -> str:
        return f"{draw(st.sampled_from((coach, 'both')))}-{kind}{number}"

    players = [Player(id=key("p", n), name=name, number=n) for n, name in enumerate(NAMES) if draw(st.booleans())]
    practice = Practice(id=key("m", 0), date="2026-03-02", name=draw(st.sampled_from(("Monday", "monday"))))
    films = [n for n in range(3) if draw(st.booleans())]
    clips = [
        ClipEntry(id=key("c", n), practice_id=practice.id, path=f"{n}.mp4", size_bytes=n + 1, fingerprint=f"f{n}")
        for n in films
    ]
    serves = []
    for clip in clips:
        for number in draw(st.sets(st.integers(0, 4))):
            place = draw(st.sampled_from((1.0, 2.0, 3.0)))
            at_s = 10.0 * number + draw(st.sampled_from((0.0, 0.1)))
            serves.append(
                Serve(
                    id=f"{key('s', number)}-{clip.fingerprint}",
                    clip_id=clip.id,
                    player_id=draw(st.sampled_from([None, *(player.id for player in players)])),
                    landing=Mark(at_s, (place, 5.0), 0.02, 0.02),
                    landing_point=FloorPoint(place, 5.0, 0.01, 0.0, 0.01),
                    note=draw(st.sampled_from(("", "good"))),
                )
            )
    counted = [Tally(id=key("t", 0), date="2026-03-02", player_id=players[0].id, serves=9)] if players else []
    plans = [PracticePlan(id=key("l", 0), date="2026-03-09", absent=tuple(player.id for player in players[:1]))]
    return [*players, practice, *clips, *serves, *counted, *(plans if draw(st.booleans()) else [])]


@settings(max_examples=20, suppress_health_check=list(HealthCheck))
@given(coach_records("a"), coach_records("b"))
def test_order_does_not_matter_twice_is_once_and_nothing_is_lost(mine: list[Record], theirs: list[Record]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        logbook_of(Path(folder), "anna", mine) as first,
        logbook_of(Path(folder), "britt", theirs) as second,
        merged(first, second, "c") as both,
        merged(second, first, "other way round") as turned,
        merged(both, second, "again") as again,
        merged(first, both, "once more") as once_more,
    ):
        assert contents(turned) == contents(both)
        assert contents(again) == contents(both)
        assert contents(once_more) == contents(both)
        assert both.check() == []

        def said(book: Logbook, serve: Serve) -> tuple[object, ...]:
            names = {player.id: player.name for player in book.players()}
            films = {clip.id: clip.fingerprint for clip in book.clips()}
            return films[serve.clip_id], names.get(serve.player_id or ""), serve.landing, serve.note

        kept = {said(both, one) for one in both.serves()} | {said(both, one.serve) for one in both.second_marks()}
        for book in (first, second):
            assert {said(book, one) for one in book.serves()} <= kept
            assert {player.name for player in book.players()} <= {player.name for player in both.players()}
        films = [clip.fingerprint for clip in both.clips()]
        assert len(films) == len(set(films))
        for clip in both.clips():
            moments = sorted(serve.moment_s or 0.0 for serve in both.serves(clip_id=clip.id))
            assert all(later - earlier > 0.5 for earlier, later in pairwise(moments))


MONDAY = Practice(id="m", date="2026-03-02", name="Monday")
FILM = ClipEntry(id="c", practice_id="m", path="film.mp4", size_bytes=5, fingerprint="ab")


def marked(key: str, at_s: float, x_m: float, **more: object) -> Serve:
    return Serve(
        id=key,
        clip_id="c",
        landing=Mark(at_s, (x_m, 5.0), 0.02, 0.02),
        landing_point=FloorPoint(x_m, 5.0, 0.01, 0.0, 0.01),
        **more,  # type: ignore[arg-type]
    )


def test_a_serve_marked_by_both_is_one_with_both_marks(tmp_path: Path) -> None:
    with (
        logbook_of(tmp_path, "anna", [MONDAY, FILM, marked("a", 2.0, 1.0), marked("alone", 9.0, 1.0)]) as first,
        logbook_of(tmp_path, "britt", [MONDAY, replace(FILM, id="c"), marked("b", 2.1, 1.3)]) as second,
        merged(first, second, "both") as both,
    ):
        (second_mark,) = both.second_marks()
        names = {marker.id: marker.name for marker in both.markers()}

        assert [serve.id for serve in both.serves()] == ["a", "alone"]
        assert names == {"a": "anna", "alone": "anna"}
        assert (second_mark.serve_id, second_mark.name) == ("a", "britt")
        assert second_mark.serve.landing == Mark(2.1, (1.3, 5.0), 0.02, 0.02)


def test_a_film_copied_under_another_name_is_the_same_film(tmp_path: Path) -> None:
    copied = replace(FILM, id="d", path="/elsewhere/copy.mp4")
    with (
        logbook_of(tmp_path, "anna", [MONDAY, FILM]) as first,
        logbook_of(tmp_path, "britt", [replace(MONDAY, id="n"), replace(copied, practice_id="n")]) as second,
    ):
        found = merge(first, second)

    assert [clip.id for clip in found.records["clips"]] == ["c"]
    assert found.conflicts == ['"copy.mp4": kept path "/elsewhere/copy.mp4", not "film.mp4".']


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Player(id="a", name="Noor", number=7), Player(id="b", name="Noor", number=12)),
        (Player(id="a", name="Number 7", number=7), Player(id="b", name="Noor", number=7)),
    ],
)
@pytest.mark.parametrize("same", [True, False])
def test_who_may_be_the_same_is_asked_and_kept_as_answered(
    tmp_path: Path, one: Player, other: Player, same: bool
) -> None:
    with logbook_of(tmp_path, "anna", [one]) as first, logbook_of(tmp_path, "britt", [other]) as second:
        with pytest.raises(PlayersInDoubtError) as doubt:
            merge(first, second)
        assert doubt.value.questions == ((one, other),)
        found = merge(first, second, {frozenset(("a", "b")): same})

    assert len(found.records["players"]) == (1 if same else 2)
    assert len(found.conflicts) == (one.number != other.number if same else one.number == other.number)
    assert "Noor" in [player.name for player in found.records["players"]]


def test_what_both_say_of_a_player_is_put_together_and_conflicts_are_told(tmp_path: Path) -> None:
    mine = Player(id="a", name="Noor", number=7, position="setter")
    theirs = Player(id="b", name="Noor", number=7, hand="left", standing_reach_m=2.3)
    with logbook_of(tmp_path, "anna", [mine]) as first, logbook_of(tmp_path, "britt", [theirs]) as second:
        found = merge(first, second)

    assert found.records["players"] == [replace(mine, hand="left", standing_reach_m=2.3)]
    assert found.conflicts == ['"Noor": kept hand "left", not "right".']


def test_two_players_with_one_number_are_told(tmp_path: Path) -> None:
    with (
        logbook_of(tmp_path, "anna", [Player(id="a", name="Noor", number=7)]) as first,
        logbook_of(tmp_path, "britt", [Player(id="b", name="Marit", number=7)]) as second,
    ):
        assert merge(first, second).conflicts == ['Shirt number 7 is that of "Noor" and "Marit"; change one.']


def test_views_seasons_gyms_and_consents_come_together(tmp_path: Path) -> None:
    def records(coach: str, since: str) -> list[Record]:
        gym = Gym(id=f"{coach}g", name="Hall")
        return [
            gym,
            Player(id=f"{coach}p", name="Noor", number=7),
            StoredView(id=f"{coach}v", gym_id=gym.id, name="Stand", made_on="2026-03-02", document='{"version": 1}'),
            Season(id=f"{coach}s", name="2025/26", shirts=((f"{coach}p", 9),)),
            Consent(id=f"{coach}p", filmed_from=since, team_from="2026-01-01" if coach == "a" else None),
        ]

    with (
        logbook_of(tmp_path, "anna", records("a", "2026-01-01")) as first,
        logbook_of(tmp_path, "britt", records("b", "2026-02-01")) as second,
        merged(first, second, "both") as both,
    ):
        assert [view.id for view in both.views()] == ["av"]
        assert [season.shirts for season in both.seasons()] == [(("ap", 9),)]
        assert both.consents() == [Consent(id="ap", filmed_from="2026-02-01")]


def test_a_target_that_is_there_is_left_alone(tmp_path: Path) -> None:
    with logbook_of(tmp_path, "anna", []) as first, pytest.raises(Exception, match="is there already"):
        write_merged(merge(first, first), first.path)


def test_two_coaches_on_the_command_line(run, tmp_path: Path) -> None:
    """Seven serves marked by both, Britt's 0.1 to 0.7 m to the right of Anna's: by hand a mean of 0.4 m, SD 0.216 m."""
    noor, other_noor = Player(id="a", name="Noor", number=7), Player(id="b", name="Noor", number=12)
    mine = [marked(f"a{n}", 10.0 * n, 1.0, player_id="a") for n in range(7)]
    theirs = [marked(f"b{n}", 10.0 * n + 0.1, 1.0 + (n + 1) / 10, player_id="b") for n in range(7)]
    with logbook_of(tmp_path, "anna", [noor, MONDAY, FILM, *mine]) as first:
        one = first.path
    with logbook_of(tmp_path, "britt", [other_noor, MONDAY, FILM, *theirs, marked("more", 90.0, 2.0)]) as second:
        other = second.path
    out = tmp_path / "both.logbook"
    asked = run("logbook", "merge", one, other, "-o", out)

    assert asked.code == 2
    assert asked.err == 'Are "7 Noor" and "12 Noor" one player? Say so with --same or --different and the name.\n'
    assert not out.exists()
    told = run("logbook", "merge", one, other, "-o", out, "--same", "Noor")
    assert told.code == 0, told.err
    assert told.out.splitlines() == [
        "8 serves in both.logbook, 7 of them marked twice.",
        "anna and britt both placed 7 serves.",
        "Sideways: -0.40 m apart on average, 95 % within -0.82 and +0.02 m.",
        "Lengthways: +0.00 m apart on average, 95 % within +0.00 and +0.00 m.",
        '"Noor": kept number "7", not "12".',
    ]
    again = run("logbook", "merge", out, other, "-o", tmp_path / "again.logbook", "--same", "Noor")
    assert again.out.splitlines()[0] == "8 serves in again.logbook, 7 of them marked twice."
    assert run("logbook", "merge", one, other, "-o", out, "--same", "Noor").code == 2

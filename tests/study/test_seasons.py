"""A number belongs to a season: two players with 7 in different years are no conflict."""

import dataclasses

import pytest

from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Player, Practice, Serve
from serve_marker.logbook.seasons import players_at, refuse_shared_numbers, seasons_begun
from serve_marker.logbook.store import Logbook
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import player_ids, read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.study.by_server import servers_of
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.serve_columns import serve_table

MARIT = Player(id="marit", name="Marit", number=7, hand="left", position="setter")
NOOR = Player(id="noor", name="Noor", number=4)
AUTUMN, SPRING = (Practice(id=date, date=date, name="Tuesday") for date in ("2025-11-04", "2026-11-03"))


@pytest.fixture
def book(tmp_path):
    """Marit wore 7 and left; Noor, who wore 4, and has 7 now, both served each year."""
    with Logbook.create(tmp_path / "team.logbook") as opened:
        opened.put(MARIT, NOOR, AUTUMN, SPRING)
        for practice in (AUTUMN, SPRING):
            opened.put(
                ClipEntry(id=practice.date, practice_id=practice.id, path="f.mp4", size_bytes=1, fingerprint="f")
            )
            for player in (MARIT, NOOR):
                serve_id = f"{player.id} {practice.date}"
                opened.put(Serve(id=serve_id, clip_id=practice.date, player_id=player.id, outcome="net"))
        yield opened


def begin(book):
    book.put(*seasons_begun(book.players(), book.seasons(), "2026/27", "2026-08-01"))
    book.put(dataclasses.replace(MARIT, number=None), dataclasses.replace(NOOR, number=7))


def test_each_serve_has_the_number_of_its_own_year(book):
    begin(book)
    table = serve_table(book).set_index("serve_id")
    assert table["server"].to_dict() == {
        "marit 2025-11-04": "7 Marit",
        "noor 2025-11-04": "4 Noor",
        "marit 2026-11-03": "Marit",
        "noor 2026-11-03": "7 Noor",
    }
    assert table["season"].to_dict()["noor 2026-11-03"] == "2026/27"
    assert servers_of(serve_table(book)) == [("noor", "7 Noor"), ("marit", "Marit")]
    assert (player_ids(book, "7"), player_ids(book, "4")) == (["noor", "marit"], ["noor"])


def test_pages_of_last_year_stay_as_they_were(book):
    def pages():
        data = read_report_data(book)
        found = [*team_pages(data, AUTUMN.id), *server_pages(data, "noor", AUTUMN.id)]
        return [text.get_text() for page in found for text in page.figure.texts]

    before = pages()
    begin(book)
    assert [words for words in pages() if "Better than" not in words] == [
        words for words in before if "Better than" not in words
    ]
    assert "4 Noor" in before


def test_a_third_season_follows_the_second(book):
    begin(book)
    book.put(*seasons_begun(book.players(), book.seasons(), "2027/28", "2027-08-01"))
    book.put(dataclasses.replace(NOOR, number=12))
    numbers = [
        {player.id: player.number for player in players_at(book.players(), book.seasons(), date)}
        for date in ("2025-11-04", "2026-11-03", "2027-11-02")
    ]
    assert numbers == [{"marit": 7, "noor": 4}, {"marit": None, "noor": 7}, {"marit": None, "noor": 12}]


def test_hand_and_position_tell_serves_apart(book):
    table = serve_table(book)
    assert set(filter_serves(table, ServeFilter(hands=("left",)))["player_id"]) == {"marit"}
    assert set(filter_serves(table, ServeFilter(positions=("setter",)))["player_id"]) == {"marit"}


def test_a_number_nobody_had_is_refused_by_name(book):
    with pytest.raises(UserError, match="has no server 9"):
        player_ids(book, "9")


def test_one_number_is_one_players_within_a_season():
    seven = Player(id="a", name="Marit", number=7)
    refuse_shared_numbers([seven, Player(id="b", name="Noor"), Player(id="c", name="Wren")])
    with pytest.raises(UserError, match="Shirt number 7 is given twice"):
        refuse_shared_numbers([seven, Player(id="b", name="Noor", number=7)])

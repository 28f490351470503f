"""What a table of marks says of targets and receptions; the clip is not looked at, as nothing in it is placed."""

from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.dimensions import COURTS
from serve_marker.errors import UserError
from serve_marker.logbook.records import Player, Practice, Season
from serve_marker.logbook.seasons import players_at
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.video.clip import Clip

NEEDED = "server,outcome,landing_frame,landing_x_px,landing_y_px"
CORNERS = {
    "end-a/left": (200.0, 600.0),
    "end-a/right": (1000.0, 600.0),
    "end-b/left": (400.0, 200.0),
    "end-b/right": (800.0, 200.0),
}
VIEW = fit_view(CORNERS, COURTS["indoor"], (1280, 720), 2.24).view


def read_in(book: Logbook, columns: str, *rows: str) -> None:
    path = book.path.with_name("film.mp4")
    path.write_bytes(b"moving pictures")
    table = path.with_name("marks.csv")
    table.write_text("\n".join((f"{NEEDED},{columns}", *rows)))
    stand_in = SimpleNamespace(path=path, width=1280, height=720, frame_count=9)
    stand_in.time_s, stand_in.time_scale = float, lambda _fps: 1.0
    stand_in.gaps_s = lambda _frame: (1.0, 1.0)
    import_marks(book, table, cast(Clip, stand_in), VIEW, view_to_text(VIEW), "Monday", "2026-03-02", from_film=False)


@pytest.fixture
def book(tmp_path: Path):
    with Logbook.create(tmp_path / "team.logbook") as opened:
        yield opened


def test_the_kind_of_target_is_the_tables_or_that_of_the_practice(book: Logbook) -> None:
    """Mats were laid out that evening, people received some of its serves."""
    book.put(Practice(id="p", date="2026-03-02", name="Monday", target_kind="mats"))
    read_in(book, "target_kind", "4,net,1,,,", "4,net,2,,,people", "4,net,3,,,None")
    assert [serve.target_kind for serve in book.serves()] == ["mats", "people", "none"]
    with pytest.raises(UserError, match=r"Line 2, target_kind: .hoops. is not one of none, mats, upright, people"):
        read_in(book, "target_kind", "4,net,1,,,hoops")


def test_what_became_of_a_received_ball(book: Logbook) -> None:
    read_in(book, "reception", *(f"4,received,{n},,,{word}" for n, word in enumerate(("", "played", "Over", "shank"))))
    assert [serve.reception for serve in book.serves()] == ["", "played", "over", "shank"]
    with pytest.raises(UserError, match="Line 2, reception: shank is said of a ball whose outcome is floor"):
        read_in(book, "reception", "4,floor,1,,,shank")


def test_a_number_is_the_player_who_wore_it_that_season(book: Logbook) -> None:
    """The table is of March, the season that runs began in August; 12 is new to that year's roster."""
    book.put(Player(id="marit", name="Marit"), Player(id="noor", name="Noor", number=7))
    book.put(Season(id="1", name="", shirts=(("marit", 7),)), Season(id="2", name="2026/27", begins="2026-08-01"))
    read_in(book, "note", "7,net,1,,,", "12,net,2,,,", "12,net,3,,,")
    then = {player.id: player.number for player in players_at(book.players(), book.seasons(), "2026-03-02")}
    assert [then[str(serve.player_id)] for serve in book.serves()] == [7, 12, 12]
    assert book.serves()[0].player_id == "marit"
    assert {player.name: player.number for player in book.players()} == {"Marit": None, "Noor": 7, "Number 12": None}


def test_a_passer_is_a_player(book: Logbook) -> None:
    """Known by number or name; an unknown name joins the roster once."""
    book.put(Player(id="marit", name="Marit", number=7))
    read_in(book, "passer", "4,received,1,,,7", "4,received,2,,,marit", "4,received,3,,,Odile", "4,received,4,,,odile")
    names = {player.id: player.name for player in book.players()}
    assert [names[str(serve.passer_id)] for serve in book.serves()] == ["Marit", "Marit", "Odile", "Odile"]
    assert sorted(names.values()) == ["Marit", "Number 4", "Odile"]

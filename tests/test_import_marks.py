"""Tables of marks into a logbook, against hand-worked records and the truth of rendered clips."""

import csv
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.areas import default_scheme
from serve_marker.court.dimensions import COURTS, landmarks
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, Gym, Player, Practice
from serve_marker.logbook.store import Logbook
from serve_marker.marking.import_marks import import_marks
from serve_marker.marking.judging import judge
from serve_marker.video.clip import Clip, open_clip

INDOOR = COURTS["indoor"]
SIZE = (1280, 720)
COLUMNS = (
    *("server", "serve_type", "aim", "outcome", "contact_frame", "contact_x_px", "contact_y_px"),
    *("landing_frame", "landing_x_px", "landing_y_px", "pass_rating", "passer", "note"),
)
HEADER = ",".join(COLUMNS)


@dataclass(frozen=True)
class StandInClip:
    """Five frames at uneven times, in a file that only has to be hashed."""

    path: Path
    width: int = SIZE[0]
    height: int = SIZE[1]
    times_s: tuple[float, ...] = (0.0, 0.04, 0.07, 1.5, 1.6)

    @property
    def frame_count(self) -> int:
        return len(self.times_s)

    def time_s(self, i: int) -> float:
        return self.times_s[i]

    def time_scale(self, filmed_fps: float | None) -> float:
        return 1.0 if filmed_fps is None else 0.25

    def gaps_s(self, i: int) -> tuple[float, float]:
        times = (float("nan"), *self.times_s, float("nan"))
        return times[i + 1] - times[i], times[i + 2] - times[i + 1]


def pinhole(points_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pixels (N, 2) of a camera 4 m high, 7 m behind end a, looking along +y and 15 degrees down; f = 900 px."""
    down = np.radians(15.0)
    x, y, z = (points_m - np.array([0.5, -16.0, 4.0])).T
    depth = y * np.cos(down) - z * np.sin(down)
    below = -y * np.sin(down) - z * np.cos(down)
    return np.column_stack([640 + 900 * x / depth, 360 + 900 * below / depth])


@pytest.fixture(scope="module")
def view() -> View:
    floor = {name: place for name, place in landmarks(INDOOR).items() if place[1] > -9}
    pixels = pinhole(np.array(list(floor.values())))
    marks = {name: (float(x), float(y)) for name, (x, y) in zip(floor, pixels, strict=True)}
    return fit_view(marks, INDOOR, SIZE, 2.24).view


@pytest.fixture
def clip(tmp_path: Path) -> Clip:
    path = tmp_path / "monday.mp4"
    path.write_bytes(b"moving pictures")
    return cast(Clip, StandInClip(path))


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as opened:
        opened.put(Player(id="ines", name="Ines", number=4), Player(id="marit", name="Marit", number=9))
        yield opened


def read_in(logbook: Logbook, clip: Clip, view: View, table: str | bytes, date: str = "2026-03-02") -> int:
    path = clip.path.with_name("marks.csv")
    path.write_bytes(table if isinstance(table, bytes) else table.encode())
    return import_marks(logbook, path, clip, view, view_to_text(view), "Monday", date, from_film=False)


def test_a_serve_as_the_window_would_make_it(logbook: Logbook, clip: Clip, view: View) -> None:
    """The pixel of a floor point 3 m right of the middle and 7 m beyond the net comes back as that point."""
    x_px, y_px = pinhole(np.array([[3.0, 7.0, 0.0]]))[0]
    row = f"4,jump float,Deep 1,floor,1,640,500,3,{float(x_px)},{float(y_px)},2,Odile,long flight"
    table = f"{HEADER}\n{row}\n"
    assert read_in(logbook, clip, view, table) == 1

    serve = logbook.serves()[0]
    assert (serve.player_id, serve.serve_type, serve.aim, serve.outcome) == ("ines", "jump float", "deep 1", "floor")
    passer = next(player.name for player in logbook.players() if player.id == serve.passer_id)
    assert (serve.pass_rating, passer, serve.note) == (2, "Odile", "long flight")
    assert serve.contact is not None
    assert serve.landing is not None
    assert serve.landing_point is not None
    assert serve.contact_point is not None
    assert (serve.contact.time_s, serve.contact.pixel) == (0.04, (640.0, 500.0))
    assert serve.landing.time_s == 1.5
    assert (serve.landing.gap_before_s, serve.landing.gap_after_s) == (1.5 - 0.07, 1.6 - 1.5)
    assert (serve.landing_point.x_m, serve.landing_point.y_m) == pytest.approx((3.0, 7.0), abs=1e-3)
    assert logbook.check() == []


def test_practice_gym_view_and_clip_are_made_once(logbook: Logbook, clip: Clip, view: View) -> None:
    for _ in range(2):
        read_in(logbook, clip, view, f"{HEADER}\n9,,,net,,,,,,,,,\n")

    practice, entry = logbook.practices()[0], logbook.clips()[0]
    assert [(practice.name, practice.date)] == [(known.name, known.date) for known in logbook.practices()]
    assert (practice.name, practice.date) == ("Monday", "2026-03-02")
    assert [gym.name for gym in logbook.gyms()] == ["Gym"]
    assert [stored.document for stored in logbook.views()] == [view_to_text(view)]
    assert logbook.clips() == [entry]
    assert (entry.path, entry.view_id) == (str(clip.path), logbook.views()[0].id)
    assert {(serve.clip_id, serve.view_id, serve.player_id) for serve in logbook.serves()} == {
        (entry.id, entry.view_id, "marit")
    }
    assert len(logbook.serves()) == 2


def test_what_the_coach_set_up_is_used(logbook: Logbook, clip: Clip, view: View) -> None:
    hall = Gym(id="hall", name="Tidewater hall")
    practice = Practice(id="p", date="2026-03-02", name="Monday", gym_id="hall", target_kind="mats", order_a=("ines",))
    logbook.put(hall, practice)
    read_in(logbook, clip, view, f"{HEADER}\n9,,,net,,,,,,,,,\n")

    assert logbook.practices() == [practice]
    assert logbook.gyms() == [hall]
    assert logbook.views()[0].gym_id == "hall"


def test_a_clip_that_moved_keeps_its_entry_and_learns_its_place(logbook: Logbook, clip: Clip, view: View) -> None:
    table = f"{HEADER}\n9,,,net,,,,,,,,,\n"
    read_in(logbook, clip, view, table)
    moved = clip.path.rename(clip.path.with_name("renamed.mp4"))
    read_in(logbook, cast(Clip, StandInClip(moved)), view, table)

    entries: list[ClipEntry] = logbook.clips()
    assert [entry.path for entry in entries] == [str(moved)]


def test_another_day_is_another_practice(logbook: Logbook, clip: Clip, view: View) -> None:
    for date in ("2026-03-02", "2026-03-09"):
        read_in(logbook, clip, view, f"{HEADER}\n9,,,net,,,,,,,,,\n", date=date)

    assert [practice.date for practice in logbook.practices()] == ["2026-03-02", "2026-03-09"]
    assert [len(logbook.serves(practice.id)) for practice in logbook.practices()] == [1, 1]
    assert len(logbook.views()) == 1


@pytest.mark.parametrize(
    ("written", "name", "number"),
    [
        ("4", "Ines", 4),
        ("4.0", "Ines", 4),
        ("  iNES ", "Ines", 4),
        ("9 Marit", "Marit", 9),
        ("12", "Number 12", 12),
        ("Noor", "Noor", None),
        ('"Wren ""the wall"", jr."', 'Wren "the wall", jr.', None),
        ('"Zofia\nof Tidewater"', "Zofia\nof Tidewater", None),
        ("Priya 🏐", "Priya 🏐", None),
        ("=1+1", "=1+1", None),
        ("../x", "../x", None),
        ("<b>", "<b>", None),
    ],
)
def test_servers_are_found_by_number_or_name_or_added(
    logbook: Logbook, clip: Clip, view: View, written: str, name: str, number: int | None
) -> None:
    table = f"server,outcome,landing_frame,landing_x_px,landing_y_px\n{written},net,2,,\n{written},net,3,,\n"
    read_in(logbook, clip, view, table)

    players = {player.id: player for player in logbook.players()}
    assert [
        (players[serve.player_id].name, players[serve.player_id].number)
        for serve in logbook.serves()
        if serve.player_id
    ] == [(name, number)] * 2


def test_two_programs_that_read_in_at_once_add_a_server_once(logbook: Logbook, clip: Clip, view: View) -> None:
    def read_another(place: int) -> None:
        table = clip.path.with_name(f"marks {place}.csv")
        table.write_text(cell(server="Zofia"), encoding="utf-8")
        with Logbook.open(logbook.path) as own:
            import_marks(own, table, clip, view, view_to_text(view), date="2026-03-02", from_film=False)

    with ThreadPoolExecutor(4) as programs:
        list(programs.map(read_another, range(4)))

    assert len(logbook.serves()) == 8
    assert [player.name for player in logbook.players()].count("Zofia") == 1


def test_an_empty_server_is_nobody(logbook: Logbook, clip: Clip, view: View) -> None:
    read_in(logbook, clip, view, f"{HEADER}\n,,,net,,,,,,,,,\n")

    assert [serve.player_id for serve in logbook.serves()] == [None]


FORMS = [
    ("plain", f"{HEADER}\n4,float,,floor,,,,3,640.5,300,,,\n".encode()),
    ("byte order mark", f"{HEADER}\n4,float,,floor,,,,3,640.5,300,,,\n".encode("utf-8-sig")),
    ("Windows line ends", f"{HEADER}\r\n4,float,,floor,,,,3,640.5,300,,,\r\n\r\n".encode()),
    ("semicolons", f"{HEADER}\n4,float,,floor,,,,3,640.5,300,,,\n".replace(",", ";").encode()),
    ("decimal comma", HEADER.replace(",", ";").encode() + b"\n4;float;;floor;;;;3;640,5;300;;;\n"),
    ("empty lines", f"\n{HEADER}\n\n,,,,,,,,,,,,\n4,float,,floor,,,,3,640.5,300,,,".encode()),
    (
        "other order",
        b"landing_y_px,Outcome, server ,landing_x_px,landing_frame,serve_type\n300,Floor,4,640.5,3,FLOAT\n",
    ),
    ("whole numbers with a point", f"{HEADER}\n4,float,,floor,,,,3.0,6.405e2,300.0,,,\n".encode()),
]


@pytest.mark.parametrize("table", [form for _, form in FORMS], ids=[name for name, _ in FORMS])
def test_all_forms_of_a_table_give_the_same_serve(logbook: Logbook, clip: Clip, view: View, table: bytes) -> None:
    assert read_in(logbook, clip, view, table) == 1

    serve = logbook.serves()[0]
    assert serve.landing is not None
    assert (serve.player_id, serve.serve_type, serve.outcome) == ("ines", "float", "floor")
    assert (serve.landing.time_s, serve.landing.pixel) == (1.5, (640.5, 300.0))


def cell(**cells: str) -> str:
    row = {"server": "4", "outcome": "floor"} | cells
    return f"{HEADER}\n9,,,net,,,,,,,,,\n" + ",".join(row.get(column, "") for column in COLUMNS) + "\n"


WRONG = [
    ("", r"marks.csv is empty; its first line must name the columns server, "),
    (HEADER, r"marks.csv holds no serves"),
    (b"\xff\xfes\0e\0r\0", r"marks.csv is not text in UTF-8"),
    ("server\0,outcome\n", r"marks.csv is not a table of text"),
    (f"{HEADER},speed,=x\n", r'columns that are not known: "speed", "=x"; the known ones are server, serve_type, '),
    (f"{HEADER},\n", r"columns that are not known: one without a name"),
    (f"{HEADER},server\n", r"the column server more than once"),
    ("server,landing_frame\n4,2\n", r"marks.csv lacks the columns outcome, landing_x_px, landing_y_px; add them"),
    (f"{HEADER}\n4,,,net\n", r"Line 2 of marks.csv has 4 cells, but the first line has 13"),
    (f'{HEADER}\n"4,,,net,,,,,,,,,\n', r"Line 2 of marks.csv cannot be read"),
    (cell(outcome="lost"), r'Line 3, outcome: "lost" is not one of floor, net, received, target, out, fault, blocked;'),
    (cell(outcome=""), r"Line 3, outcome: nothing is not one of floor, net"),
    (cell(serve_type="spin"), r'Line 3, serve_type: "spin" is not one of underhand, float, jump float, topspin, jump'),
    (cell(aim="deep 7"), r"Line 3, aim: The aim 'deep 7' is not known. Write an area"),
    (cell(landing_frame="two"), r'Line 3, landing_frame: "two" is not a number'),
    (cell(landing_frame="2.5"), r"Line 3, landing_frame: 2.5 is not a whole number"),
    (cell(landing_frame="5"), r"Line 3, landing_frame: 5 lies outside 0 to 4"),
    (cell(landing_frame="-1"), r"Line 3, landing_frame: -1 lies outside 0 to 4"),
    (cell(landing_frame="nan"), r'Line 3, landing_frame: "nan" is not a number'),
    (cell(landing_frame="2", landing_x_px="inf", landing_y_px="1"), r'Line 3, landing_x_px: "inf" is not a number'),
    (cell(landing_frame="2", landing_x_px="9", landing_y_px="72000"), r"Line 3, landing_y_px: 72000 lies outside"),
    (cell(landing_frame="2", landing_x_px="9"), r"Line 3, landing_y_px: a pixel needs both x and y"),
    (cell(landing_frame="2", landing_x_px="9", landing_y_px="9"), r"Line 3, landing_y_px: this pixel shows no floor"),
    (cell(landing_x_px="9", landing_y_px="9"), r"Line 3, landing_frame: a pixel needs the frame it was marked on"),
    (cell(contact_frame="3", landing_frame="2"), r"Line 3, landing_frame: 2 comes before the contact"),
    (cell(pass_rating="4"), r"Line 3, pass_rating: 4 lies outside 0 to 3"),
    (cell(server="7.5"), r"Line 3, server: 7.5 is not a whole number"),
    (cell(server="-7"), r"Line 3, server: -7 lies outside 0 to 999"),
    (cell(landing_frame="1_0"), r'Line 3, landing_frame: "1_0" is not a number'),
]


@pytest.mark.parametrize(("table", "sentence"), WRONG)
def test_anything_wrong_is_one_sentence_and_nothing_is_written(
    logbook: Logbook, clip: Clip, view: View, table: str | bytes, sentence: str
) -> None:
    before = logbook.path.read_bytes()
    with pytest.raises(UserError, match=sentence) as caught:
        read_in(logbook, clip, view, table)

    assert "\n" not in str(caught.value)
    assert logbook.path.read_bytes() == before


def test_a_team_that_rates_passes_up_to_four_reads_them_in(
    logbook: Logbook, clip: Clip, view: View, tmp_path: Path
) -> None:
    table = tmp_path / "marks.csv"
    columns = "server,outcome,landing_frame,landing_x_px,landing_y_px,pass_rating"
    table.write_text(f"{columns}\n4,received,,,,4\n", encoding="utf-8")
    assert (
        import_marks(logbook, table, clip, view, view_to_text(view), date="2026-03-02", best_pass=4, from_film=False)
        == 1
    )
    assert [serve.pass_rating for serve in logbook.serves()] == [4]


def test_lines_are_counted_as_an_editor_does(logbook: Logbook, clip: Clip, view: View) -> None:
    table = f'{HEADER}\n\n4,,,net,,,,,,,,,"over\nthree\nlines"\n4,,,lost,,,,,,,,,\n'
    with pytest.raises(UserError, match="Line 6, outcome"):
        read_in(logbook, clip, view, table)


def test_two_players_of_one_number_are_not_guessed_between(logbook: Logbook, clip: Clip, view: View) -> None:
    logbook.put(Player(id="noor", name="Noor", number=4))
    with pytest.raises(UserError, match='Line 2, server: "4" fits 2 players'):
        read_in(logbook, clip, view, f"{HEADER}\n4,,,net,,,,,,,,,\n")


@pytest.mark.parametrize("date", ["2026-3-2", "20260302", "2026-02-30", "yesterday"])
def test_a_date_is_a_day(logbook: Logbook, clip: Clip, view: View, date: str) -> None:
    with pytest.raises(UserError, match="is not a day written as YYYY-MM-DD"):
        read_in(logbook, clip, view, f"{HEADER}\n4,,,net,,,,,,,,,\n", date=date)
    assert logbook.practices() == []


def test_a_view_of_another_picture_is_refused(logbook: Logbook, clip: Clip, view: View) -> None:
    other = cast(Clip, replace(cast(Any, clip), width=720, height=1280))
    with pytest.raises(UserError, match=r"1280 × 720 pixels, but monday\.mp4 has 720 × 1280"):
        read_in(logbook, other, view, f"{HEADER}\n4,,,net,,,,,,,,,\n")


def test_tables_that_are_not_there(logbook: Logbook, clip: Clip, view: View, tmp_path: Path) -> None:
    for path, sentence in ((tmp_path / "none.csv", "is not there"), (tmp_path, "cannot be read")):
        with pytest.raises(UserError, match=sentence):
            import_marks(logbook, path, clip, view, view_to_text(view), date="2026-03-02", from_film=False)


def truth_pixels(truth: dict[str, Any], segment: dict[str, Any], points_m: Any) -> NDArray[np.float64]:
    """Pixels (N, 2) of floor points in the truth's frame, with its camera and the lens bend taken out."""
    import cv2

    camera = segment["camera"]
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1.0]])
    points = np.array([(x, y, z) for x, y, z in points_m], dtype=float).reshape(-1, 1, 3)
    pixels, _ = cv2.projectPoints(points, np.array(camera["rvec"]), np.array(camera["tvec"]), matrix, np.zeros(5))
    return np.asarray(pixels, dtype=float).reshape(-1, 2)


def test_true_pixels_give_the_true_area_and_verdict(
    logbook: Logbook, tmp_path: Path, true_clip: dict[str, Any]
) -> None:
    """Against the rendered clips' truth: none may be wrong, too close may be said."""
    truth = true_clip
    film = open_clip(truth["path"])
    segment = truth["segments"][0]
    turn = -1.0 if segment["camera"]["position"][1] > 0 else 1.0
    width, height = truth["display_size"]
    court_points = landmarks(INDOOR)
    pixels = truth_pixels(truth, segment, [(turn * x, turn * y, z) for x, y, z in court_points.values()])
    inside = {
        mark: (float(x), float(y))
        for mark, (x, y) in zip(court_points, pixels, strict=True)
        if 0 < x < width and 0 < y < height
    }
    fitted = fit_view(inside, INDOOR, (width, height), truth["net_height"]).view
    serves = [
        serve
        for serve in truth["serves"]
        if serve["outcome"] == "floor"
        and serve.get("landing_in_frame")
        and serve["landing_frame"] < segment["frames"][1]
    ]
    landings = truth_pixels(truth, segment, [(*serve["landing_xy"], 0.0) for serve in serves])
    table = tmp_path / "marks.csv"
    with table.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["server", "outcome", "landing_frame", "landing_x_px", "landing_y_px"])
        for serve, (x, y) in zip(serves, landings, strict=True):
            writer.writerow([serve["server"], "floor", serve["landing_frame"], float(x), float(y)])

    assert import_marks(logbook, table, film, fitted, view_to_text(fitted), from_film=False) == len(serves) > 0
    for found, serve in zip(logbook.serves(), sorted(serves, key=lambda each: each["landing_frame"]), strict=True):
        judged = judge(found, INDOOR, default_scheme(INDOOR))
        assert found.landing_point is not None
        assert (
            np.hypot(
                found.landing_point.x_m - turn * serve["landing_xy"][0],
                found.landing_point.y_m - turn * serve["landing_xy"][1],
            )
            < 0.6  # the touch's own pixel is moved as a ball seen around it would be
        )
        by_rule = "in" if serve["margin_to_outer_edge_m"] > -0.065 else "out"
        assert judged.verdict in (by_rule, "too close")
        x_m, y_m = 4.5 - serve["landing_xy"][0], -serve["landing_xy"][1]
        if serve["in_out"] == "in" and min(abs(x_m - 3), abs(x_m - 6), abs(y_m - 3), abs(y_m - 6)) > 0.2:
            column, depth = int(x_m // 3), int(y_m // 3)
            names = (("short 2", "short 3", "short 4"), ("between 1-2", "between 6-3", "between 5-4"))
            assert judged.area == (*names, ("deep 1", "deep 6", "deep 5"))[depth][column]

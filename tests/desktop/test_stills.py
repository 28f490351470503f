from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.dimensions import court_named, landmarks
from serve_marker.desktop.session import film_library
from serve_marker.desktop.share.stills import write_stills
from serve_marker.desktop.study import hover_still
from serve_marker.errors import UserError
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry, Gym, Mark, Player, Practice, Serve, StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.marking.judging import Judgement
from serve_marker.marking.landing import place
from serve_marker.report.place_words import place_words
from serve_marker.video.clip import open_clip

pytestmark = pytest.mark.usefixtures("dressed")

SIZE = (640, 360)
COURT = court_named("indoor")
FLOOR_TO_PX = np.array([[40.0, 8.0, 320.0], [0.0, -2.0, 130.0], [0.0, 0.025, 1.0]])
"""A camera behind end a, made up: the whole court lies in the picture."""


def pixel(x_m: float, y_m: float) -> tuple[float, float]:
    u, v, w = FLOOR_TO_PX @ (x_m, y_m, 1.0)
    return float(u / w), float(v / w)


@pytest.fixture
def film_path(tmp_path: Path) -> Path:
    """Twenty grey frames; frame n is (60 + 5 n) grey."""
    path = tmp_path / "evening.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=10)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        for number in range(20):
            picture = np.full((SIZE[1], SIZE[0], 3), 60 + 5 * number, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return path


@pytest.fixture
def logbook(tmp_path: Path, film_path: Path) -> Iterator[Logbook]:
    marks = {name: pixel(x, y) for name, (x, y, _z) in landmarks(COURT).items()}
    view = fit_view(marks, COURT, SIZE, 2.24).view
    size_bytes, digest = fingerprint(film_path)
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(
            Gym(id="g", name="hall"),
            StoredView(id="v", gym_id="g", name="../balcony", made_on="2026-10-06", document=view_to_text(view)),
            Player(id="p1", name="../../Marit", number=7),
            Player(id="p2", name="=1+1 <b>"),
            Practice(id="pr", date="2026-10-06", name="a/b", gym_id="g"),
            ClipEntry(
                id="c",
                practice_id="pr",
                path=str(film_path),
                size_bytes=size_bytes,
                fingerprint=digest,
                view_id="v",
            ),
        )
        serves = [
            Serve(id="s1", clip_id="c", view_id="v", player_id="p1", aim="deep 1", landing=at(-3.0, 7.0, 0.5)),
            Serve(id="s2", clip_id="c", view_id="v", player_id="p2", landing=at(3.0, 7.0, 1.5)),
            Serve(id="s3", clip_id="c", view_id="v", player_id="p1", outcome="net", landing=Mark(1.8)),
        ]
        book.put(*(place(dataclasses.replace(serve, served_to="b"), view) for serve in serves))
        yield book


def at(x_m: float, y_m: float, time_s: float) -> Mark:
    return Mark(time_s, pixel(x_m, y_m), 0.1, 0.1)


def read(path: Path) -> np.ndarray:
    still = cv2.imread(str(path))
    assert still is not None
    return cv2.cvtColor(still, cv2.COLOR_BGR2RGB)


def test_one_still_for_each_landing_and_all_landings_by_server_and_by_aim(logbook: Logbook, tmp_path: Path):
    paths = write_stills(logbook, tmp_path / "stills")
    assert [path.relative_to(tmp_path / "stills" / "2026-10-06 a-b").as_posix() for path in paths] == [
        "001 7-Marit.png",
        "002 1-1-b.png",
        "all landings-balcony.png",
        "by server/7-Marit-balcony.png",
        "by server/1-1-b-balcony.png",
        "by aim/deep 1-balcony.png",
    ]
    highs, wides, _ = zip(*(read(path).shape for path in paths), strict=True)
    assert set(wides) == {SIZE[0]}
    assert all(SIZE[1] < high < 1.4 * SIZE[1] for high in highs), "a strip of words below the picture"


@pytest.mark.parametrize(("size", "shape"), [("wall", (1080, 1920, 3)), ("phone", (1920, 1080, 3))])
def test_stills_for_screens_have_their_shape(logbook: Logbook, tmp_path: Path, size: str, shape: tuple[int, ...]):
    assert {read(path).shape for path in write_stills(logbook, tmp_path / "stills", size=size)} == {shape}


def test_a_size_that_is_none_is_one_sentence(logbook: Logbook, tmp_path: Path):
    with pytest.raises(UserError, match="choose film, wall, phone"):
        write_stills(logbook, tmp_path / "stills", size="poster")


def test_stills_of_pixels_not_square_have_their_true_shape(
    logbook: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """640x360 of pixels four wide and three high: 853x360, and 360x152 where it is small."""
    monkeypatch.setattr(
        film_library,
        "open_clip",
        lambda path, table_path: dataclasses.replace(open_clip(path, table_path=table_path), pixel_aspect=4 / 3),
    )
    paths = write_stills(logbook, tmp_path / "stills")
    highs, wides, _ = zip(*(read(path).shape for path in paths), strict=True)
    assert set(wides) == {853}
    assert all(360 < high < 504 for high in highs), "360 of the picture, and the words below it"
    small = hover_still.still_of(film_library.FilmFrames(film_library.FilmLibrary(logbook)), "s1")
    assert small is not None
    assert (small.width(), small.height()) == (360, 152)


def test_no_name_leads_out_of_the_folder(logbook: Logbook, tmp_path: Path):
    folder = tmp_path / "stills"
    for path in write_stills(logbook, folder):
        assert path.resolve().is_relative_to(folder.resolve())
        assert path.is_file()
    assert {path.name for path in folder.iterdir()} == {"2026-10-06 a-b"}


@pytest.mark.parametrize(("place_in_list", "frame"), [(0, 5), (1, 15)])
def test_still_shows_the_exact_frame(logbook: Logbook, tmp_path: Path, place_in_list: int, frame: int):
    still = read(write_stills(logbook, tmp_path / "stills")[place_in_list])
    assert np.median(still[:40]) == pytest.approx(60 + 5 * frame, abs=1)


def test_landing_is_drawn_where_it_was_clicked(logbook: Logbook, tmp_path: Path):
    still = read(write_stills(logbook, tmp_path / "stills")[0]).astype(int)
    x, y = (round(value) for value in pixel(-3.0, 7.0))
    bright = np.abs(still[y - 10 : y + 11, x - 10 : x + 11] - 85).max()
    assert bright > 40


def test_without_any_clip_it_is_named_and_no_still_is_an_error(logbook: Logbook, tmp_path: Path, film_path: Path):
    film_path.unlink()
    told: list[str] = []
    with pytest.raises(UserError, match="No still could be made"):
        write_stills(logbook, tmp_path / "stills", tell=told.append)
    assert len(told) == 1
    assert "evening.mp4" in told[0]


def test_moved_clip_is_found_beside_the_logbook(logbook: Logbook, tmp_path: Path, film_path: Path):
    film_path.rename(tmp_path / "renamed.mp4")
    assert len(write_stills(logbook, tmp_path / "stills")) == 6


def test_progress_ends_full_and_cancel_stops_between_stills(logbook: Logbook, tmp_path: Path):
    seen: list[tuple[int, int]] = []
    write_stills(logbook, tmp_path / "all", progress=lambda done, of: seen.append((done, of)))
    assert seen == [(done, 6) for done in range(1, 7)]
    answers = iter([False, True])
    written = write_stills(logbook, tmp_path / "some", cancelled=lambda: next(answers))
    assert [path.name for path in written] == ["001 7-Marit.png"]
    assert [path.name for path in (tmp_path / "some").rglob("*.*")] == ["001 7-Marit.png"]


def test_another_practice_has_none(logbook: Logbook, tmp_path: Path):
    assert write_stills(logbook, tmp_path / "stills", practice_id="other") == []


def test_folder_that_cannot_be_made_is_one_sentence(logbook: Logbook, tmp_path: Path):
    (tmp_path / "stills").write_text("in the way", encoding="utf-8")
    with pytest.raises(UserError, match="choose another folder"):
        write_stills(logbook, tmp_path / "stills")


@pytest.mark.parametrize(
    ("verdict", "missed", "sure", "words"),
    [
        ("in", "", True, "deep 1, 7.8 m deep, in, ±0.24 m"),
        ("in", "", False, "deep 1, 7.8 m deep, in, ±0.24 m, area not sure"),
        ("out", "long", True, "long, 7.8 m deep, out, ±0.24 m"),
        ("too close", "", True, "deep 1, 7.8 m deep, too close, ±0.24 m"),
        ("", "", True, "cannot tell where"),
    ],
)
def test_a_still_says_what_the_window_says_with_the_error(verdict, missed, sure, words):
    """The half-axis of the 95 % ellipse is 2.4477 standard deviations: 0.1 m along x gives 0.24 m."""
    judgement = Judgement(
        half="a", half_x_m=1.5, half_y_m=7.8, cov_half_m2=np.diag([0.01, 0.0025]), area="deep 1", area_sure=sure,
        zone="1", depth_band="deep", seam="", verdict=verdict, line_margin_m=1.2, area_margin_m=1.5, aim_hit=None,
        aim_surely=False, aim_may=False, missed=missed,
    )  # fmt: skip
    assert place_words(judgement) == words

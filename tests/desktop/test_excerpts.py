"""Excerpts: the film's own frames, each once and for its own time, drawn on by the painter of the stills."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.viewfile import view_to_text
from serve_marker.court.dimensions import landmarks
from serve_marker.desktop.share import excerpts
from serve_marker.desktop.share.excerpts import chosen_serves, write_excerpts
from serve_marker.desktop.share.exports import KINDS, Order, make, preview
from serve_marker.errors import UserError
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.fingerprint import fingerprint
from serve_marker.logbook.records import ClipEntry, Gym, Mark, Player, Practice, Serve, StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import place
from serve_marker.video.progress import Cancelled
from tests.desktop.test_stills import COURT, SIZE, at, pixel

pytestmark = pytest.mark.usefixtures("dressed")

TIMES_S = np.cumsum([0.0, *([0.1, 0.1, 0.2] * 27)])
"""Every third frame was dropped, as phones do."""
BITS, BIT_PX, ROW = 7, 16, slice(48, 64)
"""Each frame carries its own number as black and white blocks in its upper right, where nothing is drawn."""


def write_film(path: Path, times_s: np.ndarray, size: tuple[int, int] = SIZE) -> None:
    """A grey film whose every tenth frame is a key frame; others refer to later ones."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=10)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 1000)
        stream.options = {"x264-params": "keyint=10:min-keyint=10:scenecut=0:bframes=3:qp=8"}
        for number, time_s in enumerate(times_s):
            picture = np.full((size[1], size[0], 3), 128, np.uint8)
            for bit in range(BITS):
                left = size[0] - (bit + 1) * BIT_PX
                picture[ROW, left : left + BIT_PX] = 235 * (number >> bit & 1)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(1000 * time_s), Fraction(1, 1000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())


def shown(path: Path) -> tuple[list[int], np.ndarray, np.ndarray]:
    """Which frame of the film each picture is, by its blocks; when it is shown [s]; all pictures."""
    with av.open(str(path)) as made:
        frames = list(made.decode(video=0))
    pictures = np.stack([frame.to_ndarray(format="rgb24") for frame in frames])
    row = pictures[:, ROW.start + 4 : ROW.stop - 4].mean(axis=(1, 3))
    bits = [row[:, -bit * BIT_PX - 10 : -bit * BIT_PX - 6 or None].mean(axis=1) > 120 for bit in range(BITS)]
    times_s = np.array([frame.time for frame in frames])
    return sum(bit.astype(int) << place for place, bit in enumerate(bits)).tolist(), times_s, pictures


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    write_film(tmp_path / "evening.mp4", TIMES_S)
    view = fit_view({name: pixel(x, y) for name, (x, y, _) in landmarks(COURT).items()}, COURT, SIZE, 2.24).view
    size_bytes, digest = fingerprint(tmp_path / "evening.mp4")
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(
            Gym(id="g", name="hall"),
            StoredView(id="v", gym_id="g", name="balcony", made_on="2026-10-06", document=view_to_text(view)),
            Player(id="p1", name="../../Marit", number=7),
            Player(id="p2", name="Noor"),
            Practice(id="pr", date="2026-10-06", name="Tuesday", gym_id="g"),
            ClipEntry(
                id="c",
                practice_id="pr",
                path=str(tmp_path / "evening.mp4"),
                size_bytes=size_bytes,
                fingerprint=digest,
                view_id="v",
            ),
        )
        serves = [
            Serve(id="s1", clip_id="c", player_id="p1", aim="deep 1", contact=Mark(1.6), landing=at(-3.0, 7.0, 2.8)),
            Serve(id="s2", clip_id="c", player_id="p2", landing=at(3.0, 7.0, 5.6)),
            Serve(id="s3", clip_id="c", player_id="p1", outcome="net", contact=Mark(8.0)),
        ]
        serves = [dataclasses.replace(serve, view_id="v", served_to="b") for serve in serves]
        book.put(*(place(serve, view) for serve in serves))
        yield book


def test_one_file_for_each_server_holds_the_films_frames_each_once_and_for_its_own_time(logbook, tmp_path):
    paths = write_excerpts(logbook, tmp_path / "excerpts", logbook.serves())
    assert [path.name for path in paths] == ["7-Marit.mp4", "Noor.mp4"]
    assert sorted(path.name for path in (tmp_path / "excerpts").iterdir()) == ["7-Marit.mp4", "Noor.mp4"]

    frames, times_s, _ = shown(paths[0])
    first, last, net_first, net_last = (int(np.argmin(np.abs(TIMES_S - t))) for t in (0.6, 4.3, 7.0, 11.0))
    assert frames == [*range(first, last + 1), *range(net_first, min(net_last, len(TIMES_S) - 1) + 1)]
    gaps_s = np.append(np.diff(TIMES_S[first : last + 1]), 0.1)
    slowed = np.abs(TIMES_S[first : last + 1] - 2.8) <= 0.25
    assert slowed.sum() >= 3
    expected_s = np.cumsum(np.where(slowed, 4.0, 1.0) * gaps_s)
    assert np.diff(times_s)[: len(expected_s)] == pytest.approx(np.diff([0.0, *expected_s]), abs=1e-3)


def test_the_aim_is_drawn_from_the_beginning_the_landing_from_the_landing_on(logbook, tmp_path):
    (path,) = write_excerpts(logbook, tmp_path / "one.mp4", [logbook.serves()[0]])
    frames, _, pictures = shown(path)
    landing, aimed = ((round(x), round(y)) for x, y in (pixel(-3.0, 7.0), pixel(-2.0, 8.0)))

    def colourful(number: int, place: tuple[int, int]) -> bool:
        x, y = place
        patch = pictures[frames.index(number), y - 1 : y + 2, x - 1 : x + 2].reshape(-1, 3).mean(axis=0)
        return bool(np.ptp(patch) > 25)

    landed = int(np.argmin(np.abs(TIMES_S - 2.8)))
    x, y = landing
    at_landing = [
        pictures[frames.index(landed + off), y - 9 : y + 10, x - 9 : x + 10].astype(int) for off in (-2, -1, 0)
    ]
    assert colourful(frames[0], aimed)
    assert np.abs(at_landing[0] - at_landing[1]).max() < 40
    assert np.abs(at_landing[1] - at_landing[2]).max() > 100


def test_selections_are_by_practice_player_and_aim(logbook):
    assert [one.id for one in chosen_serves(logbook, "pr", ["p1"])] == ["s1", "s3"]
    assert [one.id for one in chosen_serves(logbook, aim="deep 1")] == ["s1"]
    assert chosen_serves(logbook, "another") == []


def test_without_overlay_the_films_packets_are_copied(logbook, tmp_path):
    """Nothing is encoded again: each packet of the copy is a packet of the film, byte for byte, from a key frame on."""
    paths = write_excerpts(logbook, tmp_path / "copies", logbook.serves(), overlay=False)
    assert [path.name for path in paths] == ["7-Marit evening.mp4", "Noor evening.mp4"]
    for path, spans in zip(paths, (((0.6, 4.3), (7.0, 11.0)), ((3.1, 7.1),)), strict=True):
        with av.open(str(path)) as made, av.open(str(tmp_path / "evening.mp4")) as film:
            there = [bytes(packet) for packet in film.demux(video=0) if packet.pts is not None]
            copied = [packet for packet in made.demux(video=0) if packet.pts is not None]
        assert {bytes(packet) for packet in copied} <= set(there)
        assert copied[0].is_keyframe
        assert all(later > earlier for earlier, later in pairwise(packet.dts or 0 for packet in copied))
        frames, times_s, _ = shown(path)
        for from_s, to_s in spans:
            wanted = np.flatnonzero((from_s - 1e-9 <= TIMES_S) & (to_s + 1e-9 >= TIMES_S)).tolist()
            place = frames.index(wanted[0])
            assert frames[place : place + len(wanted)] == wanted
            gaps_s = np.diff(times_s[place : place + len(wanted)])
            assert gaps_s == pytest.approx(np.diff(TIMES_S[wanted]), abs=0.002)


def test_one_copied_file_cannot_hold_two_clips(logbook, tmp_path):
    write_film(tmp_path / "late.mp4", TIMES_S[:40], (320, 180))
    size_bytes, digest = fingerprint(tmp_path / "late.mp4")
    (clip,) = logbook.clips()
    logbook.put(
        dataclasses.replace(clip, id="d", path=str(tmp_path / "late.mp4"), size_bytes=size_bytes, fingerprint=digest),
        Serve(id="s4", clip_id="d", player_id="p1", landing=Mark(3.0)),
    )
    with pytest.raises(UserError, match="one file holds one clip; name a folder"):
        write_excerpts(logbook, tmp_path / "one.mp4", logbook.serves(), overlay=False)
    (path,) = write_excerpts(logbook, tmp_path / "one.mp4", logbook.serves())
    _, _, pictures = shown(path)
    assert pictures.shape[1:3] == SIZE[::-1], "the smaller film is shown in the size of the first"


@pytest.mark.parametrize("overlay", [True, False])
def test_cancelled_work_leaves_no_half_file(logbook, tmp_path, overlay):
    asked = []

    def cancelled() -> bool:
        asked.append(1)
        return len(asked) > (60 if overlay else 1)

    with pytest.raises(Cancelled):
        write_excerpts(logbook, tmp_path / "excerpts", logbook.serves(), overlay, None, cancelled)
    left = [path.name for path in (tmp_path / "excerpts").iterdir()]
    assert left == (["7-Marit.mp4"] if overlay else ["7-Marit evening.mp4"]) or left == []
    assert not any("unfinished" in name for name in left)


@pytest.mark.parametrize("overlay", [True, False])
def test_a_disk_that_is_full_is_one_sentence_and_leaves_nothing(logbook, tmp_path, monkeypatch, overlay):
    def full(*_arguments: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(UserError, match=r"could not be written \(No space left on device\)"):
        write_excerpts(logbook, tmp_path / "excerpts", logbook.serves(), overlay)
    assert list((tmp_path / "excerpts").iterdir()) == []


def test_progress_reaches_the_end_and_missing_film_is_told(logbook, tmp_path):
    told: list[tuple[int, int]] = []
    said: list[str] = []
    write_excerpts(logbook, tmp_path / "x", logbook.serves(), progress=lambda done, of: told.append((done, of)))
    assert told[-1] == (1000, 1000)
    assert told == sorted(told)
    (tmp_path / "evening.mp4").unlink()
    with pytest.raises(UserError, match="no film of these serves is at hand"):
        write_excerpts(logbook, tmp_path / "y", logbook.serves(), tell=said.append)
    assert said == ["evening.mp4 is not where it was. Put it beside the logbook."]


def test_the_command_leaves_out_whoever_did_not_agree(run, logbook, tmp_path, monkeypatch):
    logbook.put(Consent(id="p2", filmed_from="2026-01-01", team_from="2026-01-01"))
    logbook.close()
    monkeypatch.setattr(excerpts, "LONGEST_SIDE_PX", 320)
    answer = run("excerpts", logbook.path, "-o", tmp_path / "out", "--practice", "Tuesday")
    assert answer.code == 0, answer.err
    assert 'Left out, without consent: "7 ../../Marit"' in answer.err
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["Noor.mp4"]
    assert shown(tmp_path / "out" / "Noor.mp4")[2].shape[1:3] == (180, 320)
    refused = run("excerpts", logbook.path, "-o", tmp_path / "out", "--server", "Noor", "--aim", "deep 5")
    assert (refused.code, refused.err.splitlines()[-1]) == (2, "No serves match this choice; choose others.")


def test_share_makes_the_films_of_one_server_and_cancel_leaves_no_half_file(logbook, tmp_path):
    films = {kind.key: kind for kind in KINDS if kind.key in ("excerpts", "cuts")}
    order = Order(player_id="p2")
    said = make(logbook, films["cuts"], order, tmp_path, lambda *_: None, lambda: False)
    assert said == ([tmp_path / "film as it is" / "Noor evening.mp4"], [])
    said = make(logbook, films["excerpts"], order, tmp_path, lambda *_: None, lambda: False)
    assert said == ([tmp_path / "excerpts" / "Noor.mp4"], [])
    assert make(logbook, films["excerpts"], Order(), tmp_path / "b", lambda *_: None, lambda: True) == ([], [])
    assert list((tmp_path / "b" / "excerpts").iterdir()) == []
    seen = preview(logbook, films["excerpts"], order, lambda: False)
    assert seen.words == "A landing, as the film shows it"
    assert seen.pixels is not None

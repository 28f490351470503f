"""Indexes that contradict themselves are doubted, others are not, and the coach is told once and again."""

from __future__ import annotations

import random
import runpy
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from serve_marker.video.clip import open_clip
from serve_marker.video.doubtful_times import doubt_of, doubt_of_file
from serve_marker.video.edit_list import frames_shown
from serve_marker.video.frames import FrameReader
from serve_marker.video.info import clip_facts
from serve_marker.video.mp4_index import MOST_FRAMES, Edit, Packed, TrackIndex

boxes: dict[str, Any] = runpy.run_path(str(Path(__file__).with_name("boxes.py")))
number_in, with_number = boxes["number_in"], boxes["with_number"]
GROUP = {"x264-params": "keyint=15:min-keyint=15:scenecut=0:bframes=2"}
SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
EVEN = [20 * k for k in range(60)]
UNEVEN = np.cumsum([20 + (k % 7 == 3) * 20 + k % 3 for k in range(60)]).tolist()
PAUSED = [*EVEN[:30], *[stamp + 2000 for stamp in EVEN[30:]]]


def packed(*runs: tuple[int, int]) -> Packed:
    """(count, value) of each run."""
    counts, values = np.array(runs, dtype=np.int64).T
    return Packed(counts, values)


def made(**changed: Any) -> TrackIndex:
    """Twelve frames 40 ms apart: four times I P B, decoded at 0 40 80 ..., shown at 40 120 80, 160 240 200, ..."""
    index = {
        "ticks_s": 1000,
        "media_length": 480,
        "movie_ticks_s": 600,
        "movie_length": 288,
        "track_length": 288,
        "edits": (Edit(288, 40, 1.0),),
        "samples": 12,
        "deltas": packed((12, 40)),
        "offsets": packed(*[(1, 40), (1, 80), (1, 0)] * 4),
    }
    return TrackIndex(**{**index, **changed})


def moved(sample: int, ticks: int) -> dict[str, Any]:
    offsets = [40, 80, 0] * 4
    offsets[sample] += ticks
    return {"offsets": packed(*((1, offset) for offset in offsets))}


def straight(**changed: Any) -> TrackIndex:
    """The same frames shown as decoded."""
    return made(**{"offsets": None, "edits": (), **changed})


@pytest.mark.parametrize(
    "index",
    [
        made(),
        straight(),
        straight(media_length=440),
        straight(media_length=0, movie_length=0, track_length=0),
        straight(media_length=7),
        straight(track_length=9, movie_length=900, edits=(Edit(288, 0, 1.0),)),
        straight(movie_length=138, track_length=138, edits=(Edit(138, 90, 1.0),)),
        straight(movie_length=72, track_length=72, edits=(Edit(72, 0, 1.0),)),
        straight(ticks_s=900, movie_length=288, track_length=288, edits=(Edit(288, 0, 1.0),)),
        straight(movie_length=400, track_length=400, edits=(Edit(100, 0, 1.0), Edit(300, 200, 0.25))),
        straight(movie_length=348, track_length=348, edits=(Edit(60, -1, 1.0), Edit(288, 0, 1.0))),
        straight(deltas=packed((4, 40), (1, 41), (1, 900), (6, 40)), media_length=1341, track_length=805),
        straight(samples=1, deltas=packed((1, 40))),
    ],
    ids=[
        "reordered",
        "straight",
        "last frame not counted",
        "no lengths",
        "media length alone spoilt",
        "track and movie length spoilt, the edit list says it too",
        "cut by the edit list",
        "nine frames cut off",
        "22.5 frames a second, cut by the edit list",
        "slow motion by the edit list",
        "starts late",
        "uneven, lengths of the movie not brought up to date",
        "one frame",
    ],
)
def test_what_agrees_is_not_doubted(index: TrackIndex) -> None:
    assert doubt_of(index) is None


@pytest.mark.parametrize(
    ("index", "why"),
    [
        (made(samples=13), "it lists 13 frames and times for 12"),
        (made(offsets=packed((11, 40), (2, 0))), "it lists 12 frames and times for 13"),
        (straight(deltas=packed((11, 40))), "it lists 12 frames and times for 11"),
        (straight(deltas=packed((12, 44))), "its frames last 0.528 s, its header says 0.480 s"),
        (straight(ticks_s=2000), "its frames last 0.240 s, its header says 0.480 s"),
        (straight(ticks_s=0), "its clock has no rate"),
        (
            straight(deltas=packed((5, 40), (1, 44), (6, 40))),
            "its frames last 0.484 s, its header says 0.480 s",
        ),
        (
            # 1000 without its bit of 512: else a film of 12 frames a second, cut to half.
            straight(ticks_s=488, edits=(Edit(288, 0, 1.0),)),
            "its frames last 0.984 s, its header says 0.480 s",
        ),
        (
            straight(ticks_s=250, edits=(Edit(288, 0, 1.0),)),
            "its frames last 1.920 s, its header says 0.480 s",
        ),
    ],
    ids=[
        "sizes",
        "offsets",
        "deltas",
        "gap",
        "fast clock",
        "stopped clock",
        "one gap",
        "slow clock looks like a cut",
        "clock too slow for any camera",
    ],
)
def test_contradictions_are_doubted_everywhere(index: TrackIndex, why: str) -> None:
    doubt = doubt_of(index)
    assert doubt is not None
    assert (doubt.why, doubt.stamps.tolist()) == (why, [])


@pytest.mark.parametrize(
    ("sample", "ticks", "stamps"),
    [
        # Sample 5 is shown at 200. Moved to 210 it leaves 200 empty: those beside, 160 and 210, are in doubt.
        (5, 10, [120, 170]),
        # Moved onto 240, where sample 4 is: 160 and both at 240 stand beside the empty 200.
        (5, 40, [120, 200, 200]),
        # Moved to 1000, past the end: 160 and 240 stand beside the empty place, the last one is 1000.
        (5, 800, [120, 200]),
        # The last one shown is sample 10 at 480; moved to 500 it leaves 480, beside 440.
        (10, 20, [400, 460]),
    ],
)
def test_a_frame_out_of_step_is_named(sample: int, ticks: int, stamps: list[int]) -> None:
    doubt = doubt_of(made(**moved(sample, ticks)))
    assert doubt is not None
    assert set(stamps) <= set(doubt.stamps.tolist())
    assert len(doubt.stamps) <= len(stamps) + 1


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, make_clip: Callable[..., Path]) -> bytes:
    place = tmp_path_factory.mktemp("whole")
    return make_clip(
        place / "whole.mp4", 60, b_frames=2, options=GROUP, container={"movflags": "faststart"}
    ).read_bytes()


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory, make_clip: Callable[..., Path]) -> bytes:
    return make_clip(tmp_path_factory.mktemp("plain") / "plain.mp4", stamps=UNEVEN).read_bytes()


FIELDS = [
    ("mdhd", 12, lambda n: n ^ 1 << 14, "its frames last"),
    ("mdhd", 12, lambda n: n ^ 1 << 11, "its frames last"),
    ("stts", 4, lambda n: n + 9, "cut short"),
    ("stts", 8, lambda n: n ^ 1, "frames and times for"),
    ("stts", 12, lambda n: n ^ 1 << 8, "its frames last"),
    ("stsz", 8, lambda n: n ^ 1 << 1, "frames and times for"),
]


@pytest.mark.parametrize("film", ["whole", "plain"])
@pytest.mark.parametrize(("kind", "at", "change", "says"), FIELDS)
def test_every_field_of_a_real_film(
    request: pytest.FixtureRequest, tmp_path: Path, film: str, kind: str, at: int, change: Any, says: str
) -> None:
    content, name = request.getfixturevalue(film), kind.encode()
    path = tmp_path / "serves.mp4"
    path.write_bytes(with_number(content, name, at, change(number_in(content, name, at))))
    doubt = doubt_of_file(path, 1)
    assert doubt is not None
    assert says in doubt.why


@pytest.mark.parametrize(("kind", "at"), [("mvhd", 16), ("tkhd", 20), ("mdhd", 16), ("elst", 8)])
def test_a_spoilt_length_that_others_contradict_is_no_cause_for_doubt(
    whole: bytes, tmp_path: Path, kind: str, at: int
) -> None:
    path = tmp_path / "serves.mp4"
    path.write_bytes(with_number(whole, kind.encode(), at, number_in(whole, kind.encode(), at) ^ 1 << 9))
    assert doubt_of_file(path, 1) is None


def test_a_moved_frame_is_told_and_hatched_also_at_the_second_opening(whole: bytes, tmp_path: Path) -> None:
    path = tmp_path / "serves.mp4"
    entry = 8 + 8 * 10 + 4
    path.write_bytes(with_number(whole, b"ctts", entry, number_in(whole, b"ctts", entry) + 64))
    whole_path = tmp_path / "whole.mp4"
    whole_path.write_bytes(whole)
    true = set(open_clip(whole_path).stamps.tolist())
    for _ in range(2):
        clip = open_clip(path, table_path=tmp_path / "kept.times")
        wrong = [i for i, stamp in enumerate(clip.stamps.tolist()) if stamp not in true]
        assert len(wrong) == 1
        assert any(stretch.first <= wrong[0] <= stretch.last for stretch in clip.damaged)
        assert {stretch.why for stretch in clip.damaged} == {"times are doubtful"}
        assert sum(stretch.last - stretch.first + 1 for stretch in clip.damaged) <= 3
        assert clip.warnings == (
            "What serves.mp4 says of its times contradicts itself, so they may be wrong;"
            " copy it again from the camera before trusting paces.",
        )
    facts = clip_facts(clip)
    assert facts["damaged"][0]["why"] == "times are doubtful"
    assert facts["times_doubted"] == "some frames are out of step with the others"
    assert facts["warnings"] == list(clip.warnings)


@pytest.mark.parametrize("container", ["plain", "fragments", "negative offsets", "no edit list", "coarse clocks"])
@pytest.mark.parametrize(
    "stamps", [EVEN, UNEVEN, PAUSED, [s + 900 for s in UNEVEN]], ids=["even", "uneven", "paused", "late"]
)
@pytest.mark.parametrize("b_frames", [0, 3])
def test_no_false_alarm_whatever_the_dialect(
    tmp_path: Path, make_clip: Callable[..., Path], container: str, stamps: list[int], b_frames: int
) -> None:
    options = {
        "plain": {},
        "fragments": {"movflags": "frag_keyframe+empty_moov"},
        "negative offsets": {"movflags": "negative_cts_offsets"},
        "no edit list": {"use_editlist": "0"},
        "coarse clocks": {"movie_timescale": "600", "video_track_timescale": "600"},
    }[container]
    if container == "no edit list" and stamps[0]:
        pytest.skip("without an edit list the writer spoils the first frame's time, which is found")
    path = make_clip(tmp_path / "phone.mov", stamps=stamps, b_frames=b_frames, sound=True, container=options)
    assert open_clip(path).warnings == ()


@pytest.mark.parametrize("rate", [Fraction(1, 240), Fraction(1001, 60000), Fraction(1, 25)])
@pytest.mark.parametrize("b_frames", [0, 2])
def test_no_false_alarm_at_other_rates(
    tmp_path: Path, make_clip: Callable[..., Path], rate: Fraction, b_frames: int
) -> None:
    stamps = [round(k * rate * 90000) for k in range(50)]
    path = make_clip(tmp_path / "rate.mp4", stamps=stamps, time_base=Fraction(1, 90000), b_frames=b_frames)
    assert open_clip(path).warnings == ()


@pytest.mark.parametrize("fps", ["18", "22", "27", "57/2", "33", "241/2", "30", "60"])
@pytest.mark.parametrize("left_over", [2, 7, 20])
def test_no_false_alarm_for_a_film_cut_at_its_end_by_the_edit_list(
    tmp_path: Path, make_clip: Callable[..., Path], fps: str, left_over: int
) -> None:
    path = make_clip(tmp_path / "dark.mp4", stamps=range(50), time_base=1 / Fraction(fps), b_frames=2)
    length = round(1000 * (50 - left_over) / Fraction(fps))
    content = path.read_bytes()
    for kind, at in ((b"elst", 8), (b"tkhd", 20), (b"mvhd", 16)):
        content = with_number(content, kind, at, length)
    path.write_bytes(content)
    assert open_clip(path).warnings == ()


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
@pytest.mark.parametrize("from_s", [0.0, 0.5, 1.0])
def test_no_false_alarm_for_a_copy_cut_without_encoding(
    tmp_path: Path, make_clip: Callable[..., Path], codec: str, from_s: float
) -> None:
    quiet = {"x265-params": "log-level=none:keyint=24"} if codec == "libx265" else {}
    source = make_clip(tmp_path / "whole.mp4", stamps=UNEVEN, codec=codec, b_frames=3, options=quiet)
    assert open_clip(cut_copy(source, tmp_path / "cut.mp4", from_s, 2.0)).warnings == ()


def cut_copy(source: Path, path: Path, from_s: float, until_s: float) -> Path:
    """The packets from the key frame before `from_s` on, in a new container that starts there by its edit list."""
    with av.open(str(source)) as film, av.open(str(path), "w") as out:
        pictures = film.streams.video[0]
        track: Any = out.add_stream_from_template(pictures)
        ticks = round(from_s / Fraction(pictures.time_base or 1))
        film.seek(ticks, stream=pictures)
        for packet in film.demux(pictures):
            if packet.pts is None or packet.dts is None or packet.pts * Fraction(packet.time_base or 1) > until_s:
                break
            packet.pts, packet.dts, packet.stream = packet.pts - ticks, packet.dts - ticks, track
            out.mux(packet)
    return path


def test_a_picture_without_a_time_is_not_shown_at_another_ones(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "camcorder.ts", 40, options={"x264-params": "keyint=10:scenecut=0"})
    whole = open_clip(path)
    path.write_bytes(without_stamp(path.read_bytes(), 21))
    clip = open_clip(path)
    assert (clip.frame_count, clip.frames_without_time) == (39, 1)
    with FrameReader(clip) as reader:
        for i in range(clip.frame_count):
            true = whole.frame_at(clip.time_s(i) + clip.starts_s - whole.starts_s)
            assert read_number(reader.frame(i)) == true


def without_stamp(content: bytes, which: int) -> bytes:
    """Say of one picture's PES header (ISO/IEC 13818-1, 2.4.3.6, from memory) that no time is in it."""
    at = -1
    for _ in range(which + 1):
        at = content.index(b"\x00\x00\x01\xe0", at + 1)
    return content[: at + 7] + bytes([content[at + 7] & 0x3F]) + content[at + 8 :]


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.mp4")), ids=lambda path: path.name)
def test_the_sample_clips_are_not_doubted(path: Path) -> None:
    assert open_clip(path).warnings == ()


@pytest.mark.parametrize(
    ("edits", "count"),
    [
        # Frames at 0 40 80 120 160 200 ms; an edit list in milliseconds lets through what lies within, at least.
        ([(240, 0)], 6),
        ([(121, 80)], 3),
        ([(20, -1), (81, 0), (41, 200)], 3),
        ([], MOST_FRAMES),
    ],
)
def test_frames_an_edit_list_shows(tmp_path: Path, edits: list[tuple[int, int]], count: int) -> None:
    path = tmp_path / "made.mp4"
    path.write_bytes(boxes["movie"]([(6, 40)], None, 6, 1000, 240, edits=edits))
    assert frames_shown(path, 1) == count


def test_a_vanished_file_is_for_others_to_tell(tmp_path: Path) -> None:
    assert doubt_of_file(tmp_path / "gone.mp4", 1) is None


def test_one_moved_frame_is_found_in_three_hours() -> None:
    """Sixty frames a second, uneven and reordered. The other doubtful stamp is the frame before the empty place."""
    rng = random.Random(4)
    deltas = np.array([rng.choice((1499, 1500, 1501)) for _ in range(648_000)], dtype=np.int64)
    decoded = np.concatenate([[0], np.cumsum(deltas)[:-1]])
    shown = np.concatenate([decoded[1:], [decoded[-1] + 1500]])
    shown[400_000] += 700
    one_each = np.ones(648_000, dtype=np.int64)
    length = int(deltas.sum())
    doubt = doubt_of(
        made(
            ticks_s=90_000,
            media_length=length,
            movie_length=length // 150,
            track_length=length // 150,
            edits=(),
            samples=648_000,
            deltas=Packed(one_each, deltas),
            offsets=Packed(one_each, shown - decoded),
        )
    )
    assert doubt is not None
    assert shown[400_000] in doubt.stamps
    assert len(doubt.stamps) == 2

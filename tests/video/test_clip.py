"""What a clip says about itself, against clips made on the spot and the rendered clips' own truth."""

from __future__ import annotations

import shutil
import socket
import struct
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.glance import glance

ONE = 1 << 16
# ISO/IEC 14496-12, 8.3.2: a stored point (p, q) is shown at (a p + c q, b p + d q), y down.
QUARTER_TURNS = {0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}


def matrix(a: int, b: int, c: int, d: int) -> list[int]:
    return [a * ONE, b * ONE, 0, c * ONE, d * ONE, 0, 0, 0, 1 << 30]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory, make_clip: Callable[..., Path]) -> Path:
    return make_clip(tmp_path_factory.mktemp("plain") / "plain.mp4", b_frames=2, sound=True)


def test_times_are_the_containers_own(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    stamps = [900, 920, 941, 960, 1040, 1060, 1080]
    clip = open_clip(make_clip(tmp_path / "uneven.mp4", stamps=stamps, b_frames=2))
    assert clip.times_s.tolist() == pytest.approx([0, 20 / 600, 41 / 600, 0.1, 140 / 600, 160 / 600, 0.3], abs=1e-9)
    assert clip.variable_rate
    assert clip.frame_count == 7
    assert clip.gaps_s(4) == pytest.approx((80 / 600, 20 / 600))
    assert np.isnan(clip.gaps_s(0)[0])
    assert np.isnan(clip.gaps_s(6)[1])
    assert clip.duration_s == pytest.approx(0.3 + 20 / 600)
    with pytest.raises(ValueError, match="read-only"):
        clip.times_s[0] = 1


@pytest.mark.parametrize(
    ("time_s", "index"), [(-1.0, 0), (0.0, 0), (0.016, 0), (0.0175, 1), (0.1, 3), (0.165, 3), (0.168, 4), (9.0, 6)]
)
def test_nearest_frame(tmp_path: Path, make_clip: Callable[..., Path], time_s: float, index: int) -> None:
    clip = open_clip(make_clip(tmp_path / "uneven.mp4", stamps=[0, 20, 41, 60, 140, 160, 180]))
    assert clip.frame_at(time_s) == index


def test_even_rate_with_rounded_stamps_is_not_variable(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    stamps = [round(k * 1000 / 59.94) for k in range(30)]
    assert not open_clip(make_clip(tmp_path / "even.mkv", stamps=stamps, time_base=Fraction(1, 1000))).variable_rate


def test_a_variable_rate_of_thirty_is_told_as_thirty(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    """Frames of a 30 a second camera come up to 6 ms early or late, and a third of them are dropped, as phones do."""
    rng = np.random.default_rng(8)
    kept = np.flatnonzero(rng.random(240) > 0.33)
    stamps = np.round(1000 / 30 * kept + rng.uniform(-6, 6, len(kept))).astype(int) + 10
    clip = open_clip(make_clip(tmp_path / "phone.mkv", stamps=stamps.tolist(), time_base=Fraction(1, 1000)))
    assert clip.variable_rate
    assert f"{clip.shown_fps:.0f}" == "30"


def test_a_tag_that_is_not_utf8_hides_neither_the_film_nor_its_other_tags(
    tmp_path: Path, make_clip: Callable[..., Path]
) -> None:
    path = make_clip(tmp_path / "tagged.mp4", tags={"title": "Training XXXX", "com.android.capture.fps": "240.0"})
    written = path.read_bytes()
    assert b"XXXX" in written
    path.write_bytes(written.replace(b"XXXX", b"\xfc\xe4 \xff"))

    assert open_clip(path).capture_rate == 240.0


def test_one_frame(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    clip = open_clip(make_clip(tmp_path / "one.mp4", stamps=[0]))
    assert (clip.frame_count, clip.frame_at(3.0), clip.keyframes) == (1, 0, (0,))


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
def test_upright_for_every_display_matrix(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int], turn_deg: int, mirrored: bool
) -> None:
    def stored(upright: Any) -> Any:
        lying = np.rot90(upright, turn_deg // 90)
        return lying[:, ::-1] if mirrored else lying

    a, b, c, d = QUARTER_TURNS[turn_deg]
    sign = -1 if mirrored else 1
    path = make_clip(tmp_path / "turned.mp4", 6, stored=stored, display_matrix=matrix(sign * a, sign * b, c, d))
    clip = open_clip(path)
    assert (clip.rotation_deg, clip.mirrored, clip.width, clip.height) == (turn_deg, mirrored, 160, 96)
    with FrameReader(clip) as reader:
        assert [read_number(reader.frame(i)) for i in range(6)] == list(range(6))


@pytest.mark.parametrize(("turn_deg", "upright"), [(0, 4 / 3), (90, 3 / 4), (180, 4 / 3), (270, 3 / 4)])
def test_pixels_that_are_not_square_are_told_of_the_upright_picture(
    tmp_path: Path, make_clip: Callable[..., Path], turn_deg: int, upright: float
) -> None:
    """A quarter turn lays a pixel four wide and three high on its side: three wide and four high."""
    lying = matrix(*QUARTER_TURNS[turn_deg])
    path = make_clip(tmp_path / "wide.mp4", 3, display_matrix=lying, pixel_aspect=Fraction(4, 3))
    clip = open_clip(path)
    assert clip.pixel_aspect == pytest.approx(upright)
    assert (clip.width, clip.height) == ((160, 96) if turn_deg in (0, 180) else (96, 160))
    assert "wide.mp4 has pixels that are not square. It is shown in its true shape." in clip.warnings
    assert glance(path).pixel_aspect == clip.pixel_aspect


@pytest.mark.parametrize("told", [None, Fraction(1), Fraction(1280, 1281), Fraction(1, 8)])
def test_pixels_almost_square_or_beyond_belief_are_square(
    tmp_path: Path, make_clip: Callable[..., Path], told: Fraction | None
) -> None:
    clip = open_clip(make_clip(tmp_path / "plain.mp4", 3, pixel_aspect=told))
    assert clip.pixel_aspect == 1
    assert clip.warnings == ()


def test_odd_angle_warns(tmp_path: Path, make_clip: Callable[..., Path]) -> None:
    tilted = [round(0.98 * ONE), round(0.2 * ONE), 0, round(-0.2 * ONE), round(0.98 * ONE), 0, 0, 0, 1 << 30]
    clip = open_clip(make_clip(tmp_path / "tilted.mp4", 3, display_matrix=tilted))
    assert clip.rotation_deg == 0
    assert "odd angle" in clip.warnings[0]


def test_frames_hidden_by_an_edit_list_do_not_count(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    path = make_clip(tmp_path / "trimmed.mp4", 40, b_frames=2, options={"bf": "2", "sc_threshold": "0"})
    content = bytearray(path.read_bytes())
    at = content.index(b"elst") + 12
    span, start = struct.unpack(">Ii", content[at : at + 8])
    hidden = 17
    ticks_a_frame = int(open_clip(path).stamps[1] - open_clip(path).stamps[0])
    content[at : at + 8] = struct.pack(">Ii", span - round(hidden * 1000 / 30), start + hidden * ticks_a_frame)
    path.write_bytes(content)
    clip = open_clip(path)
    assert clip.frame_count == 40 - hidden
    assert clip.keyframes == (24 - hidden, 36 - hidden)
    with FrameReader(clip) as reader:
        backwards = [read_number(reader.frame(i)) for i in reversed(range(clip.frame_count))]
    assert backwards == list(range(39, hidden - 1, -1))


def test_frames_before_the_first_key_frame_do_not_count(
    tmp_path: Path, make_clip: Callable[..., Path], sequential: Callable[..., Any], read_number: Callable[..., int]
) -> None:
    packet_bytes = 188
    whole = make_clip(tmp_path / "whole.ts", 40, b_frames=0, options={"sc_threshold": "0"})
    content = whole.read_bytes()
    late = tmp_path / "late.ts"
    late.write_bytes(content[: 3 * packet_bytes] + content[len(content) // 4 // packet_bytes * packet_bytes :])
    clip = open_clip(late)
    shown = sequential(late)
    assert 0 < clip.frame_count == len(shown) < 40
    with FrameReader(clip) as reader:
        assert [read_number(reader.frame(i)) for i in range(clip.frame_count)] == [read_number(p) for _, p in shown]


@pytest.mark.parametrize(
    "name", ["%03d.mp4", "http:serve.mp4", "-o.mp4", "a b'\"\n,;.mp4", "<b>=1+1.mp4", "Überaufschläge 🏐.mp4"]
)
def test_names_with_any_character(tmp_path: Path, plain: Path, name: str) -> None:
    clip = open_clip(shutil.copy(plain, tmp_path / name))
    with FrameReader(clip) as reader:
        assert reader.frame(3).shape == (96, 160, 3)


def test_cut_off_clip_opens_as_far_as_it_goes(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    whole = make_clip(tmp_path / "whole.mkv", 200, group=40)
    content = whole.read_bytes()
    cut = tmp_path / "cut.mkv"
    cut.write_bytes(content[: len(content) * 2 // 3])
    clip = open_clip(cut)
    assert 60 < clip.frame_count < 200
    with FrameReader(clip) as reader:
        assert read_number(reader.frame(clip.frame_count - 1)) == clip.frame_count - 1


def test_cut_off_clip_with_its_index_first_says_so(
    tmp_path: Path, make_clip: Callable[..., Path], read_number: Callable[..., int]
) -> None:
    whole = make_clip(tmp_path / "whole.mp4", 200, group=40, b_frames=2, container={"movflags": "faststart"})
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size * 2 // 3])
    clip = open_clip(cut)
    assert len(clip.warnings) == 1
    assert f"was cut off or breaks off. Only its first {clip.frame_count} frames" in clip.warnings[0]
    with FrameReader(clip) as reader:
        assert read_number(reader.frame(clip.frame_count - 4)) == clip.frame_count - 4


def _missing(path: Path, plain: Path) -> None:
    path.unlink(missing_ok=True)


def _empty(path: Path, plain: Path) -> None:
    path.write_bytes(b"")


def _text(path: Path, plain: Path) -> None:
    path.write_text("Ines,float,deep 1\n" * 50)


def _folder(path: Path, plain: Path) -> None:
    path.mkdir()


def _without_index(path: Path, plain: Path) -> None:
    content = plain.read_bytes()
    path.write_bytes(content[: content.index(b"moov") - 100])


def _without_decoder(path: Path, plain: Path) -> None:
    path.write_bytes(plain.read_bytes().replace(b"avc1", b"zzz9"))


def _pictures_zeroed(path: Path, plain: Path) -> None:
    content = bytearray(plain.read_bytes())
    start = content.index(b"mdat") + 4
    end = content.index(b"moov") - 4
    content[start:end] = bytes(end - start)
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (_missing, "is not there. Check the name"),
        (_empty, "is empty; copy it again"),
        (_text, "is not a video that can be read; choose a video file"),
        (_folder, "is a folder; choose the video file inside"),
        (_without_index, "is damaged or was cut off, so no frame"),
        (_without_decoder, "This program cannot decode the pictures in"),
        (_pictures_zeroed, "can be decoded"),
    ],
)
def test_faults_are_one_sentence(tmp_path: Path, plain: Path, spoil: Callable[[Path, Path], None], says: str) -> None:
    path = tmp_path / "serves.mp4"
    spoil(path, plain)
    with pytest.raises(UserError, match=says) as caught:
        open_clip(path)
    assert str(caught.value).count("\n") == 0
    assert "serves.mp4" in str(caught.value)


def test_a_pipe_is_refused_and_not_waited_for(pipe: Path, in_time: Callable[..., Any]) -> None:
    for look in (open_clip, glance):
        with pytest.raises(UserError, match=r"^pipe\.mp4 is a pipe, not a film; save the film as a file"):
            in_time(look, pipe)


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="this system has no sockets in folders")
def test_a_socket_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("live.mp4")
        with pytest.raises(UserError, match=r"^live\.mp4 is a socket, not a film; choose the video file\.$"):
            open_clip("live.mp4")


@pytest.mark.skipif(not Path("/dev/zero").is_char_device(), reason="this system has no devices in folders")
def test_a_device_is_refused_by_the_name_that_was_given(tmp_path: Path, in_time: Callable[..., Any]) -> None:
    link = tmp_path / "camera.mp4"
    link.symlink_to("/dev/zero")
    with pytest.raises(UserError, match=r"^camera\.mp4 is a device, not a film; copy the film"):
        in_time(open_clip, link)


def test_sound_only(tmp_path: Path, make_sound: Callable[[Path], Path]) -> None:
    with pytest.raises(UserError, match=r"talk\.m4a has no picture in it"):
        open_clip(make_sound(tmp_path / "talk.m4a"))


def test_rendered_clips_say_what_their_truth_says(true_clip: dict[str, Any]) -> None:
    truth = true_clip
    clip = open_clip(truth["path"])
    assert clip.frame_count == truth["n_frames"]
    assert [clip.width, clip.height] == truth["display_size"]
    assert clip.rotation_deg == truth.get("rotation_metadata_deg", 0)
    assert clip.variable_rate == truth["vfr"]
    assert clip.codec == "h264"
    assert np.abs(clip.times_s - np.array(truth["frame_times"])).max() < 1e-4
    assert clip.warnings == ()

"""Makes the torture folder: what phones and cards do to films, each with what has to come of it.

`python tests/video/torture.py FOLDER` writes the files and `expected.json` beside them. Frame numbers are drawn into
the frames as blocks that survive compression.
"""

from __future__ import annotations

import argparse
import json
import runpy
import shutil
import struct
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

drawing = runpy.run_path(str(Path(__file__).with_name("conftest.py")))
make_clip: Callable[..., Path] = drawing["make_clip"]

ONE, TICKS = 1 << 16, 600
EVEN = [20 * k for k in range(30)]
# ISO/IEC 14496-12, 8.3.2: a b / c d of the display matrix for a turn to the right by so many degrees.
TURNS = {0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}
HOLE_BYTES = 4_400_000_000
X265 = "log-level=none:keyint=12"
HDR = {"x265-params": f"{X265}:colorprim=bt2020:transfer=smpte2084:colormatrix=bt2020nc"}
HLG = {"x265-params": f"{X265}:colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc"}


@dataclass
class Case:
    """What a file has to show: `numbers` of its frames at `times_s`, or the `sentence` that refuses it.

    `warning` is part of a sentence said beside the pictures; frames at `may_lack` may be refused or look wrong.
    """

    name: str
    numbers: list[int] = field(default_factory=list)
    times_s: list[float] = field(default_factory=list)
    size: tuple[int, int] = (160, 96)
    rotation_deg: int = 0
    mirrored: bool = False
    sentence: str = ""
    warning: str = ""
    may_lack: list[int] = field(default_factory=list)
    enlarged: int = 1


def shows(name: str, stamps: Sequence[int] = EVEN, ticks: int = TICKS, **more: Any) -> Case:
    """All frames, numbered from 0, at these stamps."""
    numbers = list(range(len(stamps)))
    return Case(name, numbers, [(stamp - stamps[0]) / ticks for stamp in stamps], **more)


def make_folder(folder: Path) -> list[Case]:
    """Write all files into `folder`; returns what is expected of them."""
    folder.mkdir(parents=True, exist_ok=True)
    cases = [*_kinds(folder), *_times(folder), *_turned(folder), *_large(folder), *_faults(folder)]
    (folder / "expected.json").write_text(json.dumps([asdict(case) for case in cases], indent=1))
    return cases


def _kinds(folder: Path) -> list[Case]:
    """Packings and codecs, and names."""
    open_groups = {"x264-params": "open-gop=1:keyint=12:scenecut=0"}
    recipes: dict[str, dict[str, Any]] = {
        "h264 b-frames.mp4": {"b_frames": 3, "sound": True},
        "h264 open groups.mov": {"b_frames": 3, "options": open_groups},
        "h264 ten bit.mp4": {"pixel_format": "yuv420p10le"},
        "hevc.mp4": {"codec": "libx265", "b_frames": 3, "options": {"x265-params": X265}},
        "hevc open groups.mkv": {"codec": "libx265", "b_frames": 3, "options": {"x265-params": f"{X265}:open-gop=1"}},
        "hevc ten bit hdr.mov": {"codec": "libx265", "pixel_format": "yuv420p10le", "options": HDR},
        "hevc ten bit hlg.mp4": {"codec": "libx265", "pixel_format": "yuv420p10le", "options": HLG},
        "vp9.webm": {"codec": "libvpx-vp9", "options": {"auto-alt-ref": "1", "lag-in-frames": "10"}},
        "motion jpeg.mov": {"codec": "mjpeg", "pixel_format": "yuvj420p"},
        "Überaufschläge 'Nr. 1' %03d;\n.mp4": {},
    }
    for name, recipe in recipes.items():
        make_clip(folder / name, 30, **recipe)
    odd = make_clip(folder / "odd size.mp4", 30, pixel_format="yuv444p", stored=lambda picture: picture[:-1, :-1])
    return [*(shows(name) for name in recipes), shows(odd.name, size=(159, 95))]


def _times(folder: Path) -> list[Case]:
    """Rates and starts."""
    uneven = np.cumsum([20 + k % 5 * 7 for k in range(30)]).tolist()
    missing = [20 * k for k in range(30) if not 11 <= k < 17]
    hours = [TICKS * 400 * k for k in range(30)]
    fast = list(range(30))
    slowed = make_clip(folder / "slow motion.mp4", 30, b_frames=2)
    written_rate(slowed, 240)
    backward = make_clip(folder / "time goes back.mkv", 30, codec="mjpeg", pixel_format="yuvj420p")
    order = earlier(backward, 20, 0.31)
    make_clip(folder / "variable rate.mp4", stamps=uneven, b_frames=3)
    make_clip(folder / "frames left out.mp4", stamps=missing)
    make_clip(folder / "starts late.mkv", stamps=[stamp + 900 for stamp in EVEN], b_frames=2)
    make_clip(folder / "several hours.mp4", stamps=hours)
    make_clip(folder / "240 fps.mov", stamps=fast, time_base=Fraction(1, 240), b_frames=2)
    hidden = 17
    by_list = make_clip(folder / "trimmed by edit list.mp4", 30, b_frames=2, options={"sc_threshold": "0"})
    trimmed(by_list, hidden)
    return [
        shows("variable rate.mp4", uneven),
        shows("frames left out.mp4", missing),
        shows("starts late.mkv"),
        shows("several hours.mp4", hours),
        shows(slowed.name, warning="filmed at 240 frames a second and shown at 30"),
        Case(
            backward.name,
            order,
            sorted([k / 30 for k in range(30) if k != 20] + [0.31]),
            warning="or an earlier one",
            may_lack=list(range(10, 21)),
        ),
        shows("240 fps.mov", fast, ticks=240),
        Case(by_list.name, list(range(hidden, 30)), [k / 30 for k in range(30 - hidden)]),
    ]


def written_rate(path: Path, fps: float) -> None:
    """Let the container say how many frames a second the camera took."""
    partly = path.with_name(f"part of {path.name}")
    with av.open(str(path)) as source, av.open(str(partly), "w", options={"movflags": "use_metadata_tags"}) as out:
        out.metadata["com.android.capture.fps"] = f"{fps:.6f}"
        pictures = source.streams.video[0]
        film: Any = out.add_stream_from_template(pictures)
        for packet in source.demux(pictures):
            if packet.dts is not None:
                packet.stream = film
                out.mux(packet)
    partly.replace(path)


def earlier(path: Path, which: int, time_s: float) -> list[int]:
    """Give one block of a Matroska film (in milliseconds) an earlier time; returns its frames in order of time."""
    content = bytearray(path.read_bytes())
    with av.open(str(path)) as container:
        packet = [p for p in container.demux(video=0) if p.size][which]
        picture, ticks = bytes(packet), packet.pts
    at = content.index(picture) - 3
    (since_cluster,) = struct.unpack(">h", content[at : at + 2])
    content[at : at + 2] = struct.pack(">h", since_cluster + round(1000 * time_s) - ticks)
    path.write_bytes(content)
    times_s = [time_s if k == which else k / 30 for k in range(30)]
    return sorted(range(30), key=times_s.__getitem__)


def trimmed(path: Path, hidden: int) -> Path:
    """Let the edit list of an MP4 at 30 frames a second begin so many frames later."""
    content = bytearray(path.read_bytes())
    at = content.index(b"elst") + 12
    span, start = struct.unpack(">Ii", content[at : at + 8])
    with av.open(str(path)) as container:
        ticks = round(Fraction(1, 30) / Fraction(container.streams.video[0].time_base or 1))
    content[at : at + 8] = struct.pack(">Ii", span - round(hidden * 1000 / 30), start + hidden * ticks)
    path.write_bytes(content)
    return path


def _turned(folder: Path) -> list[Case]:
    """All ways to hold a phone, seen by its user in a mirror or not."""
    cases = []
    for turn_deg, (a, b, c, d) in TURNS.items():
        for mirrored in (False, True):

            def stored(upright: Any, quarters: int = turn_deg // 90, mirrored: bool = mirrored) -> Any:
                lying = np.rot90(upright, quarters)
                return lying[:, ::-1] if mirrored else lying

            sign = -1 if mirrored else 1
            matrix = [sign * a * ONE, sign * b * ONE, 0, c * ONE, d * ONE, 0, 0, 0, 1 << 30]
            name = f"turned {turn_deg}{' mirrored' if mirrored else ''}.mp4"
            make_clip(folder / name, 30, stored=stored, display_matrix=matrix)
            cases.append(shows(name, rotation_deg=turn_deg, mirrored=mirrored))
    return cases


def _large(folder: Path) -> list[Case]:
    """4K at 60 frames a second, and a file of more than 4 GiB (a hole, so that the disk holds little of it)."""
    grown = np.ones((22, 24, 1), dtype=np.uint8)
    stamps = list(range(6))
    fast = {"x265-params": X265}
    make_clip(
        folder / "4k60.mp4",
        codec="libx265",
        stamps=stamps,
        time_base=Fraction(1, 60),
        stored=lambda picture: np.kron(picture, grown),
        options={**fast, "preset": "ultrafast"},
    )
    beyond_4_gib(make_clip(folder / "over 4 gib.mp4", 30, b_frames=2))
    return [shows("4k60.mp4", stamps, ticks=60, size=(3840, 2112), enlarged=24), shows("over 4 gib.mp4")]


def _faults(folder: Path) -> list[Case]:
    """What goes wrong on the way."""
    keys = {"x264-params": "keyint=10:min-keyint=10:scenecut=0"}
    whole = make_clip(folder / "whole.mp4", 30, group=10, options=keys)
    content = whole.read_bytes()
    spoilt = folder / "damaged in the middle.mp4"
    spoilt.write_bytes(content)
    spoilt_at(spoilt, 13)
    (folder / "cut without index.mp4").write_bytes(content[: content.index(b"moov") - 100])
    first = make_clip(folder / "cut with index.mp4", 30, group=10, options=keys, container={"movflags": "faststart"})
    with av.open(str(first)) as container:
        end = [int(p.pos or 0) for p in container.demux(video=0) if p.size][20]
    first.write_bytes(first.read_bytes()[:end])
    streamed = make_clip(folder / "cut.mkv", 30, group=10)
    with av.open(str(streamed)) as container:
        end = [int(p.pos or 0) for p in container.demux(video=0) if p.size][20]
    streamed.write_bytes(streamed.read_bytes()[:end])
    (folder / "no decoder.mp4").write_bytes(content.replace(b"avc1", b"zzz9"))
    (folder / "empty.mp4").write_bytes(b"")
    (folder / "text.mp4").write_text("Ines,float,deep 1\n" * 50)
    _sound_only(folder / "sound only.m4a")
    same_time = make_clip(folder / "same time twice.mp4", stamps=[*EVEN[:10], *[s + 7 for s in EVEN[10:]]])
    double = bytearray(same_time.read_bytes())
    at = double.index(b"stts") + 8
    entries = [struct.unpack(">II", double[at + 4 + 8 * k : at + 12 + 8 * k]) for k in range(3)]
    double[at + 12 + 4 : at + 12 + 8] = struct.pack(">I", 0)
    same_time.write_bytes(double)
    gap = entries[0][1]
    stamps = np.cumsum([0, *[gap] * entries[0][0], *[0] * entries[1][0], *[entries[2][1]] * (entries[2][0] - 1)])
    ticks = entries[2][1] * 30
    return [
        shows("whole.mp4"),
        shows(spoilt.name, may_lack=list(range(13, 20))),
        Case("cut without index.mp4", sentence="was cut off, so no frame can be found"),
        shows("cut with index.mp4", EVEN[:20], warning="Only its first 20 frames", may_lack=[19]),
        shows("cut.mkv", EVEN[:20]),
        Case("no decoder.mp4", sentence="cannot decode the pictures in no decoder.mp4"),
        Case("empty.mp4", sentence="is empty; copy it again"),
        Case("text.mp4", sentence="is not a video"),
        Case("sound only.m4a", sentence="has no picture in it"),
        Case("vanished.mp4", sentence="is not there"),
        shows(same_time.name, stamps.tolist(), ticks=ticks, warning="the same time", may_lack=[9, 10]),
    ]


def spoilt_at(path: Path, which: int) -> Path:
    """Fill one packet of the pictures, counted in the order of decoding, with zeros."""
    content = path.read_bytes()
    with av.open(str(path)) as container:
        start, size = [(int(p.pos or 0), p.size) for p in container.demux(video=0) if p.size][which]
    path.write_bytes(content[:start] + bytes(size) + content[start + size :])
    return path


def _sound_only(path: Path) -> None:
    with av.open(str(path), "w") as out:
        tone: Any = out.add_stream("aac", rate=48000)
        for k in range(20):
            silence: Any = av.AudioFrame.from_ndarray(np.zeros((2, 1024), np.float32), format="fltp", layout="stereo")
            silence.sample_rate, silence.pts = 48000, 1024 * k
            out.mux(tone.encode(silence))
        out.mux(tone.encode(None))


def beyond_4_gib(path: Path) -> None:
    """Move the pictures of an MP4 behind a hole of more than 4 GiB, with 64-bit offsets to them."""
    content = path.read_bytes()
    parts = dict(_boxes(content))
    films, index = parts[b"mdat"], parts[b"moov"]
    head = content[: content.index(b"mdat") - 4]
    moved = HOLE_BYTES
    with path.open("wb") as file:
        file.write(head)
        file.write(struct.pack(">I4sQ", 1, b"free", HOLE_BYTES))
        file.seek(len(head) + HOLE_BYTES)
        file.write(films)
        file.write(_wide_offsets(index, moved))


def _boxes(content: bytes) -> list[tuple[bytes, bytes]]:
    found, at = [], 0
    while at < len(content):
        size, kind = struct.unpack(">I4s", content[at : at + 8])
        found.append((kind, content[at : at + size]))
        at += size
    return found


def _wide_offsets(box: bytes, moved: int) -> bytes:
    kind, body = box[4:8], box[8:]
    if kind == b"stco":
        count = struct.unpack(">I", body[4:8])[0]
        offsets = [offset + moved for offset in struct.unpack(f">{count}I", body[8 : 8 + 4 * count])]
        kind, body = b"co64", body[:8] + struct.pack(f">{count}Q", *offsets)
    elif kind in (b"moov", b"trak", b"mdia", b"minf", b"stbl"):
        body = b"".join(_wide_offsets(inner, moved) for _, inner in _boxes(body))
    return struct.pack(">I4s", len(body) + 8, kind) + body


def main() -> None:
    """Write the folder named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    if folder.exists():
        shutil.rmtree(folder)
    make_folder(folder)


if __name__ == "__main__":
    main()

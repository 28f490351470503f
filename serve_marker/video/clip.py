"""What a video file really is: its timestamps, rotation, key frames and faults.

Opening a clip reads all packets but decodes only the first frame. Times come from the container's own
presentation stamps, never from a frame rate.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.video.capture_rate import capture_rate_fps
from serve_marker.video.clip_warnings import FrameRange, damage_sentence, opening_sentences, slow_motion_sentence
from serve_marker.video.frame_times import gaps_around, is_variable, nearest_frame, seconds_of, usual_gap
from serve_marker.video.opening import first_frame, opened, refuse_without_decoder
from serve_marker.video.orientation import Orientation, display_orientation
from serve_marker.video.packet_stamps import EntryPoint, PacketTable, frames_listed, read_packets
from serve_marker.video.pixel_shape import stored_pixel_aspect
from serve_marker.video.progress import IsCancelled, Progress, ProgressReporter
from serve_marker.video.times_file import load_table, save_table
from serve_marker.video.tone import is_high_dynamic_range


@dataclass(frozen=True, eq=False)
class Clip:
    """A video file as filmed; frame `i` is the i-th one shown.

    `width` and `height` [px] are those of the upright picture; `rotation_deg` says how far the stored picture
    is turned clockwise for it, after mirroring left and right where `mirrored`. `times_s` (N,) starts at 0.
    `keyframes` are frame indices. `duration_s` counts the last frame for one usual gap. `warnings` are sentences
    for the coach. `capture_rate` [frames/s] is what the container says the camera took where that is faster than
    shown (slow motion), else None. `pixel_aspect` is the width of one of the upright picture's pixels over its height.
    `hidden_frames` are left out by an edit list, `frames_without_time` because the file gives them none. `damaged` is
    empty until `with_damage` says what a scan found.
    """

    path: Path
    width: int
    height: int
    rotation_deg: int
    mirrored: bool
    codec: str
    times_s: NDArray[np.float64]
    keyframes: tuple[int, ...]
    variable_rate: bool
    warnings: tuple[str, ...]
    duration_s: float
    stamps: NDArray[np.int64]
    time_base: Fraction
    entry_points: tuple[EntryPoint, ...]
    stream_index: int
    capture_rate: float | None = None
    pixel_aspect: float = 1.0
    has_sound: bool = False
    high_dynamic_range: bool = False
    hidden_frames: int = 0
    frames_without_time: int = 0
    damaged: tuple[FrameRange, ...] = ()

    @cached_property
    def shown_fps(self) -> float:
        """Frames a second where none were dropped, by the usual gap between them; NaN for a single frame."""
        return 1 / usual_gap(np.diff(self.times_s)) if self.frame_count > 1 else float("nan")

    def time_scale(self, filmed_fps: float | None) -> float:
        """What the clip's time has to be multiplied by to be true where it was filmed at `filmed_fps`; 1 for None."""
        return self.shown_fps / filmed_fps if filmed_fps and self.frame_count > 1 else 1.0

    @property
    def starts_s(self) -> float:
        """The container's own time of the first frame [s]."""
        return float(self.stamps[0] * self.time_base)

    def with_damage(self, ranges: Sequence[FrameRange]) -> Clip:
        """The same clip, knowing and saying where it is damaged."""
        if not ranges:
            return self
        return replace(self, damaged=tuple(ranges), warnings=(*self.warnings, damage_sentence(self.path, ranges)))

    @property
    def frame_count(self) -> int:
        """How many frames the clip shows."""
        return len(self.times_s)

    @property
    def orientation(self) -> Orientation:
        """How the stored picture is made upright."""
        return Orientation(self.rotation_deg, self.mirrored)

    def time_s(self, i: int) -> float:
        """When frame `i` is shown [s after the first frame]."""
        return float(self.times_s[self.checked_index(i)])

    def frame_at(self, time_s: float) -> int:
        """The frame whose time is nearest to `time_s`; the earlier one where two are as near."""
        return nearest_frame(self.times_s, time_s)

    def gaps_s(self, i: int) -> tuple[float, float]:
        """Time since the frame before `i` and until the one after it [s], NaN at the clip's ends."""
        return gaps_around(self.times_s, self.checked_index(i))

    def checked_index(self, i: int) -> int:
        """The index itself if the clip has such a frame."""
        if not 0 <= i < self.frame_count:
            raise UserError(f"{self.path.name} has no frame {i}; choose one from 0 to {self.frame_count - 1}.")
        return i


def open_clip(
    path: str | os.PathLike[str],
    progress: Progress | None = None,
    cancelled: IsCancelled | None = None,
    table_path: Path | None = None,
) -> Clip:
    """Read what the file at `path` holds.

    A damaged or cut-off clip opens with a warning as long as some of it can be shown. With a `table_path` the times
    read are kept there and found again next time; the caller names it after the file's fingerprint.

    Raises
    ------
    UserError
        If there is no such file, or nothing in it that can be shown.
    Stopped
        If `cancelled` says so.
    """
    path = Path(path)
    with opened(path) as (container, stream):
        refuse_without_decoder(path, stream)
        packets = _packets(path, container, stream, ProgressReporter(progress, cancelled), table_path)
        expected_frames = stream.frames
        codec = stream.codec_context.codec.canonical_name
        time_base = stream.time_base
        stream_index = stream.index
        stored_aspect = stored_pixel_aspect(stream)
        metadata = {**container.metadata, **stream.metadata}
        if "mp4" in container.format.name and len(packets.shown_pts) < expected_frames:
            expected_frames = frames_listed(stream)
        has_sound = any(track.codec_context is not None for track in container.streams.audio)
    if not len(packets.shown_pts) and packets.without_stamp:
        raise UserError(f"The frames of {path.name} carry no times. Put them into an MP4 and open that.")
    if not len(packets.shown_pts):
        raise UserError(f"{path.name} holds no frames and may have been cut off. Copy it again from the camera.")
    first = first_frame(path)
    if first.pts is not None:
        packets = packets.from_first_shown(first.pts)
    orientation, matrix_exact = display_orientation(first)
    width, height = orientation.upright_size(first.width, first.height)
    ticks = packets.shown_pts - packets.shown_pts[0]
    gap = usual_gap(np.diff(ticks)) if len(ticks) > 1 else 0.0
    shown_fps = float(1 / (gap * time_base)) if gap > 0 else 0.0
    warnings = [*opening_sentences(path, packets, expected_frames, matrix_exact, stored_aspect == 1.0)]
    capture_rate = capture_rate_fps(metadata, shown_fps)
    if capture_rate is not None:
        warnings.append(slow_motion_sentence(path, shown_fps, capture_rate))
    return Clip(
        path=path,
        width=width,
        height=height,
        rotation_deg=orientation.rotation_deg,
        mirrored=orientation.mirrored,
        codec=codec,
        times_s=seconds_of(ticks, time_base),
        keyframes=tuple(np.flatnonzero(packets.shown_key).tolist()),
        variable_rate=is_variable(ticks),
        warnings=tuple(warnings),
        duration_s=float((ticks[-1] + gap) * time_base),
        stamps=packets.shown_pts,
        time_base=time_base,
        entry_points=packets.entry_points(),
        stream_index=stream_index,
        capture_rate=capture_rate,
        pixel_aspect=orientation.upright_pixel_aspect(stored_aspect),
        has_sound=has_sound,
        high_dynamic_range=is_high_dynamic_range(first),
        hidden_frames=packets.hidden,
        frames_without_time=packets.without_stamp,
    )


def _packets(
    path: Path, container: Any, stream: Any, reporter: ProgressReporter, table_path: Path | None
) -> PacketTable:
    size_bytes = path.stat().st_size
    kept = load_table(table_path, size_bytes) if table_path is not None else None
    if kept is not None:
        return kept
    packets = read_packets(container, stream, reporter)
    if table_path is not None:
        save_table(table_path, packets, size_bytes)
    return packets

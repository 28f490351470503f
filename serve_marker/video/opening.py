"""A video file opened for reading, or one sentence why it cannot be."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import av

from serve_marker.errors import UserError, regular_file_size
from serve_marker.video.packet_stamps import decoded

OPEN_OPTIONS = {"protocol_whitelist": "file", "fflags": "+genpts"}
TAG_OPTIONS: dict[str, Any] = {} if int(av.__version__.split(".")[0]) >= 19 else {"metadata_errors": "surrogateescape"}
"""Tags that are not UTF-8 do not stop a film from opening: av does so from 19 on, before that it must be told."""
NO_FILM_FORMATS = frozenset({"tty"})


@contextmanager
def opened(path: Path, stream_index: int | None = None) -> Iterator[tuple[Any, Any]]:
    """The container at `path` and its picture stream, closed afterwards."""
    container = open_container(path)
    try:
        yield container, picture_stream(path, container, stream_index)
    finally:
        container.close()


def open_container(path: Path) -> Any:
    """The file as an av container; every reason why it cannot be opened becomes a UserError."""
    try:
        size_bytes = regular_file_size(path)
        with path.open("rb") as file:
            head = file.read(12)
    except FileNotFoundError:
        raise UserError(f"{path.name} is not there. Check the name, or plug in the disk it is on.") from None
    except (OSError, ValueError) as error:
        raise UserError(f"{path.name} cannot be read ({_reason(error)}); check its permissions or its disk.") from None
    if size_bytes == 0:
        raise UserError(f"{path.name} is empty; copy it again from the camera.")
    try:
        container = av.open(str(path.absolute()), options=dict(OPEN_OPTIONS), **TAG_OPTIONS)
    except av.FFmpegError:
        if head[4:8] in (b"ftyp", b"moov", b"mdat", b"wide", b"free") or head[:4] in (b"\x1aE\xdf\xa3", b"RIFF"):
            raise UserError(
                f"{path.name} is damaged or was cut off, so no frame can be found. Copy it again from the camera."
            ) from None
        raise UserError(f"{path.name} is not a video that can be read; choose a video file.") from None
    if container.format.name in NO_FILM_FORMATS:
        container.close()
        raise UserError(f"{path.name} is not a video that can be read; choose a video file.")
    return container


def picture_stream(path: Path, container: Any, stream_index: int | None = None) -> Any:
    """The picture stream with this index, or else the one with the largest picture; cover pictures do not count."""
    cover = av.stream.Disposition.attached_pic
    streams = [s for s in container.streams.video if not s.disposition & cover]
    if stream_index is not None:
        streams = [s for s in streams if s.index == stream_index]
    if not streams:
        raise UserError(f"{path.name} has no picture in it, only sound or data; choose the video file.")
    stream = max(streams, key=lambda s: s.codec_context.width * s.codec_context.height if s.codec_context else 0)
    for other in container.streams:
        if other.index != stream.index:
            other.discard = av.stream.Discard.all
    return stream


def refuse_without_decoder(path: Path, stream: Any) -> None:
    """Raise UserError where no decoder is known for a picture stream."""
    if stream.codec_context is None:
        raise UserError(
            f"This program cannot decode the pictures in {path.name}. Export the clip as H.264 and open that."
        )


def first_frame(path: Path) -> Any:
    """The first frame (av VideoFrame) that can be decoded."""
    with opened(path) as (container, stream):
        try:
            frame = next(decoded(container.demux(stream)), None)
        except (av.FFmpegError, OSError):
            frame = None
        if frame is None:
            raise UserError(
                f"No frame of {path.name} can be decoded: it is damaged or strangely packed."
                " Copy it again from the camera, or export it as H.264."
            )
        return frame


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()

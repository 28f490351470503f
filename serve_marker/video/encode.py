"""Pictures into an MP4 that any phone plays, whole or not there at all."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Self

import av
import numpy as np
from numpy.typing import NDArray

from serve_marker.errors import UserError
from serve_marker.video.picture import converted

MADE_BY = {"comment": "Serve Marker"}
"""Written at the end of a file, by which it is known again."""
TIME_BASE = Fraction(1, 90_000)
"""The clock of MPEG (ISO/IEC 13818-1, 2.4.2): all usual rates are whole numbers of its ticks."""
KEY_FRAME_EVERY_S = 2.0
OPTIONS: dict[str, object] = {"preset": "veryfast", "crf": "21"}


class VideoWriter:
    """Writes pictures one after the other, each shown for its own time, as H.264 without sound.

    Use it as a context manager: the file is in its place only where the block ends without an error.
    """

    def __init__(self, path: Path, size_px: tuple[int, int], usual_fps: float) -> None:
        self.path = path
        self._size_px = size_px
        self._usual_fps = usual_fps
        self._unfinished = path.with_name(f".{path.name}.unfinished")
        self._at_s = 0.0

    def __enter__(self) -> Self:
        try:
            self._container = av.open(str(self._unfinished), "w", format="mp4")
            self._container.metadata.update(MADE_BY)
        except OSError as error:
            raise self._refused(error) from error
        self._stream = self._container.add_stream("libx264", rate=Fraction(self._usual_fps).limit_denominator(1001))
        self._stream.width, self._stream.height = self._size_px
        self._stream.pix_fmt = "yuv420p"
        self._stream.options = OPTIONS
        self._stream.codec_context.time_base = self._stream.time_base = TIME_BASE
        self._stream.codec_context.gop_size = max(1, round(KEY_FRAME_EVERY_S * self._usual_fps))
        return self

    def show(self, picture: NDArray[np.uint8], for_s: float) -> None:
        """Add a picture, array (H, W, 4) BGRA of even height and width, shown for a time [s]."""
        frame = converted(av.VideoFrame.from_numpy_buffer(picture, format="bgra"), "yuv420p")
        frame.pts, frame.time_base = round(self._at_s / TIME_BASE), TIME_BASE
        frame.duration = round((self._at_s + for_s) / TIME_BASE) - frame.pts
        self._at_s += for_s
        try:
            self._container.mux(self._stream.encode(frame))
        except OSError as error:
            raise self._refused(error) from error

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self._container.mux(self._stream.encode())
            self._container.close()
            if kind is None:
                self._unfinished.replace(self.path)
        except OSError as failed:
            raise self._refused(failed) from failed
        finally:
            with suppress(OSError):
                self._unfinished.unlink()

    def _refused(self, error: OSError) -> UserError:
        return UserError(f"{self.path} could not be written ({error.strerror}); choose another place.")

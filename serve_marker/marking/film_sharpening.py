"""Serves with what the film shows around the clicks of their landings and contacts."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Literal

import numpy as np

from serve_marker.camera.view.view import View
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve
from serve_marker.marking.contact_on_film import contact_film_marks
from serve_marker.marking.landing_on_film import film_marks
from serve_marker.video.clip import Clip
from serve_marker.video.frames import FrameReader
from serve_marker.video.progress import Progress

End = Literal["contact", "landing"]
BOTH_ENDS: tuple[End, End] = ("contact", "landing")


def with_film_marks(
    serves: Sequence[Serve], view: View, clip: Clip, time_scale: float, progress: Progress | None = None
) -> list[Serve]:
    """Return placed serves of one clip with what the film shows; where it is damaged the click stands."""
    order = sorted(range(len(serves)), key=lambda k: serves[k].moment_s or 0.0)
    looked_at = list(serves)
    with FrameReader(clip) as reader:
        for done, k in enumerate(order, start=1):
            looked_at[k] = sharpened(serves[k], view, reader, time_scale)
            if progress is not None:
                progress(done, len(serves))
    return looked_at


def sharpened(
    serve: Serve, view: View, reader: FrameReader, time_scale: float, ends: Sequence[End] = BOTH_ENDS
) -> Serve:
    """Return the serve with what the film shows of some of its ends; where it cannot be read the click stands."""
    cannot_tell = suppress(UserError, np.linalg.LinAlgError)
    if "contact" in ends:
        with cannot_tell:
            serve = replace(serve, contact_film_marks=contact_film_marks(serve, view, reader, time_scale))
    if "landing" in ends:
        with cannot_tell:
            serve = replace(serve, film_marks=film_marks(serve, view, reader, time_scale))
    return serve

"""The picture kept with a view, by which its place is known again on other clips."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from serve_marker.camera.picture.feature_matching import (
    Grey,
    background_of,
    grey_of,
    reference_from_text,
    reference_to_text,
)
from serve_marker.camera.picture.moved_since_view import recognise
from serve_marker.camera.picture.realign import ALIGN_SIDE_PX
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import view_from_text, view_to_text
from serve_marker.errors import UserError
from serve_marker.video.frames import FrameReader

if TYPE_CHECKING:
    from serve_marker.video.clip import Clip

MOST_BACKGROUND_FRAMES = 9


def with_reference(view_text: str, picture: Grey) -> str:
    """The text of a view file with the picture by which its place is recognised, (h, w) or (h, w, 3)."""
    plain = json.loads(view_text)
    plain["reference"] = reference_to_text(picture)
    return json.dumps(plain, indent=1, allow_nan=False)


def reference_of(view_text: str) -> Grey | None:
    """The picture kept with a view file's text, None where there is none."""
    kept = json.loads(view_text).get("reference")
    return reference_from_text(kept) if isinstance(kept, str) else None


def known_again(view_text: str, clip: Clip) -> str:
    """The text of a view file with the picture by which its place is known again.

    Where it keeps none, one is made of the clip, people taken out; a clip that does not show the view's lines, or
    cannot be read, gives none.
    """
    view = view_from_text(view_text)
    picture = reference_of(view_text)
    if picture is None:
        try:
            picture = _seen_in(clip, view)
        except UserError:
            picture = None
    text = view_to_text(view)
    return text if picture is None else with_reference(text, picture)


def _seen_in(clip: Clip, view: View) -> Grey | None:
    """What stays through a clip, or through a half of it, where the view's lines lie on lines there."""
    refuse_other_shape(view, clip)
    with FrameReader(clip) as reader:
        for from_share, to_share in ((0.0, 1.0), (0.0, 0.5), (0.5, 1.0)):
            times_s = np.linspace(from_share, to_share, MOST_BACKGROUND_FRAMES) * float(clip.times_s[-1])
            seen = background_of([grey_at(reader, float(time_s)) for time_s in times_s])
            if recognise(view, seen, None).view is not None:
                return seen
    return None


def grey_at(reader: FrameReader, time_s: float) -> Grey:
    """Return the frame nearest to a time, in grey and of the size that pictures are laid on each other in."""
    return grey_of(reader.scaled(reader.clip.frame_at(time_s), ALIGN_SIDE_PX, ALIGN_SIDE_PX), ALIGN_SIDE_PX)


def refuse_other_shape(view: View, clip: Clip) -> None:
    """Raise UserError where a clip's pictures are not as large as those the view was made on."""
    if (clip.width, clip.height) != view.image_size:
        have, want = f"{clip.width} × {clip.height}", f"{view.image_size[0]} × {view.image_size[1]}"
        raise UserError(f"{clip.path.name} is {have} but the view was made for {want}. Make a new view.")

"""Is this the place a view was made for? By the picture kept with the view, or by the court's own lines."""

from __future__ import annotations

from dataclasses import dataclass

from serve_marker.camera.picture.feature_matching import Grey, trusted
from serve_marker.camera.picture.line_strips import line_support
from serve_marker.camera.picture.realign import ALIGN_SIDE_PX, SAME_FLOOR_CORRELATION, align, moved_view
from serve_marker.camera.view.view import View

MOVED_SINCE_VIEW_PX = 0.7
"""A shift smaller than this, at the size of `ALIGN_SIDE_PX`, is none."""
LINES_FOUND = 0.4
LINES_CLEAR = 0.55


@dataclass(frozen=True, eq=False)
class Recognition:
    """The view carried over to a picture, None where the place is another; how far the camera moved; warnings."""

    view: View | None
    turned_deg: float
    shifted_px: float
    warnings: tuple[str, ...]


def recognise(view: View, picture: Grey, reference: Grey | None) -> Recognition:
    """Hold a grey picture (h, w) against a view, and against the picture kept with it where there is one.

    Where the two pictures cannot be laid on each other, the court's lines can still show that nothing moved.
    """
    if reference is None:
        return _by_lines(view, picture)
    alignment = align(reference, picture, view)
    if alignment is None or not trusted(alignment.motion) or not alignment.correlation > SAME_FLOOR_CORRELATION:
        if line_support(picture, view).share >= LINES_CLEAR:
            return Recognition(view, 0.0, 0.0, ())
        return Recognition(
            None,
            float("nan"),
            float("nan"),
            ("This is another place than the view's, or the camera stands elsewhere. Make a new view.",),
        )
    if alignment.shifted_px < MOVED_SINCE_VIEW_PX * max(view.image_size) / ALIGN_SIDE_PX:
        return Recognition(view, 0.0, 0.0, _doubt(line_support(picture, view).share))
    moved = moved_view(view, alignment)
    sentence = (
        f"Since the view was made the camera turned {alignment.turned_deg:.1f} degrees. "
        f"The court shifted {alignment.shifted_px:.0f} px. Check the re-aligned lines."
    )
    doubt = _doubt(line_support(picture, moved).share)
    return Recognition(moved, alignment.turned_deg, alignment.shifted_px, (sentence, *doubt))


def _by_lines(view: View, picture: Grey) -> Recognition:
    share = line_support(picture, view).share
    if not share >= LINES_FOUND:
        return Recognition(
            None,
            float("nan"),
            float("nan"),
            ("The view's lines do not lie on this clip's lines. Make a new view.",),
        )
    return Recognition(view, 0.0, 0.0, _doubt(share))


def _doubt(line_share: float) -> tuple[str, ...]:
    if line_share < LINES_CLEAR:
        return ("Some court lines lie beside those of the view. Check the drawn lines.",)
    return ()

"""How large letters are: four sizes, and how far they grow with the system, the choice and the window."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtGui import QFont, QFontDatabase, QGuiApplication
from PySide6.QtWidgets import QWidget

SMALL_PT, TEXT_PT, LARGE_PT, TITLE_PT, FIGURE_PT = 9.5, 11.0, 14.0, 20.0, 34.0
"""Sizes at 100 %: crowded tables and keys, running text, what is read first, a headline, a figure read from afar."""
PERCENTS = (100, 125, 150)
USUAL_SYSTEM_PT = {"windows": 9.0, "cocoa": 9.75, "offscreen": 9.0}
"""The letters of a system nobody has changed; on a Mac 13 points of 1/72 inch, which are 9.75 of 1/96."""
OTHER_SYSTEM_PT = 10.0
SMALLEST_WINDOW_PX = (1280, 720)
LARGEST_GROWTH = 2.0
STEP = 0.25

_scale = 1.0


def scale() -> float:
    """How many times larger letters are now than at 100 % in a small window."""
    return _scale


def set_scale(to: float) -> None:
    """Let letters be so many times larger from now on."""
    global _scale
    _scale = to


def points(at_100_percent: float) -> float:
    """Return the size of letters now [pt]."""
    return at_100_percent * _scale


def pixels(at_100_percent: float) -> int:
    """Return how long something is now that holds letters [px]."""
    return round(at_100_percent * _scale)


def resize_with_letters(dialog: QWidget, width_px: int, height_px: int) -> None:
    """Make a dialog so large at 100 %, larger with its letters, but not larger than the window it belongs to."""
    asked, parent = QSize(pixels(width_px), pixels(height_px)), dialog.parentWidget()
    dialog.resize(asked if parent is None else asked.boundedTo(parent.window().size()))


def sized(font: QFont, at_100_percent_pt: float) -> QFont:
    """Return a font with letters of another size."""
    letters = QFont(font)
    letters.setPointSizeF(points(at_100_percent_pt))
    return letters


def growth(width_px: int, height_px: int) -> float:
    """Return how much larger letters are in a large window: they grow half as fast as it does, in steps.

    Examples
    --------
    >>> growth(1024, 640), growth(1280, 720), growth(1920, 1080), growth(2560, 1440)
    (1.0, 1.0, 1.25, 1.5)
    """
    times = min(width_px / SMALLEST_WINDOW_PX[0], height_px / SMALLEST_WINDOW_PX[1])
    steps = (times - 1.0) / 2 // STEP
    return min(max(1.0, 1.0 + steps * STEP), LARGEST_GROWTH)


def system_scale() -> float:
    """Return how much larger the system's letters are than usual on such a system."""
    system_pt = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont).pointSizeF()
    usual_pt = USUAL_SYSTEM_PT.get(QGuiApplication.platformName(), OTHER_SYSTEM_PT)
    return system_pt / usual_pt if system_pt > 0 else 1.0

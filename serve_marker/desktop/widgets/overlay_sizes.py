"""How thick, large and clear everything is that lies over the film, in the window and on stills."""

from __future__ import annotations

from PySide6.QtGui import QColor, QFont

from serve_marker.desktop.widgets.theme import FONT_FAMILY

LINE_WIDTHS = {"court-line": 1.1, "net": 1.6, "aim": 2.0, "error": 2.0, "film": 2.0, "landmark": 2.0, "cursor": 1.6}
LINE_WIDTHS |= {"flight": 2.6, "flight-estimated": 2.6, "over-net": 2.0, "miss": 3.2, "seam": 2.0}
LINE_OPACITY, FAINT_RIM_OPACITY = {"court-line": 0.75, "net": 0.8}, 0.25
FILL_OPACITY = {"court-line": 0.16, "aim": 0.24, "flight-band": 0.16} | {f"error-{band}": 0.34 for band in range(1, 6)}
DASHED = ("error", "flight-estimated", "seam")
LABEL_GROUND_OPACITY = 0.82
RIM_WIDTH = 2.8
SPOT_RADIUS = 8.0
LABEL_PIXELS = 15.0
CAPTION_PIXELS = 24.0
HALO = QColor(0, 0, 0)


def label_font(unit: float, size_px: float = LABEL_PIXELS) -> QFont:
    """The font of labels; sized in pixels of the painter, so that stills do not depend on a screen."""
    font = QFont(FONT_FAMILY)
    font.setPixelSize(max(1, round(size_px * unit)))
    return font

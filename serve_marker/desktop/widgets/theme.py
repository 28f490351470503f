"""Own light and dark looks: a Qt palette, a style sheet and the role colours the painter uses.

The fonts are the DejaVu family that matplotlib ships, since a bare machine has none.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.widgets.style_sheet import style_sheet
from serve_marker.desktop.widgets.text_sizes import TEXT_PT, points, scale, set_scale
from serve_marker.report.colours import COLOURS, Colours

FONT_FAMILY = "DejaVu Sans"


@dataclass(frozen=True)
class Palette:
    """One look: surfaces and text as hex strings, and the colours of marks and roles shared with sheets and charts."""

    name: str
    window: str
    panel: str
    raised: str
    text: str
    muted: str
    line: str
    accent: str
    on_accent: str
    colours: Colours

    def of(self, word: str) -> QColor:
        """The colour of a shape ("disc") or of a role of the overlay ("court-line")."""
        return QColor(self.colours.of(word))


LIGHT = Palette(
    name="light",
    window="#f3f1ec",
    panel="#fdfcfa",
    raised="#e9e5dc",
    text="#1d252d",
    muted="#545d66",
    line="#cbc5b8",
    accent="#0a6577",
    on_accent="#ffffff",
    colours=COLOURS["light"],
)
DARK = Palette(
    name="dark",
    window="#14181d",
    panel="#1c2228",
    raised="#28313a",
    text="#e8ebee",
    muted="#a6b0ba",
    line="#3b4650",
    accent="#62c6d8",
    on_accent="#0c1a1e",
    colours=COLOURS["dark"],
)
FILM = DARK
"""What is drawn over film keeps one look, on screen and on stills: bright on a dark halo."""

LOOKS = {"light": LIGHT, "dark": DARK}
_in_use = LIGHT


def current() -> Palette:
    """The look in use."""
    return _in_use


def load_fonts() -> list[str]:
    """Load the DejaVu fonts that matplotlib ships; returns the families found."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is None or spec.origin is None:
        return []
    families: set[str] = set()
    for font_file in sorted((Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf").glob("DejaVuSans*.ttf")):
        families.update(QFontDatabase.applicationFontFamilies(QFontDatabase.addApplicationFont(str(font_file))))
    return sorted(families)


def apply_theme(app: QGuiApplication, choice: str = "system") -> Palette:
    """Dress the application in ``light``, ``dark`` or what the ``system`` asks for."""
    global _in_use
    _in_use = LOOKS.get(choice) or _system_look(app)
    if FONT_FAMILY not in QFontDatabase.families():
        load_fonts()
    _dress(app)
    return _in_use


def apply_text_scale(app: QGuiApplication, times: float) -> None:
    """Write everything in letters so many times larger than at 100 %."""
    if times != scale():
        set_scale(times)
        _dress(app)


def _dress(app: QGuiApplication) -> None:
    font = QFont(FONT_FAMILY)
    font.setPointSizeF(points(TEXT_PT))
    QGuiApplication.setFont(font)
    if isinstance(app, QApplication) and app.styleSheet() != (sheet := style_sheet(_in_use)):
        app.setStyle("Fusion")
        app.setPalette(_qt_palette(_in_use))
        app.setStyleSheet(sheet)


def _system_look(app: QGuiApplication) -> Palette:
    return DARK if app.styleHints().colorScheme() == Qt.ColorScheme.Dark else LIGHT


def _qt_palette(look: Palette) -> QPalette:
    role = QPalette.ColorRole
    colours = {
        role.Window: look.window,
        role.WindowText: look.text,
        role.Base: look.panel,
        role.AlternateBase: look.window,
        role.Text: look.text,
        role.Button: look.raised,
        role.ButtonText: look.text,
        role.BrightText: look.text,
        role.ToolTipBase: look.raised,
        role.ToolTipText: look.text,
        role.PlaceholderText: look.muted,
        role.Highlight: look.accent,
        role.HighlightedText: look.on_accent,
        role.Link: look.accent,
        role.Mid: look.line,
        role.Midlight: look.raised,
        role.Dark: look.line,
        role.Light: look.panel,
    }
    palette = QPalette()
    for colour_role, colour in colours.items():
        palette.setColor(colour_role, QColor(colour))
    for colour_role in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, colour_role, QColor(look.muted))
    return palette

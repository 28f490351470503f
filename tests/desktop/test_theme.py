"""Contrast is checked against WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for what is needed to understand (1.4.11)."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QColor, QFontDatabase
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.widgets import theme
from serve_marker.desktop.widgets.theme import DARK, LIGHT, Palette
from serve_marker.report.overlay_items import ROLES, SHAPES
from tests.benchmarks.contrast import contrast, rgb_of


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
@pytest.mark.parametrize("ink", ["text", "muted", "accent"])
@pytest.mark.parametrize("ground", ["window", "panel", "raised"])
def test_text_stands_out(look: Palette, ink: str, ground: str):
    assert contrast(rgb_of(getattr(look, ink)), rgb_of(getattr(look, ground))) >= 4.5


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
def test_words_on_the_accent_stand_out(look: Palette):
    assert contrast(rgb_of(look.on_accent), rgb_of(look.accent)) >= 4.5


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
def test_every_shape_and_role_has_a_colour(look: Palette):
    assert all(look.of(word).isValid() for word in (*SHAPES, *ROLES))


def test_choice_is_worn(dressed: QApplication):
    theme.apply_theme(dressed, "dark")
    assert theme.current() is DARK
    assert dressed.palette().window().color() == QColor(DARK.window)
    assert dressed.palette().highlightedText().color() == QColor(DARK.on_accent)


def test_system_without_a_wish_is_light(dressed: QApplication):
    theme.apply_theme(dressed, "dark")
    assert theme.apply_theme(dressed, "system") is LIGHT


def test_fonts_are_there_on_a_bare_machine(dressed: QApplication):
    assert theme.FONT_FAMILY in QFontDatabase.families()
    assert {"DejaVu Sans", "DejaVu Sans Mono"} <= set(theme.load_fonts())

"""Measures, from drawn pixels, how far every mark and line stands out from every ground, and every text from its own.

Contrast is that of the W3C, Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast
ratio; 3 to 1 is asked of marks (1.4.11) and 4.5 to 1 of text (1.4.3).

Run: python3 -m tests.benchmarks.contrast [FOLDER for pictures as red-green-blind eyes and grey printers see the marks]
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageColor

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QIcon, QImage, QPainter

from serve_marker.desktop.app import offscreen_app
from serve_marker.desktop.widgets.draw_shape import draw_shape, shape_icon
from serve_marker.desktop.widgets.overlay_painter import image_array, paint, picture_to_image
from serve_marker.desktop.widgets.overlay_sizes import LABEL_GROUND_OPACITY
from serve_marker.desktop.widgets.theme import FILM, LOOKS, apply_theme
from serve_marker.report.charts import marker_looks
from serve_marker.report.colours import COLOURS
from serve_marker.report.figure_pixels import new_figure, pixels_of
from serve_marker.report.overlay_items import SHAPES, Polyline, Spot

Colour = NDArray[np.float64]

MARK_ASKED, TEXT_ASKED = 3.0, 4.5
FLOORS = {"wood": "#CCA172", "dark wood": "#8A6440", "blue floor": "#2F6FB0", "light floor": "#E3DFD3"}
"""Floors of gyms: wood as in the sample clips, the others made up."""
LINE_ROLES = ("aim", "seam", "miss", "flight", "over-net", "film", "error")
SEEN_BY_SHARE = 85
"""A mark stands out as far as the best 15 in 100 of its pixels do, about its rim; edges are blended with the ground."""
SIDE_PX, RADIUS_PX = 40, 8.0
MACHADO = {
    "red-blind": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "green-blind": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "blue-blind": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
"""G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0, in linear RGB."""


@dataclass(frozen=True)
class Measured:
    """How far something stands out from a ground, and how far it should."""

    what: str
    ground: str
    contrast: float
    asked: float


def linear(rgb: Colour) -> Colour:
    """Return sRGB [0-1] as linear light."""
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def luminance(rgb: Colour) -> Colour:
    """Return the relative luminance of sRGB (..., 3) [0-1]."""
    return np.asarray(linear(rgb) @ (0.2126, 0.7152, 0.0722))


def contrast(one: Colour, other: Colour) -> Colour:
    """Return the contrast ratio of colours (..., 3) [0-1]."""
    lums = np.stack(np.broadcast_arrays(luminance(one), luminance(other)))
    return np.asarray((lums.max(axis=0) + 0.05) / (lums.min(axis=0) + 0.05))


def rgb_of(colour: str) -> Colour:
    """Return a hex colour as (3,) [0-1]."""
    return np.array(ImageColor.getrgb(colour)[:3]) / 255


def mixed(over: str, under: str, opacity: float) -> str:
    """Return the hex colour of a see-through one on a ground."""
    parts = np.round(255 * (opacity * rgb_of(over) + (1 - opacity) * rgb_of(under))).astype(int)
    return "#" + "".join(f"{part:02X}" for part in parts)


def stands_out(pixels: NDArray[np.uint8], ground: str) -> float:
    """Return the contrast of what is drawn on a plain ground."""
    drawn = pixels.reshape(-1, 3)[(pixels.reshape(-1, 3) != np.round(255 * rgb_of(ground))).any(axis=1)]
    return float(np.percentile(contrast(drawn / 255, rgb_of(ground)), SEEN_BY_SHARE)) if len(drawn) else 1.0


def marks_of_the_window() -> Iterator[Measured]:
    """Yield every shape in both themes, on all that it is drawn on, and in a chosen row."""
    for name, look in LOOKS.items():
        apply_theme(offscreen_app(), name)
        floor = look.colours.of("floor")
        grounds = {"window": look.window, "panel": look.panel, "raised": look.raised, "floor": floor}
        grounds["aim"] = mixed(look.colours.of("aim"), floor, 0.35)
        for shape in SHAPES:
            for ground, colour in grounds.items():
                image = _plain(colour)
                painter = QPainter(image)
                draw_shape(painter, shape, QPointF(20, 20), 6.0, look.of(shape))
                painter.end()
                yield Measured(f"{name} window: {shape}", ground, stands_out(image_array(image), colour), MARK_ASKED)
            image = _plain(look.accent)
            painter = QPainter(image)
            chosen = shape_icon(shape, look).pixmap(QSize(18, 18), QIcon.Mode.Selected)
            painter.drawPixmap(11, 11, chosen)
            painter.end()
            yield Measured(
                f"{name} window: {shape}", "chosen row", stands_out(image_array(image), look.accent), MARK_ASKED
            )


def marks_over_film() -> Iterator[Measured]:
    """Yield every shape and line as it lies over floors, in the window and on stills."""
    for floor, colour in FLOORS.items():
        tinted = mixed(FILM.colours.of("aim"), colour, 0.24)
        for ground, ground_colour in ((floor, colour), (f"aim on {floor}", tinted)):
            for shape in SHAPES:
                pixels = _painted(Spot(shape, (20, 20)), ground_colour)
                yield Measured(f"film: {shape}", ground, stands_out(pixels, ground_colour), MARK_ASKED)
        for role in LINE_ROLES:
            pixels = _painted(Polyline(((2, 20), (38, 20)), role), colour)
            yield Measured(f"film: line {role}", floor, stands_out(pixels, colour), MARK_ASKED)


def marks_on_paper() -> Iterator[Measured]:
    """Yield every shape of charts and sheets on paper, floor, one aim and two that overlap."""
    for look, colours in COLOURS.items():
        floor = colours.of("floor")
        aim = mixed(colours.of("aim-tint"), floor, 0.35)
        grounds = {"paper": colours.of("paper"), "floor": floor, "aim": aim, "deep band": colours.of("rule")}
        grounds["two aims"] = mixed(colours.of("aim-tint"), aim, 0.35)
        for shape in SHAPES:
            for ground, colour in grounds.items():
                yield Measured(f"{look} chart: {shape}", ground, stands_out(_charted(shape, look, colour), colour), 3.0)


def texts() -> Iterator[Measured]:
    """Yield every text colour on the grounds it is written on."""
    for name, look in LOOKS.items():
        colours = {"text": look.text, "muted": look.muted, "accent": look.accent}
        for ink, colour in colours.items():
            for ground in ("window", "panel", "raised"):
                ratio = contrast(rgb_of(colour), rgb_of(getattr(look, ground)))
                yield Measured(f"{name} window: {ink}", ground, float(ratio), TEXT_ASKED)
        chosen = contrast(rgb_of(look.on_accent), rgb_of(look.accent))
        yield Measured(f"{name} window: chosen", "accent", float(chosen), TEXT_ASKED)
    for look_name, paper in COLOURS.items():
        aim = mixed(paper.of("aim-tint"), paper.of("floor"), 0.35)
        full = mixed(paper.of("disc"), paper.of("paper"), 0.28)
        for ink in ("ink", "faint-ink"):
            grounds = {ground: paper.of(ground) for ground in ("paper", "panel", "floor")}
            grounds |= {"aim": aim, "passed step": full} if ink == "ink" else {}
            for ground, colour in grounds.items():
                ratio = contrast(rgb_of(paper.of(ink)), rgb_of(colour))
                yield Measured(f"{look_name} chart: {ink}", ground, float(ratio), TEXT_ASKED)
    for floor, colour in {**FLOORS, "white": "#FFFFFF"}.items():
        ground = mixed(FILM.colours.of("label-ground"), colour, LABEL_GROUND_OPACITY)
        ratio = contrast(rgb_of(FILM.colours.of("label")), rgb_of(ground))
        yield Measured("film: label", floor, float(ratio), TEXT_ASKED)


def everything() -> list[Measured]:
    """Return all that is measured."""
    offscreen_app()
    return [*marks_of_the_window(), *marks_over_film(), *marks_on_paper(), *texts()]


def seen_as(pixels: NDArray[np.uint8], eyes: str) -> NDArray[np.uint8]:
    """Return a picture (H, W, 3) as somebody without one kind of cones sees it, or "grey" as a printer prints it."""
    light = linear(pixels / 255)
    rows = MACHADO.get(eyes, ((0.2126, 0.7152, 0.0722),) * 3)
    shown = np.clip(light @ np.array(rows).T, 0, 1)
    srgb = np.where(shown <= 0.0031308, 12.92 * shown, 1.055 * shown ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(255 * srgb), dtype=np.uint8)


def main() -> None:
    """Print what fails and the least contrast of each kind; draw what others see of pictures in a folder."""
    found = everything()
    for one in sorted(found, key=lambda one: one.contrast):
        if one.contrast < one.asked:
            print(f"{one.contrast:5.2f} of {one.asked}: {one.what} on {one.ground}")
    for kind in dict.fromkeys(one.what.partition(":")[0] for one in found):
        own = min((one for one in found if one.what.startswith(f"{kind}:")), key=lambda one: one.contrast / one.asked)
        print(f"{kind}: least {own.contrast:.1f} of {own.asked}, {own.what} on {own.ground}")
    print(f"{sum(one.contrast < one.asked for one in found)} of {len(found)} fail")
    for folder in map(Path, sys.argv[1:]):
        for path in [path for path in folder.glob("*.png") if " as " not in path.name]:
            pixels = np.asarray(Image.open(path).convert("RGB"))
            for eyes in (*MACHADO, "grey"):
                Image.fromarray(seen_as(pixels, eyes)).save(path.with_name(f"{path.stem} as {eyes}.png"))


def _plain(colour: str) -> QImage:
    image = QImage(SIDE_PX, SIDE_PX, QImage.Format.Format_RGB888)
    image.fill(QColor(colour))
    return image


def _painted(item: Spot | Polyline, colour: str) -> NDArray[np.uint8]:
    image = _plain(colour)
    painter = QPainter(image)
    paint(painter, [item], FILM, picture_to_image(), QRectF(image.rect()))
    painter.end()
    return image_array(image)


def _charted(shape: str, look: str, ground: str) -> NDArray[np.uint8]:
    figure = new_figure(0.4, 0.4, look)
    figure.set_facecolor(ground)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.plot(0, 0, **marker_looks(shape, COLOURS[look], RADIUS_PX))
    return np.ascontiguousarray(pixels_of(figure, 100.0)[:, :, :3])


if __name__ == "__main__":
    main()

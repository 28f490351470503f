"""The colours of marks, lines and surfaces, as plain hex strings for the window, the charts and the sheets.

The hues are the Okabe-Ito set, which readers with a colour vision deficiency can tell apart (M. Okabe and K. Ito,
"Color Universal Design", 2008). Colour only repeats what a shape already says, so the grey palette loses nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

OKABE_ITO = MappingProxyType(
    {
        "black": "#000000",
        "orange": "#E69F00",
        "sky blue": "#56B4E9",
        "bluish green": "#009E73",
        "yellow": "#F0E442",
        "blue": "#0072B2",
        "vermillion": "#D55E00",
        "reddish purple": "#CC79A7",
    }
)


@dataclass(frozen=True)
class Colours:
    """One palette: a colour for each shape of a mark and for each role of the display list.

    Examples
    --------
    >>> COLOURS["light"].of("disc")
    '#009E73'
    >>> COLOURS["light"].of("ink")
    '#1B1F24'
    """

    shapes: Mapping[str, str]
    roles: Mapping[str, str]

    def of(self, word: str) -> str:
        """Return the hex colour of a shape ("disc", "ring", ...) or of a role ("court-line", "ink", ...)."""
        found = self.shapes.get(word) or self.roles.get(word)
        if found is None:
            raise ValueError(f"{word!r} is neither a shape nor a role of the palette")
        return found


def _colours(shapes: dict[str, str], roles: dict[str, str]) -> Colours:
    return Colours(MappingProxyType(shapes), MappingProxyType(roles))


COLOURS: Mapping[str, Colours] = MappingProxyType(
    {
        "light": _colours(
            {
                "disc": OKABE_ITO["bluish green"],
                "ring": OKABE_ITO["blue"],
                "cross": OKABE_ITO["vermillion"],
                "bar": OKABE_ITO["black"],
                "diamond": OKABE_ITO["reddish purple"],
                "half-disc": OKABE_ITO["orange"],
                "square": OKABE_ITO["orange"],
                "caret": OKABE_ITO["black"],
            },
            {
                "ink": "#1B1F24",
                "rim": "#1B1F24",
                "faint-ink": "#59616B",
                "paper": "#FFFFFF",
                "panel": "#F2F4F6",
                "rule": "#C3C9D0",
                "hatch": "#C3C9D0",
                "floor": "#F8F6F1",
                "court-line": "#3C434B",
                "net": "#1B1F24",
                "aim": OKABE_ITO["yellow"],
                "aim-tint": OKABE_ITO["yellow"],
                "seam": OKABE_ITO["yellow"],
                "landing": "#1B1F24",
                "error": "#7A838D",
                "film": OKABE_ITO["sky blue"],
                "flight": OKABE_ITO["sky blue"],
                "flight-estimated": OKABE_ITO["sky blue"],
                "flight-band": OKABE_ITO["sky blue"],
                "over-net": OKABE_ITO["sky blue"],
                "miss": OKABE_ITO["orange"],
                "error-1": OKABE_ITO["bluish green"],
                "error-2": OKABE_ITO["sky blue"],
                "error-3": OKABE_ITO["yellow"],
                "error-4": OKABE_ITO["orange"],
                "error-5": OKABE_ITO["vermillion"],
                "spread": OKABE_ITO["blue"],
                "label": "#1B1F24",
                "label-ground": "#FFFFFF",
                "legend": "#1B1F24",
                "focus": OKABE_ITO["blue"],
                "cursor": OKABE_ITO["vermillion"],
                "landmark": OKABE_ITO["orange"],
            },
        ),
        "dark": _colours(
            {
                "disc": "#2BC49A",
                "ring": OKABE_ITO["sky blue"],
                "cross": "#F27B35",
                "bar": "#F4F6F8",
                "diamond": "#E29CC4",
                "half-disc": OKABE_ITO["orange"],
                "square": OKABE_ITO["orange"],
                "caret": "#F4F6F8",
            },
            {
                "ink": "#E9EDF1",
                "rim": "#000000",
                "faint-ink": "#A3ADB8",
                "paper": "#16191D",
                "panel": "#1F242A",
                "rule": "#3B434C",
                "hatch": "#5D6873",
                "floor": "#20262B",
                "court-line": "#C9D1D9",
                "net": "#E9EDF1",
                "aim": OKABE_ITO["yellow"],
                "aim-tint": "#6B651B",
                "seam": OKABE_ITO["yellow"],
                "landing": "#FFFFFF",
                "error": "#A3ADB8",
                "film": OKABE_ITO["sky blue"],
                "flight": OKABE_ITO["sky blue"],
                "flight-estimated": OKABE_ITO["sky blue"],
                "flight-band": OKABE_ITO["sky blue"],
                "over-net": OKABE_ITO["sky blue"],
                "miss": OKABE_ITO["orange"],
                "error-1": OKABE_ITO["bluish green"],
                "error-2": OKABE_ITO["sky blue"],
                "error-3": OKABE_ITO["yellow"],
                "error-4": OKABE_ITO["orange"],
                "error-5": OKABE_ITO["vermillion"],
                "spread": OKABE_ITO["sky blue"],
                "label": "#F4F6F8",
                "label-ground": "#101316",
                "legend": "#F4F6F8",
                "focus": OKABE_ITO["sky blue"],
                "cursor": "#F27B35",
                "landmark": OKABE_ITO["orange"],
            },
        ),
        "grey": _colours(
            {
                "disc": "#111111",
                "ring": "#111111",
                "cross": "#111111",
                "bar": "#111111",
                "diamond": "#111111",
                "half-disc": "#111111",
                "square": "#111111",
                "caret": "#111111",
            },
            {
                "ink": "#111111",
                "rim": "#111111",
                "faint-ink": "#555555",
                "paper": "#FFFFFF",
                "panel": "#F2F2F2",
                "rule": "#C4C4C4",
                "hatch": "#C4C4C4",
                "floor": "#FAFAFA",
                "court-line": "#3C3C3C",
                "net": "#111111",
                "aim": "#DCDCDC",
                "aim-tint": "#DCDCDC",
                "seam": "#DCDCDC",
                "landing": "#111111",
                "error": "#808080",
                "film": "#404040",
                "flight": "#404040",
                "flight-estimated": "#404040",
                "flight-band": "#404040",
                "over-net": "#404040",
                "miss": "#111111",
                "error-1": "#FFFFFF",
                "error-2": "#D0D0D0",
                "error-3": "#A0A0A0",
                "error-4": "#686868",
                "error-5": "#303030",
                "spread": "#444444",
                "label": "#111111",
                "label-ground": "#FFFFFF",
                "legend": "#111111",
                "focus": "#111111",
                "cursor": "#111111",
                "landmark": "#444444",
            },
        ),
    }
)

PAPER_COLOURS = COLOURS["light"]
"""The palette of sheets and other printed pages."""

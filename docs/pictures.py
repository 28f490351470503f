"""Draw the pictures of the guide from the running program: python3 docs/pictures.py

The demo is made in a temporary folder; its window, sheets and stills become the pictures here.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

PICTURES = Path(__file__).resolve().parent / "pictures"
SMALL, LARGE = (1280, 720), (2560, 1440)
WINDOWS = (
    ("start-light", SMALL, "light", "start"),
    ("setup-light", SMALL, "light", "setup"),
    ("setup-dark", SMALL, "dark", "setup"),
    ("mark-light", SMALL, "light", "mark"),
    ("mark-dark", SMALL, "dark", "mark"),
    ("mark-large", LARGE, "dark", "mark"),
    ("study-light", SMALL, "light", "study"),
    ("study-dark", SMALL, "dark", "study"),
    ("share-light", SMALL, "light", "share"),
)
SHOWN_SERVE = 4
SHEET_DOTS_PER_IN = 80


def draw_windows(logbook: Path) -> None:
    """Draw the window at each of its four steps."""
    from serve_marker.desktop.app import window_picture

    for name, size, theme, step in WINDOWS:
        window_picture(logbook, PICTURES / f"{name}.png", size, theme, step, SHOWN_SERVE)


def draw_sheets(logbook: Path) -> None:
    """Draw the first page of the team sheet, and of one server."""
    from serve_marker.logbook.store import Logbook
    from serve_marker.report.figures import pixels_of
    from serve_marker.report.pictures import write_png
    from serve_marker.report.sheets import read_evening, server_pages, team_pages

    with Logbook.open(logbook) as book:
        evening = read_evening(book)
        latest, player = book.practices()[-1], book.players()[0]
    pages = {
        "team-sheet": team_pages(evening, latest.id)[0],
        "server-page": server_pages(evening, player.id, latest.id)[0],
    }
    for name, page in pages.items():
        write_png(pixels_of(page.figure, SHEET_DOTS_PER_IN), PICTURES / f"{name}.png")


def copy_stills(folder: Path) -> None:
    """Take one still of a serve and the picture of all landings of a practice."""
    whole = sorted(folder.rglob("*all landings*.png"))
    single = [still for still in sorted(folder.rglob("*.png")) if still not in whole]
    shutil.copyfile(whole[-1], PICTURES / "all-landings.png")
    shutil.copyfile(single[0], PICTURES / "still.png")


def make_small() -> None:
    """Keep 256 colours of each picture, chosen so that the small bright marks keep theirs."""
    for path in PICTURES.glob("*.png"):
        with Image.open(path) as picture:
            picture.convert("RGB").quantize(256, Image.Quantize.MAXCOVERAGE).save(path, optimize=True)


def main() -> None:
    """Draw everything."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        demo = Path(place) / "demo"
        subprocess.run([sys.executable, "-m", "serve_marker", "demo", "-o", str(demo)], check=True)
        logbook = demo / "tidewater.logbook"
        draw_windows(logbook)
        draw_sheets(logbook)
        copy_stills(demo / "stills")
    make_small()
    print(*sorted(path.name for path in PICTURES.glob("*.png")), sep="\n")


if __name__ == "__main__":
    main()

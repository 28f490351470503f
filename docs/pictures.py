"""Draw the pictures of the guide from the running program: python3 docs/pictures.py

The demo is made in a temporary folder; its window, sheets and stills become the pictures here.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from serve_marker.desktop.main_window import MainWindow

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
SAMPLE = Path(__file__).resolve().parents[1] / "sample_clips" / "winter-stand.mp4"
FOCAL_PX = 820.0
"""winter-stand's camera, from its truth file."""
TURNED_DEG = 1.4
SHEET_DOTS_PER_IN = 80
IN_FLIGHT_MS = 1800
"""After so long the loop, at half speed, is in the middle of a flight."""


def draw_windows(logbook: Path) -> None:
    """Draw the window at each of its four steps."""
    from serve_marker.desktop.app import window_picture

    for name, size, theme, step in WINDOWS:
        window_picture(logbook, PICTURES / f"{name}.png", size, theme, step, SHOWN_SERVE)


def draw_checks(logbook: Path, folder: Path) -> None:
    """Draw what checks a view: the error on the floor, a line being traced, and the question about a known place."""
    from serve_marker.desktop.app import window_picture

    turned = film_turned(folder)
    for theme in ("light", "dark"):
        window_picture(logbook, PICTURES / f"setup-error-{theme}.png", SMALL, theme, "setup", act=show_error)
        known = shutil.copy(known_place(folder), folder / f"{theme}.logbook")
        question = PICTURES / f"question-{theme}.png"
        window_picture(Path(known), question, SMALL, theme, "setup", act=asked_about(turned))
    window_picture(logbook, PICTURES / "setup-large.png", LARGE, "dark", "setup", act=show_error)
    window_picture(logbook, PICTURES / "setup-trace.png", SMALL, "light", "setup", act=trace_far_line)


def show_error(window: MainWindow) -> None:
    """Show the error on the floor."""
    window.page.setup_pane.show_error()


def trace_far_line(window: MainWindow) -> None:
    """Begin to trace the far end line."""
    window.page.setup_pane.choose("end-b")


def film_turned(folder: Path) -> Path:
    """Film two seconds of a sample clip again, by a camera turned a little."""
    import av
    import cv2
    import numpy as np

    from serve_marker.video.clip import open_clip
    from serve_marker.video.frames import FrameReader

    path = folder / "thursday.mp4"
    rotation, _ = cv2.Rodrigues(np.radians([0.0, TURNED_DEG, 0.0]))
    lens = np.array([[FOCAL_PX, 0, 639.5], [0, FOCAL_PX, 359.5], [0, 0, 1]])
    motion = lens @ rotation @ np.linalg.inv(lens)
    with FrameReader(open_clip(SAMPLE)) as reader, av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=8)
        stream.width, stream.height, stream.pix_fmt = *SMALL, "yuv420p"
        for k in range(16):
            picture = reader.frame(reader.clip.frame_at(14.0 + k / 8))
            turned = cv2.warpPerspective(picture, motion, SMALL, borderMode=cv2.BORDER_REPLICATE)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(turned.astype(np.uint8), format="rgb24")))
        out.mux(stream.encode(None))
    return path


def known_place(folder: Path) -> Path:
    """Make a logbook that holds the sample clip's place as a stored view."""
    from serve_marker.camera.fitting.view_from_marks import fit_view
    from serve_marker.camera.view.viewfile import read_marks, view_to_text
    from serve_marker.desktop.setup.reference_picture import still_part
    from serve_marker.logbook.records import Gym, StoredView
    from serve_marker.logbook.store import Logbook
    from serve_marker.marking.view_reference import with_reference
    from serve_marker.video.clip import open_clip

    path = folder / "tidewater-known.logbook"
    if not path.exists():
        sheet = read_marks(SAMPLE.with_suffix(".marks.json"))
        view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, sheet.traces).view
        document = with_reference(view_to_text(view), still_part(open_clip(SAMPLE), 10.0, lambda: False))
        with Logbook.create(path, team="Tidewater") as book:
            stored = StoredView(id="v", gym_id="g", name="Stand", made_on="2026-11-10", document=document)
            book.put(Gym(id="g", name="Harbour hall"), stored)
    return path


def asked_about(clip: Path) -> Callable[[MainWindow], None]:
    """Return what adds a clip to the window and waits until it asks about its place."""

    def act(window: MainWindow) -> None:
        from serve_marker.desktop import app
        from serve_marker.desktop.dialogs.practice_of_clips import PracticeOfClips

        window.books.take(clip)
        app.wait_until(lambda: bool(window.findChildren(PracticeOfClips)))
        window.findChildren(PracticeOfClips)[0].accept()
        for _ in range(6):
            app.wait_until(lambda: window.page.checking.question is not None)

    return act


def draw_review(logbook: Path) -> None:
    """Draw a found serve in its review, on the first clip as if nothing had been marked there."""
    from serve_marker.desktop.app import window_picture
    from serve_marker.logbook.store import Logbook

    bare = Path(shutil.copy(logbook, logbook.with_name("bare.logbook")))
    with Logbook.open(bare) as book:
        book.remove(*book.serves())
    window_picture(bare, PICTURES / "review-light.png", SMALL, "light", "mark", act=show_sure_one)


def show_sure_one(window: MainWindow) -> None:
    """Find the serves of the clip, and stop on the first confident one in its flight."""
    from serve_marker.desktop.app import let_work
    from serve_marker.desktop.mark.proposal_words import CONFIDENT

    review, finder = window.page.review, window.page.finder
    finder.begin("b")
    while finder.busy:
        let_work(200)
    review.begin()
    while review.shown is not None and review.shown.confidence < CONFIDENT:
        review.leave_for_later()
    let_work(IN_FLIGHT_MS)
    window.page.player.pause()


def draw_sheets(logbook: Path) -> None:
    """Draw the fronts of the team sheet and of one server's."""
    from serve_marker.logbook.store import Logbook
    from serve_marker.report.figure_pixels import pixels_of
    from serve_marker.report.server_page import server_pages
    from serve_marker.report.sheets import read_report_data
    from serve_marker.report.team_page import team_pages
    from serve_marker.report.write_files import write_png

    with Logbook.open(logbook) as book:
        evening = read_report_data(book)
        latest, player = book.practices()[-1], book.players()[0]
    pages = {
        "team-sheet-light": team_pages(evening, latest.id)[0],
        "server-page-light": server_pages(evening, player.id)[0],
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
    """Pack each picture as tightly as it goes, with all its colours and no transparency."""
    for path in PICTURES.glob("*.png"):
        with Image.open(path) as picture:
            picture.convert("RGB").save(path, optimize=True)


def main() -> None:
    """Draw everything."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        demo = Path(place) / "demo"
        subprocess.run([sys.executable, "-m", "serve_marker", "demo", "-o", str(demo)], check=True)
        logbook = demo / "tidewater.logbook"
        draw_windows(logbook)
        draw_checks(logbook, Path(place))
        draw_review(logbook)
        draw_sheets(logbook)
        copy_stills(demo / "stills")
    make_small()
    print(*sorted(path.name for path in PICTURES.glob("*.png")), sep="\n")


if __name__ == "__main__":
    main()

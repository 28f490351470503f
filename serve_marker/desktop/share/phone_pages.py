"""Players' pages for their phones: the page of each with stills of her newest serves in it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

import cv2

from serve_marker.desktop.share.serve_drawings import ServeDrawings
from serve_marker.desktop.widgets.overlay_painter import image_array
from serve_marker.desktop.widgets.still_painter import captioned_still
from serve_marker.errors import UserError
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.bundle import make_folder
from serve_marker.report.phone_page import PageStill, phone_page
from serve_marker.report.sheets import read_report_data
from serve_marker.report.still_sizes import StillSize
from serve_marker.report.write_files import free_name, write_whole
from serve_marker.study.by_server import servers_of
from serve_marker.video.progress import Progress

MOST_STILLS = 4
ON_PAGE = StillSize("On a page", (1080, 900), 2.2)
QUALITY = 82


def write_phone_pages(
    logbook: Logbook,
    folder: Path,
    practice_id: str | None = None,
    player_ids: Collection[str] = (),
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    tell: Callable[[str], object] | None = None,
) -> list[Path]:
    """Write the page of some players, or of each who served, into a folder; return their paths.

    Pages are made without stills where no film is at hand. Those written before ``cancelled`` says so are whole.

    Raises
    ------
    UserError
        Where nobody served in this choice.
    """
    data = read_report_data(logbook)
    served = servers_of(data.of_practice(practice_id))
    wanted = [(key, words) for key, words in served if key and (not player_ids or key in player_ids)]
    if not wanted:
        raise UserError("Nobody served in this choice; choose another practice or server.")
    make_folder(folder)
    drawings = ServeDrawings(logbook, tell)
    drawings.take_rows(data.table.to_dict("records"))
    taken: set[str] = set()
    paths: list[Path] = []
    try:
        for key, words in wanted:
            if cancelled is not None and cancelled():
                break
            paths.append(folder / f"{free_name(words, taken)}.html")
            stills = _stills(logbook, drawings, key, practice_id)
            write_whole(phone_page(data, key, practice_id, stills).encode(), paths[-1])
            if progress is not None:
                progress(len(paths), len(wanted))
    finally:
        drawings.close()
    return paths


def _stills(logbook: Logbook, drawings: ServeDrawings, player_id: str, practice_id: str | None) -> list[PageStill]:
    """The newest landings of a player that have a picture."""
    own = [serve for serve in logbook.serves(practice_id=practice_id) if serve.player_id == player_id]
    stills: list[PageStill] = []
    for serve in reversed(own):
        still = _still(drawings, serve) if drawings.is_landed(serve) else None
        stills += [still] if still is not None else []
        if len(stills) == MOST_STILLS:
            break
    return stills


def _still(drawings: ServeDrawings, serve: Serve) -> PageStill | None:
    reader = drawings.reader_for(serve.clip_id)
    if reader is None or serve.landing is None:
        return None
    try:
        picture = reader.frame(reader.clip.frame_at(serve.landing.time_s))
    except UserError as error:
        drawings.tell(str(error))
        return None
    drawn = drawings.drawn(serve)
    still = captioned_still(picture, drawings.still_items(drawn), (), ON_PAGE, reader.clip.pixel_aspect)
    pixels = cv2.cvtColor(image_array(still), cv2.COLOR_RGB2BGR)
    _, coded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return PageStill(coded.tobytes(), ", ".join(drawn.caption[1:]))

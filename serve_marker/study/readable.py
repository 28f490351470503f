"""Whether all that a logbook holds can be read by what sheets and tables are made with."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_click_sd_px, own_frames_off
from serve_marker.camera.view.viewfile import view_from_text
from serve_marker.court.areas import scheme_from_setting
from serve_marker.court.dimensions import COURTS, Court
from serve_marker.errors import UserError
from serve_marker.logbook.records import StoredView
from serve_marker.marking.view_reference import reference_of
from serve_marker.plain_json import read_json, told_as
from serve_marker.printable import quoted_name
from serve_marker.study.ladder import ladder_of
from serve_marker.study.serve_table_parts import serve_table_parts
from serve_marker.study.settings import settings_of
from serve_marker.study.stored_formations import formation_from

if TYPE_CHECKING:
    from serve_marker.logbook.store import Logbook

ANY_PICTURE = (1920, 1080)


def unreadable_parts(logbook: Logbook) -> list[str]:
    """Return a sentence for each part of a logbook that cannot be read; none where sheets and tables can be made."""
    sentences = []
    for read in _readers(logbook):
        try:
            read()
        except UserError as error:
            sentences.append(str(error))
    return list(dict.fromkeys(sentences))


def _readers(logbook: Logbook) -> Iterator[Callable[[], object]]:
    indoor = COURTS["indoor"]
    yield partial(settings_of, logbook)
    yield partial(ladder_of, logbook, indoor)
    yield lambda: scheme_from_setting(logbook.get_setting("scheme"), indoor)
    yield lambda: own_frames_off(logbook.get_setting(OWN_CLICK))
    yield lambda: own_click_sd_px(logbook.get_setting(OWN_CLICK), ANY_PICTURE)
    for view in logbook.views():
        yield partial(_read_view, view)
    for gym in logbook.gyms():
        if gym.court:
            yield partial(_read_court, gym.court, gym.name)
    for formation in logbook.formations():
        yield partial(formation_from, formation)
    yield lambda: deque(serve_table_parts(logbook), maxlen=0)


def _read_view(view: StoredView) -> None:
    view_from_text(view.document, f"The view {quoted_name(view.name)}")
    reference_of(view.document)


def _read_court(text: str, gym_name: str) -> None:
    with told_as(f"The court of {quoted_name(gym_name)} cannot be read; choose it again in Set up."):
        Court.from_dict(read_json(text))

"""What a coach should know about a logbook: damage, clips that are missing, serves whose view changed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from serve_marker.logbook.fingerprint import find_moved
from serve_marker.logbook.records import ClipEntry, Serve
from serve_marker.logbook.store import Logbook

VIEW_DOCUMENT_VERSION = 1


def problems(logbook: Logbook) -> list[str]:
    """Everything worth a sentence; none where all is well."""
    damage = logbook.check()
    return damage if damage else missing_clips(logbook) + stale_views(logbook)


def missing_clips(logbook: Logbook) -> list[str]:
    """Clips that are not where they were, and where they are now if they lie beside the logbook."""
    sentences = []
    folder = logbook.path.absolute().parent
    for entry in logbook.clips():
        place = find_moved(entry, [folder])
        name = Path(entry.path).name
        if place is None and _exists(entry):
            sentences.append(f"{name} is no longer the film that was marked; put the old one back at {entry.path}.")
        elif place is None:
            sentences.append(f"{name} is not at {entry.path}; put it back or beside the logbook.")
        elif place != Path(entry.path):
            sentences.append(f"{name} is not at {entry.path}, but the same film lies beside the logbook: {place.name}.")
    return sentences


def stale_views(logbook: Logbook) -> list[str]:
    """Views that cannot be read any more, and serves placed without one or not through their clip's view."""
    sentences = []
    for view in logbook.views():
        version = _document_version(view.document)
        if version is None:
            sentences.append(f"The view {view.name} cannot be read; set it up again.")
        elif version != VIEW_DOCUMENT_VERSION:
            sentences.append(f"The view {view.name} was written by another version; set it up again or update.")
    names = {view.id: view.name for view in logbook.views()}
    for entry in logbook.clips():
        sentences += _stale_serves(logbook.serves(clip_id=entry.id), entry, names)
    return sentences


def _stale_serves(serves: Sequence[Serve], entry: ClipEntry, view_names: dict[str, str]) -> list[str]:
    clip_name = Path(entry.path).name
    sentences = []
    placed = Counter(serve.view_id for serve in serves if serve.landing_point or serve.contact_point)
    for view_id, count in placed.items():
        if view_id is None:
            sentences.append(
                f"{_serves(count)} of {clip_name} stood on a view that is gone; choose the clip's view again."
            )
        elif entry.view_id is not None and view_id != entry.view_id:
            sentences.append(
                f"{_serves(count)} of {clip_name} used the view {view_names[view_id]}, but the clip now has "
                f"{view_names[entry.view_id]}; choose the clip's view again to place them anew."
            )
    unplaced = sum(1 for serve in serves if serve.view_id is None and _landing_seen(serve))
    if unplaced:
        sentences.append(f"{_serves(unplaced)} of {clip_name} still without a view; choose one for the clip.")
    return sentences


def _landing_seen(serve: Serve) -> bool:
    return serve.landing_point is None and serve.landing is not None and serve.landing.pixel is not None


def _serves(count: int) -> str:
    return "1 serve" if count == 1 else f"{count} serves"


def _exists(entry: ClipEntry) -> bool:
    try:
        return Path(entry.path).is_file()
    except OSError:
        return False


def _document_version(document: str) -> object:
    try:
        content = json.loads(document)
    except (ValueError, RecursionError):
        return None
    return content.get("version") if isinstance(content, dict) else None

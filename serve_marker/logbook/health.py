"""What a coach should know about a logbook: damage, clips that are missing, serves without a sound view."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from serve_marker.logbook.clip_places import folder_to_ask_about, not_opened_sentence
from serve_marker.logbook.consents import overdue_sentences
from serve_marker.logbook.moved_clips import find_moved, likely_folders
from serve_marker.logbook.records import ClipEntry, player_words
from serve_marker.logbook.serve_counts import serves_without_view
from serve_marker.logbook.store import Logbook
from serve_marker.plain_json import read_json
from serve_marker.printable import printable

VIEW_DOCUMENT_VERSIONS = (1, 2, 3)
"""What `view_from_text` of the camera reads; tests/camera keeps the two in step."""


def problems(logbook: Logbook) -> list[str]:
    """Everything worth a sentence; none where all is well."""
    damage = logbook.check()
    if damage:
        return damage
    names = {player.id: printable(player_words(player)) for player in logbook.players()}
    overdue = overdue_sentences(names, logbook.consents(), date.today().isoformat())
    return missing_clips(logbook) + stale_views(logbook) + overdue


def missing_clips(logbook: Logbook) -> list[str]:
    """Clips that are not where they were, and where they are now if they lie beside the logbook or another clip."""
    sentences = []
    folders = likely_folders(logbook)
    for entry in logbook.clips():
        place = find_moved(entry, folders)
        name = entry.file_name
        if place is None and folder_to_ask_about(logbook, entry) is not None:
            sentences.append(not_opened_sentence(entry))
        elif place is None and _exists(entry):
            sentences.append(f"{name} is no longer the film that was marked. Put the old one back at {entry.path}.")
        elif place is None:
            sentences.append(f"{name} is not at {entry.path}; put it back or beside the logbook.")
        elif place != Path(entry.path):
            sentences.append(f"{name} is not at {entry.path}, but the same film lies at {place}.")
    return sentences


def stale_views(logbook: Logbook) -> list[str]:
    """Views that cannot be read any more, and serves that have none."""
    sentences = []
    for view in logbook.views():
        version = _document_version(view.document)
        if version is None:
            sentences.append(f"The view {view.name} cannot be read; set it up again.")
        elif version not in VIEW_DOCUMENT_VERSIONS:
            sentences.append(f"The view {view.name} was written by another version; set it up again or update.")
    counts = serves_without_view(logbook)
    for entry in logbook.clips():
        orphaned, unplaced = counts.get(entry.id, (0, 0))
        name = entry.file_name
        if orphaned:
            sentences.append(f"{_have(orphaned)} a place from a lost view in {name}. Choose the clip's view again.")
        if unplaced:
            sentences.append(f"{_have(unplaced)} no view in {name}; choose one for the clip.")
    return sentences


def _have(count: int) -> str:
    return "1 serve has" if count == 1 else f"{count} serves have"


def _exists(entry: ClipEntry) -> bool:
    try:
        return Path(entry.path).is_file()
    except OSError:
        return False


def _document_version(document: str) -> object:
    try:
        content = read_json(document)
    except ValueError:
        return None
    return content.get("version") if isinstance(content, dict) else None

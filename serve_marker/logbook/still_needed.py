"""What may not be removed while something in the logbook needs it, said in one sentence."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Sequence

_STILL_NEEDED = {
    ("serve", "player"): ("serve", "by or to", "give them to another player first"),
    ("tally", "player"): ("count", "typed in for", "take them out first"),
    ("serve", "clip"): ("serve", "marked on", "remove them first"),
    ("serve", "stored_view"): ("serve", "measured through", "choose another view for them first"),
    ("serve", "formation"): ("serve", "hit against", "choose another formation for them first"),
    ("clip", "stored_view"): ("clip", "seen through", "choose another view for them first"),
    ("clip_view", "stored_view"): ("clip", "seen through", "choose another view for them first"),
    ("clip", "practice"): ("clip", "of", "remove them first"),
    ("practice", "formation"): ("practice", "played against", "choose another formation for them first"),
    ("practice", "gym"): ("practice", "held in", "choose another gym for them first"),
    ("stored_view", "gym"): ("view", "of", "remove them first"),
}
_KIND = {
    **{kind: kind for kind in ("player", "clip", "practice", "gym", "formation")},
    "stored_view": "view",
}


def loose_end(connection: sqlite3.Connection, removed_names: Sequence[str]) -> str:
    """Why the change under way cannot be kept: records would be left that belong to none.

    ``removed_names`` are the names of the records the change removes; none where it only adds.
    """
    loose = {tuple(row[:3]) for row in connection.execute("PRAGMA foreign_key_check")}
    pairs = Counter((child, parent) for child, _, parent in loose)
    (child, parent), count = pairs.most_common(1)[0]
    if not removed_names or (child, parent) not in _STILL_NEEDED:
        return f"The {_KIND[parent]} this change belongs to is gone, so nothing was changed. Open the logbook again."
    noun, link, remedy = _STILL_NEEDED[child, parent]
    name = removed_names[0] if len(removed_names) == 1 and removed_names[0] else f"this {_KIND[parent]}"
    counted = f"is 1 {noun}" if count == 1 else f"are {count} {noun}s"
    return f"{name[:1].upper()}{name[1:]} cannot be removed, because there {counted} {link} {name}; {remedy}."

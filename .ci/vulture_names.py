"""Names that others call or read. Vulture reads this file beside the program; it is never run."""

from typing import Any

named: Any = None

# Qt calls these on its own classes.
_: Any = (
    named.accessible_items,
    named.columnCount,
    named.contextMenuEvent,
    named.createEditor,
    named.dragEnterEvent,
    named.dropEvent,
    named.focusable,
    named.hasHeightForWidth,
    named.headerData,
    named.hideEvent,
    named.indexOfChild,
    named.mergeWith,
    named.minimumSizeHint,
    named.mouseDoubleClickEvent,
    named.mouseMoveEvent,
    named.mousePressEvent,
    named.mouseReleaseEvent,
    named.option,
    named.paintEvent,
    named.selectable,
    named.setEditorData,
    named.setModelData,
)

# Typer runs these as commands.
_ = (
    named.clip_frame,
    named.clip_info,
    named.demo,
    named.export,
    named.logbook_check,
    named.logbook_new,
    named.marks_import,
    named.open_window,
    named.spot_clips,
    named.view_check,
    named.view_fit,
    named.view_locate,
)

# Other libraries read these from their own objects: av, numpy and openpyxl.
_ = (
    named.bit_rate,
    named.gop_size,
    named.max_b_frames,
    named.pix_fmt,
    named.sample_rate,
    named.writeable,
    named.creator,
    named.freeze_panes,
    named.modified,
)

# The study looks these fields up by their names, as it does the other fields of a filter.
_ = (
    named.positions,
    named.practice_ids,
    named.target_kinds,
    named.winds,
)

# A consent's days are looked up by what they are for.
_ = (
    named.filmed_from,
    named.filmed_until,
    named.team_from,
    named.team_until,
    named.outside_from,
    named.outside_until,
)

# Pytest reads these from the tests' modules; other tests take a module's functions by running it.
_ = (
    named._make_clip,
    named._read_number,
    named._sequential,
    named.caches_of_its_own,
    named.clicks_stand,
    named.film_sharpens,
    named.hasty,
    named.nothing_left_alive,
    named.pytest_collection_modifyitems,
    named.pytestmark,
    named.spoil_packet,
    named.with_claps,
    named.NOISES,
    named.sound_of,
    named.film_with_sound,
    named.pict_type,
    named.handle_starttag,
    named.handle_endtag,
    named.handle_data,
)

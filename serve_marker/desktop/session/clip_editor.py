"""Changes to the logbook's list of clips."""

from __future__ import annotations

from collections.abc import Sequence

from serve_marker.desktop.session.clip_edits import MoveClips, RemoveClips, whole_clip
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.logbook.records import ClipEntry, Practice


def clips_words(clips: Sequence[ClipEntry]) -> str:
    """Return how clips are named together.

    Examples
    --------
    >>> clip = ClipEntry(id="c", practice_id="p", path="/film/tuesday.mp4", size_bytes=1, fingerprint="0")
    >>> clips_words([clip]), clips_words([clip, clip])
    ('tuesday.mp4', '2 clips')
    """
    return clips[0].file_name if len(clips) == 1 else f"{len(clips)} clips"


class ClipEditor:
    """Changes to the list of clips, each one step of undo."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def move(self, clips: Sequence[ClipEntry], practice: Practice) -> None:
        """Give clips to another practice."""
        moving = [clip for clip in clips if clip.practice_id != practice.id]
        if moving:
            self._workspace.do(MoveClips(f"{clips_words(moving)} to {practice.name}", moving, practice))

    def remove(self, clips: Sequence[ClipEntry]) -> None:
        """Take clips and their serves out of the logbook; the film files stay."""
        book = self._workspace.book()
        whole = [whole_clip(book, clip) for clip in clips]
        self._workspace.do(RemoveClips(f"{clips_words(clips)} removed", whole))
        self._workspace.message.emit(f"Removed: {clips_words(clips)}. The film file{'s' * (len(clips) > 1)} stayed.")

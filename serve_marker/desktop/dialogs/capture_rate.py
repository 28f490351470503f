"""The rate a clip was filmed at: said by the coach, suggested by the container or by paces no serve can have."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDoubleSpinBox, QVBoxLayout, QWidget

from serve_marker.desktop.dialogs.buttons import accept_reject_buttons
from serve_marker.desktop.session.edits import ChangeCaptureRate
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.desktop.widgets.text_sizes import pixels
from serve_marker.errors import UserError
from serve_marker.study.suggested_capture_rate import placed_paces_mps, suggested_fps

FASTEST_FPS = 2000.0
TRUE_SPEED = "true speed"


class CaptureRateDialog(QDialog):
    """One number; it begins with what is known or suggested."""

    def __init__(self, shown_fps: float, fps: float | None, reason: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Filmed at")
        self.field = QDoubleSpinBox()
        self.field.setAccessibleName("Frames a second the clip was filmed at")
        self.field.setRange(0.0, FASTEST_FPS)
        self.field.setDecimals(2)
        self.field.setSingleStep(60.0)
        self.field.setSuffix(" frames a second")
        self.field.setSpecialValueText(TRUE_SPEED)
        self.field.setValue(fps or 0.0)
        self.field.selectAll()
        words = PlainLabel(
            f"The clip shows {shown_fps:.0f} frames a second. A phone's slow motion is often filmed at 120 or 240. "
            f"Say so here, and all times and paces follow. 0 is true speed. {reason}"
        )
        words.setWordWrap(True)
        words.setMinimumWidth(pixels(420))
        words.setBuddy(self.field)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 20, 24, 16)
        layout.addWidget(words)
        layout.addWidget(self.field)
        layout.addWidget(accept_reject_buttons(self))


class CaptureRate:
    """Handlers of that action, and what is suggested."""

    def __init__(self, window: QWidget, workspace: Workspace) -> None:
        self._window = window
        self._workspace = workspace

    def say_filmed_at(self) -> None:
        """Say at how many frames a second the clip was filmed."""
        workspace = self._workspace
        entry, clip = workspace.clip_entry, workspace.clip
        if entry is None or clip is None:
            raise UserError("Drop a clip on the window first.")
        fps, reason = self.suggestion()
        dialog = CaptureRateDialog(clip.shown_fps, entry.filmed_at_fps or fps, reason, self._window)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(show_errors(workspace, lambda: self.set_filmed_at(dialog.field.value())))
        dialog.open()

    def set_filmed_at(self, fps: float) -> None:
        """Keep the rate, 0 for true speed; the clip's serves are placed anew with the true times."""
        workspace = self._workspace
        entry, clip = workspace.clip_entry, workspace.clip
        if entry is None or clip is None:
            raise UserError("Drop a clip on the window first.")
        after = replace(entry, filmed_at_fps=fps or None)
        if after != entry:
            words = f"Filmed at {fps:g} frames a second" if fps else "Filmed at true speed"
            workspace.do(ChangeCaptureRate(words, entry, after, clip.time_scale))
        workspace.message.emit(f"The clip runs {speed_words(workspace.time_scale)}.")

    def suggestion(self) -> tuple[float | None, str]:
        """A rate to begin with, and why; None and "" where nothing speaks for slow motion."""
        workspace = self._workspace
        entry, clip = workspace.clip_entry, workspace.clip
        if entry is None or clip is None or entry.filmed_at_fps:
            return None, ""
        if clip.capture_rate is not None:
            return clip.capture_rate, f"The camera wrote down {clip.capture_rate:.0f}."
        fps = suggested_fps(placed_paces_mps(workspace.serves, workspace.time_scale), clip.shown_fps)
        return (fps, f"At {fps:.0f} the paces marked so far would be a serve's.") if fps else (None, "")


def speed_words(time_scale: float) -> str:
    """Return how fast a clip runs whose times have to be multiplied by ``time_scale`` to be true.

    Examples
    --------
    >>> speed_words(0.25), speed_words(1.0), speed_words(2.0)
    ('4.0 times slower than life', 'at true speed', '2.0 times faster than life')
    """
    if abs(time_scale - 1) <= 0.01:
        return "at true speed"
    slower = time_scale < 1
    return f"{1 / time_scale if slower else time_scale:.1f} times {'slower' if slower else 'faster'} than life"

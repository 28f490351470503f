"""What belongs to passers and targets: formations, outlines of targets, full-pace series, settings of the numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QWidget

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_frames_off, own_frames_text
from serve_marker.court.aims import foot_text, outline_text, parse_aim
from serve_marker.court.dimensions import to_half
from serve_marker.desktop.dialogs.study_settings import StudySettingsDialog
from serve_marker.desktop.mark.formation_dialog import FormationDialog
from serve_marker.desktop.session.practice_editor import PracticeEditor
from serve_marker.desktop.session.show_errors import show_errors
from serve_marker.desktop.session.view_editor import change_own_click
from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError
from serve_marker.report.overlay_items import Pixel
from serve_marker.study.frames_checked import frames_checked
from serve_marker.study.sentences import count_words
from serve_marker.study.settings import keep_settings, settings_of


class PasserActions:
    """Handlers of those actions."""

    def __init__(self, window: QWidget, workspace: Workspace) -> None:
        self._window = window
        self._workspace = workspace

    def edit_passers(self) -> None:
        """Set where the passers stand; the serves marked from now on keep it."""
        workspace = self._workspace
        workspace.book()
        editor = PracticeEditor(workspace)
        editor.practice_for_passers()
        players = list(workspace.players.values())
        dialog = FormationDialog(workspace.court, workspace.formation, players, self._window)

        def keep() -> None:
            editor.set_formation(dialog.formation())
            name = workspace.formation.name if workspace.formation else "no passers"
            workspace.message.emit(f"The next serves are against {name}.")

        self._open(dialog, keep)

    def edit_study(self) -> None:
        """Edit the settings of the numbers."""
        book = self._workspace.book()
        own_clicks = book.get_setting(OWN_CLICK)
        frames_off = own_frames_off(own_clicks)
        checked = frames_checked(np.array(book.touches_on_film(), dtype=float))
        dialog = StudySettingsDialog(settings_of(book), frames_off, checked, self._window)

        def keep() -> None:
            keep_settings(book, dialog.settings())
            if (chosen := dialog.frames_off.value()) != frames_off:
                text = own_frames_text(chosen, own_clicks)
                change_own_click(self._workspace, f"Marks may be off by {count_words(chosen, 'frame')}", text)
            self._workspace.logbook_changed.emit()

        self._open(dialog, keep)

    def change_full_pace(self) -> None:
        """Mark the next serves as a series hit as hard as can be, or no longer."""
        workspace = self._workspace
        workspace.full_pace = not workspace.full_pace
        words = "belong to a full-pace series" if workspace.full_pace else "are no full-pace series"
        workspace.message.emit(f"The next serves {words}.")

    def outline_target(self) -> None:
        """Begin the outline of a target as placed, or leave it."""
        workspace = self._workspace
        if workspace.outline_px is not None:
            workspace.set_outline(None)
            workspace.message.emit("Outline left.")
            return
        if workspace.view is None:
            raise UserError("Set up the view first, then a target's place on the floor is known.")
        workspace.set_outline(())
        workspace.message.emit(
            "Click the corners of the target, then Enter. An upright one needs one click at its foot."
        )

    def add_corner(self, pixel: Pixel) -> None:
        """One more corner of the target."""
        corners = (*(self._workspace.outline_px or ()), pixel)
        self._workspace.set_outline(corners)
        self._workspace.message.emit(f"{len(corners)} marked; Enter takes the target as the aim.")

    def close_outline(self) -> None:
        """Take the outline, or the foot of an upright target, as the aim."""
        workspace = self._workspace
        corners, view = workspace.outline_px or (), workspace.view
        if view is None or len(corners) not in (1, *range(3, 25)):
            raise UserError("A target needs its foot, or three corners or more. Then press Enter.")
        floor_m, _ = view.locate(corners)
        if not np.isfinite(floor_m).all():
            raise UserError("One of the corners is not on the floor. Press J and click again.")
        half_m = to_half(floor_m, "b" if floor_m[:, 1].mean() > 0 else "a", view.court)
        text = foot_text(half_m[0]) if len(corners) == 1 else outline_text(half_m)
        aim = parse_aim(text, workspace.court, workspace.scheme)
        workspace.set_outline(None)
        workspace.set_aim(aim.text if aim else "")
        workspace.message.emit("The target is the aim of the next serves.")

    def _open(self, dialog: QDialog, keep: Callable[[], None]) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(show_errors(self._workspace, keep))
        dialog.open()

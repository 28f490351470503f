"""What stands in the way of a change is said in the window, not raised into Qt."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from serve_marker.desktop.session.workspace import Workspace
from serve_marker.errors import UserError


def show_errors(workspace: Workspace, slot: Callable[..., object]) -> Callable[..., None]:
    """Return the slot with a UserError turned into the workspace's message."""

    def run(*arguments: Any) -> None:
        try:
            slot(*arguments)
        except UserError as error:
            workspace.message.emit(str(error))

    return run

"""What stands between the program and a window: no display, or a system library that Qt lacks."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

from serve_marker.errors import UserError

X11_PACKAGES = (
    "libx11-xcb1 libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 "
    "libxcb-shape0 libxcb-sync1 libxcb-xfixes0 libxcb-xkb1 libxkbcommon-x11-0"
)
DEBIAN_PACKAGES = {
    **dict.fromkeys(
        (
            "libX11-xcb.so.1",
            "libxcb-cursor.so.0",
            "libxcb-icccm.so.4",
            "libxcb-image.so.0",
            "libxcb-keysyms.so.1",
            "libxcb-randr.so.0",
            "libxcb-render-util.so.0",
            "libxcb-render.so.0",
            "libxcb-shape.so.0",
            "libxcb-shm.so.0",
            "libxcb-sync.so.1",
            "libxcb-xfixes.so.0",
            "libxcb-xkb.so.1",
            "libxkbcommon-x11.so.0",
        ),
        X11_PACKAGES,
    ),
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libOpenGL.so.0": "libopengl0",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
}


def require_display() -> None:
    """Refuse with a sentence where Qt would end the program: no display, or a library its X11 part lacks.

    Raises
    ------
    UserError
        Saying what is missing and what to do.
    """
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return
    if os.environ.get("WAYLAND_DISPLAY"):
        return
    if not os.environ.get("DISPLAY"):
        raise UserError(
            "There is no display to open the window on; run serve-marker in a desktop session, "
            "or use its commands (serve-marker --help)."
        )
    try:
        import PySide6

        for plugin in Path(PySide6.__path__[0]).glob("Qt/plugins/platforms/libqxcb.so"):
            ctypes.CDLL(str(plugin))
    except (ImportError, OSError) as error:
        raise missing_library(error) from error


def missing_library(error: ImportError | OSError) -> UserError | ImportError | OSError:
    """Return the sentence for a system library Qt could not load; another import error stays what it is.

    Examples
    --------
    >>> str(missing_library(ImportError("libEGL.so.1: cannot open shared object file: No such file or directory")))
    'Qt needs the system library libEGL.so.1; on Debian or Ubuntu install it with: apt install libegl1'
    """
    library = str(error).partition(":")[0].strip()
    if ".so" not in library:
        return error
    package = DEBIAN_PACKAGES.get(library)
    cure = f"on Debian or Ubuntu install it with: apt install {package}" if package else "install the package it is in"
    return UserError(f"Qt needs the system library {library}; {cure}")

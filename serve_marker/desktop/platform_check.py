"""What stands between the program and a window: no display, or a system library that Qt lacks."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

from serve_marker.errors import UserError

DEBIAN_PACKAGES = {
    "libX11-xcb.so.1": "libx11-xcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libOpenGL.so.0": "libopengl0",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
}
NAMED_OTHERWISE = {"libxcb-cursor.so.0": " (on Fedora and Arch: xcb-util-cursor)"}
"""What Qt asks for since its version 6.5, and a desktop does not bring along."""


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
            "There is no display to open the window on. Run serve-marker in a desktop session, "
            "or use its commands: serve-marker --help."
        )
    try:
        import PySide6

        for plugin in Path(PySide6.__path__[0]).glob("Qt/plugins/platforms/libqxcb.so"):
            ctypes.CDLL(str(plugin))
    except (ImportError, OSError) as error:
        raise missing_library(error) from error


def missing_library(error: ImportError | OSError) -> UserError | ImportError | OSError:
    """Return the sentence for a system library Qt could not load; another import error stays what it is.

    It names the packages of all the libraries that are lacking, so that one command brings them.

    Examples
    --------
    >>> str(missing_library(ImportError("libEGL.so.9: cannot open shared object file: No such file or directory")))
    'Qt needs the system library libEGL.so.9; install the package it is in'
    """
    library = str(error).partition(":")[0].strip()
    if ".so" not in library:
        return error
    needed = f"Qt needs the system library {library}"
    if library not in DEBIAN_PACKAGES:
        return UserError(f"{needed}; install the package it is in")
    lacking = [library, *(other for other in DEBIAN_PACKAGES if other != library and not _loads(other))]
    packages = " ".join(dict.fromkeys(DEBIAN_PACKAGES[name] for name in lacking))
    elsewhere = NAMED_OTHERWISE.get(library, "")
    return UserError(f"{needed}; on Debian or Ubuntu install it with: apt install {packages}{elsewhere}")


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True

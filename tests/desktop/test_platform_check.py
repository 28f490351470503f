"""Where no window can be opened the program says why in one sentence, before Qt ends it."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys

import pytest

from serve_marker.desktop.platform_check import missing_library, require_display
from serve_marker.errors import UserError

LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux comes without a display")


@LINUX
def test_without_a_display_the_program_says_so_and_ends_with_2():
    bare = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    ended = subprocess.run(
        [sys.executable, "-m", "serve_marker"], env=bare, capture_output=True, text=True, check=False
    )

    assert ended.returncode == 2
    assert ended.stderr.count("\n") == 1
    assert "no display" in ended.stderr


@LINUX
@pytest.mark.parametrize("named", ["QT_QPA_PLATFORM", "WAYLAND_DISPLAY"])
def test_a_chosen_platform_is_left_to_qt(monkeypatch, named):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(UserError, match="no display"):
        require_display()
    monkeypatch.setenv(named, "offscreen")

    require_display()


@pytest.mark.parametrize(
    ("error", "package"),
    [
        (ImportError("libEGL.so.1: cannot open shared object file"), "libegl1"),
        (OSError("libxcb-icccm.so.4: cannot open shared object file"), "libxcb-icccm4"),
    ],
)
def test_a_missing_library_is_named_with_its_package(error, package):
    said = missing_library(error)

    assert isinstance(said, UserError)
    assert package in str(said)


def test_another_import_error_stays_what_it_is():
    error = ImportError("cannot import name 'x'")

    assert missing_library(error) is error


@LINUX
def test_without_the_library_of_pointers_the_program_names_its_package(monkeypatch):
    lacking = {"libxcb-cursor.so.0", "libxcb-image.so.0"}

    def load(name):
        if str(name).endswith("libqxcb.so") or name in lacking:
            raise OSError("libxcb-cursor.so.0: cannot open shared object file: No such file or directory")

    monkeypatch.setattr(ctypes, "CDLL", load)
    for name in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("DISPLAY", ":0")
    with pytest.raises(UserError) as said:
        require_display()
    assert str(said.value) == (
        "Qt needs the system library libxcb-cursor.so.0; on Debian or Ubuntu install it with: "
        "apt install libxcb-cursor0 libxcb-image0 (on Fedora and Arch: xcb-util-cursor)"
    )

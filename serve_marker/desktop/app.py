"""The program as a window: start, end, and pictures of it taken without a display."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from serve_marker.desktop.platform_check import missing_library, require_display
from serve_marker.errors import UserError

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from serve_marker.desktop.main_window import MainWindow

SETTLE_S = 20.0


def run(theme: str = "", logbook_path: Path | None = None) -> int:
    """Open the window, in the colours chosen in it last where no theme is named, and return the exit code."""
    require_display()
    app = application(theme or "system")
    from PySide6.QtCore import QSettings

    from serve_marker.desktop.main_window import MainWindow
    from serve_marker.desktop.widgets.theme import apply_theme
    from serve_marker.desktop.window_looks import WindowLooks

    settings = QSettings("Serve Marker", "Serve Marker")
    apply_theme(app, theme or WindowLooks(settings).colours)
    window = MainWindow(settings)
    show_bugs(window)
    window.show()
    window.open_at_start(logbook_path)
    return app.exec()


def application(theme: str) -> QApplication:
    """Return the one application in its look.

    Raises
    ------
    UserError
        Naming the system library Qt lacks, and the Debian package that brings it.
    """
    try:
        from PySide6.QtWidgets import QApplication

        from serve_marker.desktop.widgets.theme import apply_theme
    except ImportError as error:
        raise missing_library(error) from error
    from serve_marker.desktop.widgets.accessible_items import tell_items

    existing = QApplication.instance()
    app = existing if isinstance(existing, QApplication) else QApplication(sys.argv[:1])
    app.setApplicationName("Serve Marker")
    tell_items()
    apply_theme(app, theme)
    return app


def offscreen_app(theme: str = "light") -> QApplication:
    """Return an application that needs no display."""
    os.environ["QT_QPA_PLATFORM"] = os.environ.get("QT_QPA_PLATFORM") or "offscreen"
    app = application(theme)
    if app.platformName() == "offscreen":
        from PySide6.QtCore import qInstallMessageHandler

        qInstallMessageHandler(tell_of_qt)
    return app


def tell_of_qt(_kind: object, _context: object, text: str) -> None:
    """Pass Qt's messages on, but for what a platform without a display cannot do."""
    if not text.startswith("This plugin does not support"):
        sys.stderr.write(f"{text}\n")


def show_bugs(window: MainWindow) -> None:
    """Let an exception nobody caught, of whatever thread, appear in the window as well as on stderr."""
    from serve_marker.desktop.session.error_reports import ErrorReports

    reports = ErrorReports(window)
    reports.taken.connect(window.report_error)
    reports.install()


def window_picture(
    logbook_path: Path,
    out_png: Path,
    size: tuple[int, int] = (1280, 720),
    theme: str = "light",
    step: str = "mark",
    serve: int = 0,
    act: Callable[[MainWindow], object] | None = None,
) -> Path:
    """Write a picture of the real window with a logbook open and a serve of its first clip shown.

    Parameters
    ----------
    size : width and height of the window [px].
    step : "start", "setup", "mark", "study" or "share".
    serve : which serve of the clip is shown, counted from 0; negative ones from the end.
    act : what is done to the window before the picture is taken.
    """
    offscreen_app(theme)
    from PySide6.QtCore import QSettings

    from serve_marker.desktop.main_window import MainWindow

    with TemporaryDirectory() as folder:
        settings = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = MainWindow(settings)
        try:
            window.resize(*size)
            window.show()
            if step != "start":
                _settle_on(window, logbook_path, step, serve)
            if act is not None:
                act(window)
            wait_until(lambda: not window.busy and not window.page.setup_pane.advice.busy)
            window.say("")
            picture = window.grab()
            if not picture.save(str(out_png), "PNG"):
                raise UserError(f"{out_png} cannot be written; choose another place.")
        finally:
            window.close()
            window.deleteLater()
            settings.sync()
    return out_png


def _settle_on(window: MainWindow, logbook_path: Path, step: str, serve: int) -> None:
    workspace = window.workspace
    window.books.open_logbook_at(logbook_path)
    wait_until(lambda: workspace.clip_entry is not None or not workspace.clips())
    if workspace.serves and step in ("mark", "setup"):
        workspace.go_to_serve(workspace.serves[serve].id)
    window.go_to_step(step)
    if workspace.clip is not None and step == "mark" and workspace.selected_serves():
        landing = workspace.selected_serves()[0].landing
        if landing is not None and landing.pixel is not None:
            window.page.picture.set_cursor_px(landing.pixel)
            window.page.picture.hovered.emit(*landing.pixel)
    wait_until(lambda: window.page.frames.shown_index == workspace.frame or workspace.clip is None)


def wait_until(settled: Callable[[], bool]) -> None:
    """Let the window work until the condition holds."""
    import time

    deadline = time.monotonic() + SETTLE_S
    while not settled() and time.monotonic() < deadline:
        let_work(5)
    let_work(0)


def let_work(time_ms: int) -> None:
    """Let the window work for a while; its threads run meanwhile, which they do not where Qt's test module waits.

    The timer is our own: one made by ``QTimer.singleShot`` once brought the interpreter down as it was deleted later.
    """
    from PySide6.QtCore import QEventLoop, QTimer

    loop = QEventLoop()
    timer = QTimer(singleShot=True, interval=time_ms)
    timer.timeout.connect(loop.quit)
    timer.start()
    loop.exec()

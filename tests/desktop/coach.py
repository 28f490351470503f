"""A coach at the keyboard: drives the real window with mouse and key events only.

Run as a script it marks serves without end and tells each one once its chip is there; the test of
killed windows reads that and pulls the plug.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import av
import cv2
import numpy as np
from PySide6.QtCore import QEvent, QPoint, QSettings, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QLineEdit, QPushButton, QWidget

from serve_marker.court.dimensions import COURTS, landmarks, painted_lines
from serve_marker.desktop.app import application, let_work
from serve_marker.desktop.dialogs.practice_of_clips import PracticeOfClips
from serve_marker.desktop.film.frame_view import FrameView
from serve_marker.desktop.main_window import MainWindow
from serve_marker.logbook.records import Serve
from serve_marker.logbook.store import Logbook

SIZE = (640, 360)
FRAMES, RATE = 150, 30
PATIENCE_S = 60.0
"""How long something is waited for that comes within a second on a quiet machine."""
DialogClass = type[QDialog]
NO_KEY = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
CAMERA_M = np.array([1.0, -17.0, 7.0])
FOCAL_PX = 500.0


def seen_at(*place_m: float) -> tuple[float, float]:
    """Return the pixel of a place on the floor (x, y) [m], by a camera behind end a that looks at the net."""
    point_m = np.array([*place_m, 0.0][:3])
    ahead = np.array([0.0, 1.0, 0.0]) * np.cos(0.42) - np.array([0.0, 0.0, 1.0]) * np.sin(0.42)
    right = np.array([1.0, 0.0, 0.0])
    down = np.cross(ahead, right)
    from_camera = point_m - CAMERA_M
    depth = from_camera @ ahead
    width, height = SIZE
    return (
        float(width / 2 + FOCAL_PX * (from_camera @ right) / depth),
        float(height / 2 + FOCAL_PX * (from_camera @ down) / depth),
    )


def film_court(path: Path) -> None:
    """Write a clip of the empty court; a block in the corner moves so that frames differ."""
    ground = np.full((SIZE[1], SIZE[0], 3), (176, 120, 72), np.uint8)
    for strip in painted_lines(COURTS["indoor"]).values():
        corners = np.array([seen_at(*corner) for corner in strip])
        cv2.fillPoly(ground, [np.round(corners * 16).astype(np.int32)], (245, 245, 245), cv2.LINE_AA, 4)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=RATE)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.bit_rate = 1_500_000
        for index in range(FRAMES):
            picture = ground.copy()
            picture[8:20, 8 + 4 * index % 600 : 20 + 4 * index % 600] = 0
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)


class Coach:
    """Hands on the window: clicks, keys, and patience."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.app = application("light")
        self.app.setAttribute(Qt.ApplicationAttribute.AA_DontUseNativeDialogs)
        self.said: list[str] = []
        self.window = MainWindow(QSettings(str(folder / "settings.ini"), QSettings.Format.IniFormat))
        self.window.workspace.message.connect(self.said.append)
        self.window.show()
        self.window.activateWindow()
        QTest.qWaitForWindowActive(self.window)

    @property
    def workspace(self):
        return self.window.workspace

    @property
    def picture(self) -> FrameView:
        return self.window.page.picture

    @property
    def turn(self):
        return self.window.page.mark_pane.turn

    def stored_serves(self) -> list[Serve]:
        """The serves as the logbook's file holds them."""
        with Logbook.open(self.folder / "team.logbook") as book:
            return book.serves()

    def wait(self, settled: Callable[[], bool], seconds: float = PATIENCE_S) -> None:
        end = time.monotonic() + seconds
        while not settled():
            assert time.monotonic() < end, f"waited in vain; the window said: {self.said[-3:]}"
            let_work(5)

    @property
    def focused(self) -> QWidget:
        """What the keyboard speaks to.

        For a widget that Qt made, PySide may hand out the wrapper of a layout's item that stood at the same address.
        """
        choices: tuple[object, ...] = (QApplication.focusWidget(), QApplication.activeWindow(), self.window)
        return next(choice for choice in choices if isinstance(choice, QWidget))

    def key(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = NO_KEY) -> None:
        """Press a key wherever the focus is."""
        QTest.keyClick(self.focused, key, modifiers)
        QApplication.processEvents()

    def hold(self, key: Qt.Key) -> None:
        """Let a key that was pressed be held until the keyboard repeats it once."""
        repeated = QKeyEvent(QEvent.Type.KeyPress, key, NO_KEY, QKeySequence(key).toString(), True)
        QApplication.sendEvent(self.focused, repeated)
        QApplication.processEvents()

    def type(self, text: str, enter: bool = True) -> None:
        """Type a text wherever the focus is."""
        for letter in text:
            QTest.keyClicks(self.focused, letter)
        if enter:
            self.key(Qt.Key.Key_Return)

    def click(self, widget: QWidget, at: QPoint | None = None, modifiers: Qt.KeyboardModifier = NO_KEY) -> None:
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton, modifiers, at or widget.rect().center())
        QApplication.processEvents()

    def click_film(self, x_px: float, y_px: float, modifiers: Qt.KeyboardModifier = NO_KEY) -> None:
        at = self.picture.film_to_widget(x_px, y_px).toPoint()
        QTest.mouseMove(self.picture, at)
        self.click(self.picture, at, modifiers)

    def dialog(self, kind: DialogClass = QDialog) -> QDialog:
        self.wait(lambda: isinstance(QApplication.activeModalWidget(), kind))
        found = QApplication.activeModalWidget()
        assert isinstance(found, kind)
        return found

    def answer_file(self, *paths: Path) -> None:
        """Type one path, or several in quotes, into the file dialog that is open."""
        dialog = self.dialog(QFileDialog)
        field = dialog.findChild(QLineEdit, "fileNameEdit")
        assert field is not None
        self.click(field)
        self.key(Qt.Key.Key_A, CTRL)
        QTest.keyClicks(field, str(paths[0]) if len(paths) == 1 else " ".join(f'"{path}"' for path in paths))
        QTest.keyClick(field, Qt.Key.Key_Return)
        self.wait(lambda: QApplication.activeModalWidget() is not dialog)
        self.face_window()

    def press(self, text: str) -> None:
        """Click the button of that text in whatever is on top."""
        top = QApplication.activeModalWidget() or self.window
        button = next(b for b in top.findChildren(QPushButton) if b.text() == text and b.isVisible())
        self.click(button)
        self.face_window()

    def press_in(self, window: QWidget, text: str) -> None:
        """Click the button of that text in a window beside the program's own."""
        self.click(next(button for button in window.findChildren(QPushButton) if button.text() == text))

    def face_window(self) -> None:
        """Do what a window manager does once a dialog has gone: the window is active again."""
        if QApplication.activeModalWidget() is None and not self.window.isActiveWindow():
            self.window.activateWindow()
            QTest.qWaitForWindowActive(self.window)

    def begin(self, clip: Path, logbook: Path) -> None:
        """From the empty window to a logbook with the clip on the screen."""
        self.press("Choose a clip…")
        self.answer_file(clip)
        self.answer_file(logbook)
        self.agree_to_practice()
        self.wait(lambda: self.workspace.clip is not None and not self.window.busy)

    def agree_to_practice(self) -> None:
        """Let new clips go where the question proposes."""
        self.dialog(PracticeOfClips)
        self.press("Add")

    def make_view(self, *, skipping: tuple[str, ...] = ()) -> None:
        """Click the landmarks in the order the window asks for, exactly there."""
        for name, place_m in landmarks(COURTS["indoor"]).items():
            if name in skipping:
                self.key(Qt.Key.Key_K)
            else:
                self.click_film(*seen_at(*place_m), SHIFT)

    def step_to(self, frame: int) -> None:
        """Step to a frame by keys, tens first."""
        while (away := frame - self.workspace.frame) != 0:
            before = self.workspace.frame
            self.key(Qt.Key.Key_Right if away > 0 else Qt.Key.Key_Left, SHIFT if abs(away) >= 10 else NO_KEY)
            assert self.workspace.frame != before, f"the arrow keys went to {QApplication.focusWidget()}"
        self.wait(lambda: not self.window.busy)

    def leave(self) -> None:
        self.window.close()
        self.window.deleteLater()
        QApplication.processEvents()


def mark_without_end(folder: Path) -> None:
    """Mark serves and tell each, until killed."""
    clip = folder / "clip.mp4"
    film_court(clip)
    coach = Coach(folder)
    coach.begin(clip, folder / "team.logbook")
    coach.make_view()
    coach.key(Qt.Key.Key_2, CTRL)
    told: set[str] = set()
    sys.stdout.write("ready\n")
    chance = np.random.default_rng(os.getpid())
    while True:
        coach.click_film(*seen_at(chance.uniform(-4, 4), chance.uniform(1, 9)))
        coach.key(Qt.Key.Key_Right, SHIFT)
        for serve in coach.workspace.serves:
            if serve.id not in told:
                told.add(serve.id)
                sys.stdout.write(f"{serve.id}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    mark_without_end(Path(sys.argv[1]))

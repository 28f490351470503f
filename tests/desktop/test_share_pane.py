"""Share pane: previews, one button per kind, progress, cancel, and the folder that opens."""

from __future__ import annotations

import re
import threading
from typing import cast

import pytest
from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtWidgets import QApplication

from serve_marker.desktop.session.workspace import NO_LOGBOOK, Workspace
from serve_marker.desktop.share import exports
from serve_marker.desktop.share import pane as share_pane
from serve_marker.desktop.share.exports import KINDS, Order, make, preview
from serve_marker.desktop.share.pane import SharePane
from serve_marker.errors import UserError
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, PracticePlan, Serve
from serve_marker.logbook.store import Logbook

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


STILLS = next(kind for kind in KINDS if kind.key == "stills")


class FakeWorkspace(QObject):
    logbook_changed = Signal()
    practice_changed = Signal()
    serves_changed = Signal()

    def __init__(self, logbook=None):
        super().__init__()
        self.logbook = logbook
        self.practice = logbook.practices()[-1] if logbook else None

    def book(self):
        return self.logbook


@pytest.fixture
def logbook(tmp_path):
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as book:
        players = [Player(id="marit", name="Marit", number=7), Player(id="noor", name="Noor", number=4)]
        book.put(*players)
        for key, date in (("october", "2026-10-06"), ("november", "2026-11-03")):
            book.put(Practice(id=key, date=date, name=key.capitalize()))
            book.put(ClipEntry(id=f"clip-{key}", practice_id=key, path=f"{key}.mp4", size_bytes=1, fingerprint=key))
            for n in range(6):
                point = FloorPoint(-3.0 + 0.2 * n, 7.0, 0.0004, 0.0, 0.0004)
                player = players[n % 2] if key == "november" else players[0]
                serve = Serve(id=f"{key}-{n}", clip_id=f"clip-{key}", player_id=player.id, served_to="b", aim="deep 1")
                book.put(Serve(**{**serve.__dict__, "landing_point": point, "landing": Mark(10.0 * n)}))
        yield book


@pytest.fixture
def opened():
    return []


@pytest.fixture
def pane(qtbot, dressed, logbook, opened):
    pane = SharePane(cast("Workspace", FakeWorkspace(logbook)), open_folder=opened.append)
    qtbot.addWidget(pane)
    pane.resize(1100, 680)
    pane.show()
    try:
        qtbot.waitUntil(lambda: pane.picture.has_chart() and not pane.busy, timeout=60_000)
        yield pane
    finally:
        pane.close_workers()


def press(qtbot, pane, key):
    qtbot.mouseClick(pane.kinds[key], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    qtbot.mouseClick(pane.make_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)


def test_the_newest_practice_is_chosen_and_its_team_sheet_shown(pane):
    assert pane.practice.currentData() == "november"
    assert pane.caption.text() == "Team sheet, A4, first of 2 pages"


def test_the_practice_opened_later_is_chosen_once_and_then_what_the_coach_chooses(qtbot, pane, logbook):
    october = next(practice for practice in logbook.practices() if practice.id == "october")
    pane._workspace.practice = october
    pane._workspace.practice_changed.emit()
    assert pane.practice.currentData() == "october"
    pane.practice.setCurrentIndex(0)
    pane._workspace.serves_changed.emit()
    assert pane.practice.currentText() == "All practices"
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)


def test_another_paper_and_another_page_are_shown_as_they_will_look(qtbot, pane):
    qtbot.mouseClick(pane.kinds["server pages"], Qt.MouseButton.LeftButton)
    page = "Page of 4 Noor, A4, first of 2 pages"
    qtbot.waitUntil(lambda: pane.caption.text() == page and not pane.busy, timeout=60_000)
    pane.paper.setCurrentText("Letter")
    qtbot.waitUntil(lambda: pane.caption.text() == "Page of 4 Noor, Letter, first of 2 pages", timeout=60_000)


def test_servers_are_those_of_the_practice(qtbot, pane):
    assert [pane.server.itemData(n) for n in range(pane.server.count())] == ["", "noor", "marit"]
    pane.practice.setCurrentIndex(pane.practice.findData("october"))
    assert [pane.server.itemData(n) for n in range(pane.server.count())] == ["", "marit"]
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)


@pytest.mark.parametrize(
    ("key", "names"),
    [
        ("team sheet", ["team sheet 2026-11-03 November.pdf"]),
        ("server pages", ["server 4 Noor 2026-11-03 November.pdf", "server 7 Marit 2026-11-03 November.pdf"]),
        ("csv", ["serves 2026-11-03 November.csv"]),
        ("xlsx", ["serves 2026-11-03 November.xlsx"]),
        ("subtitles", ["november.vtt"]),
        ("ics", ["practices.ics"]),
        ("json", ["logbook.json"]),
    ],
)
def test_what_is_chosen_is_made_and_the_folder_opens(qtbot, pane, logbook, opened, tmp_path, key, names):
    logbook.put(PracticePlan(id="plan", date="2026-11-05"))
    press(qtbot, pane, key)
    assert sorted(path.name for path in (tmp_path / "team sheets").iterdir()) == names
    assert opened == [tmp_path / "team sheets"]
    written = names[0] if len(names) == 1 else f"{len(names)} files"
    assert pane.result.text().startswith(f"{written} written.")
    assert pane.open_button.isEnabled()
    assert pane.make_button.hasFocus()


def test_files_go_into_the_folder_chosen(qtbot, pane, opened, tmp_path):
    pane.set_folder(tmp_path / "elsewhere")
    press(qtbot, pane, "csv")
    assert (tmp_path / "elsewhere" / "serves 2026-11-03 November.csv").is_file()
    assert "elsewhere" in pane.folder_words.text()


def test_a_folder_that_cannot_be_made_is_one_sentence(qtbot, pane, opened, tmp_path):
    (tmp_path / "file").write_text("here")
    pane.set_folder(tmp_path / "file")
    press(qtbot, pane, "csv")
    assert "choose another folder" in pane.result.text()
    assert opened == []
    assert pane.make_button.isEnabled()


def test_missing_film_is_told_and_nothing_opens(qtbot, pane, opened):
    press(qtbot, pane, "stills")
    assert "nothing to write" in pane.result.text()
    assert opened == []


def test_stills_are_made_in_the_size_chosen_by_key(qtbot, pane, monkeypatch, tmp_path):
    asked = []

    def made(_book, folder, _practice_id, _progress, _cancelled, _tell, size):
        if folder.is_relative_to(pane.folder):
            asked.append((folder.name, size))
        return []

    monkeypatch.setattr(exports, "write_stills", made)
    for key in (Qt.Key.Key_Home, Qt.Key.Key_End):
        qtbot.keyClick(pane.still_size, key)
        qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
        press(qtbot, pane, "stills")
    assert asked == [("stills", "film"), ("phone", "phone")]


def test_long_work_shows_progress_and_can_be_cancelled(qtbot, pane, opened, monkeypatch):
    stopped, started = threading.Event(), threading.Event()

    def slow(_book, _kind, _order, _folder, progress, cancelled):
        progress(3, 8)
        started.set()
        while not cancelled():
            stopped.wait(0.01)
        stopped.set()
        return [], []

    monkeypatch.setattr(share_pane, "make", slow)
    qtbot.mouseClick(pane.kinds["csv"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    qtbot.mouseClick(pane.make_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: started.is_set() and pane.progress.value() == 3, timeout=60_000)
    assert pane.progress.maximum() == 8
    assert not pane.kinds["xlsx"].isEnabled()
    qtbot.mouseClick(pane.cancel, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: stopped.is_set() and not pane.busy, timeout=60_000)
    assert pane.result.text().startswith("Cancelled")
    assert pane.kinds["xlsx"].isEnabled()
    assert not pane.progress.isVisible()
    assert opened == []


def test_no_logbook_says_what_to_do_and_offers_nothing(qtbot, dressed):
    pane = SharePane(cast("Workspace", FakeWorkspace()), open_folder=lambda _folder: None)
    qtbot.addWidget(pane)
    pane.show()
    assert pane.caption.text() == NO_LOGBOOK
    assert not any(button.isEnabled() for button in [*pane.kinds.values(), pane.make_button, pane.print_button])
    pane.close_workers()


def test_every_control_is_named_and_reached_by_tab(pane):
    controls = [*pane.kinds.values(), pane.practice, pane.server, pane.paper]
    controls += [pane.cancel, pane.folder_button]
    assert all(control.accessibleName() for control in controls)
    controls = [pane.kinds["team sheet"], *controls[len(KINDS) :]]
    controls += [pane.make_button, pane.print_button, *pane.zoom_buttons]
    assert all(control.focusPolicy() & Qt.FocusPolicy.TabFocus for control in controls)


def test_one_server_alone(logbook, tmp_path):
    pages = next(kind for kind in KINDS if kind.key == "server pages")
    paths, said = make(logbook, pages, Order("november", "noor"), tmp_path / "out", lambda *_: None, lambda: False)
    assert [path.name for path in paths] == ["server 4 Noor 2026-11-03 November.pdf"]
    assert said == []


def test_a_still_that_cannot_be_made_says_why(logbook, monkeypatch):
    nothing = preview(logbook, STILLS, Order(), lambda: False)
    assert nothing.pixels is None
    assert nothing.words == "No landing of this choice has a picture yet."

    def no_film(_book, _folder, _practice_id, _progress, _cancelled, tell, _size):
        tell("november.mp4 is not where it was. Put it beside the logbook.")
        return []

    monkeypatch.setattr(exports, "write_stills", no_film)
    assert "november.mp4" in preview(logbook, STILLS, Order(), lambda: False).words


def test_bugs_are_not_hidden(qtbot, pane, monkeypatch):
    monkeypatch.setattr("serve_marker.desktop.share.pane.preview", lambda *_: 1 / 0)
    with qtbot.captureExceptions() as caught:
        pane.look()
        qtbot.waitUntil(lambda: bool(caught), timeout=60_000)
    assert caught[0][0] is ZeroDivisionError
    pane._unseen(UserError("Nothing to see."))
    assert pane.caption.text() == "Nothing to see."


def test_another_logbook_opened_meanwhile_ends_what_is_being_made(qtbot, pane, logbook, tmp_path):
    qtbot.mouseClick(pane.make_button, Qt.MouseButton.LeftButton)
    with Logbook.create(tmp_path / "other.logbook", team="Harbour") as other:
        logbook.close()
        pane._workspace.logbook = other
        pane._workspace.logbook_changed.emit()
        assert pane.result.text().startswith("Cancelled")
        qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
        assert pane.folder == tmp_path / "other sheets"


def test_a_page_is_seen_large_and_fits_again(qtbot, pane):
    out, fit, closer = pane.zoom_buttons
    small, page = pane.picture.height(), pane.zoomed.verticalScrollBar()
    assert (small, page.maximum()) == (pane.zoomed.maximumViewportSize().height(), 0)
    for _ in range(3):
        qtbot.mouseClick(closer, Qt.MouseButton.LeftButton)
    assert pane.picture.height() == pytest.approx(1.25**3 * small, abs=2)
    assert page.maximum() > 0
    pane.picture.setFocus()
    qtbot.keyClicks(pane.picture, "-")
    assert pane.picture.height() == pytest.approx(1.25**2 * small, abs=2)
    qtbot.keyClicks(pane.picture, "0")
    assert pane.picture.height() == small
    qtbot.mouseClick(out, Qt.MouseButton.LeftButton)
    assert pane.picture.height() == small
    qtbot.mouseClick(fit, Qt.MouseButton.LeftButton)
    assert pane.picture.height() == small


def test_all_pages_are_printed(qtbot, pane, tmp_path):
    """Two servers with two pages each: a PDF printed here holds four, counted as PDF 32000-1, 7.7.3.3 names them."""
    qtbot.mouseClick(pane.kinds["csv"], Qt.MouseButton.LeftButton)
    assert not pane.print_button.isEnabled()
    qtbot.mouseClick(pane.kinds["server pages"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)
    qtbot.mouseClick(pane.print_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: isinstance(QApplication.activeModalWidget(), QPrintDialog), timeout=60_000)
    dialog = QApplication.activeModalWidget()
    assert dialog.windowTitle() == "Print: Server pages"
    qtbot.keyClick(dialog, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: pane.result.text() == "4 pages sent to print.", timeout=60_000)
    printed = (tmp_path / "Server pages.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 4
    qtbot.waitUntil(lambda: not pane.busy, timeout=60_000)

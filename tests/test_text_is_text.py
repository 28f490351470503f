"""A name is a name, whatever is in it: it steers no terminal, starts no formula, breaks no workbook and no window."""

import csv
import io
import sys
import unicodedata
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pytest
from PySide6.QtCore import Qt

from serve_marker.cli import main
from serve_marker.desktop.widgets.plain_text import PlainLabel
from serve_marker.logbook.records import ClipEntry, Player, Practice, Serve
from serve_marker.logbook.store import Logbook

STEERING = (
    "\x1b[2J\x1b]0;owned\x07",
    "\x9b31m",
    "\r\nteam.logbook is sound",
    "\u202egnisrever",
    "\u2066x\u2069",
    "\x7f",
)
FORMULAS = (
    "=1+1",
    "\u200b=1+1",
    "\ufeff@SUM(A1)",
    "\u2060\u200d+1",
    "\u3164-1",
    "\u00ad=1",
    "\ufe0f=1",
    "＝1+1",
    " \t=1",
)
FORBIDDEN = ("Noor\ufffe", "\uffffMarit", "Ines\x0b\x0c\x08", "\x85", "Wren]]>&<&#x1;")
HOSTILE = (*STEERING, *FORMULAS, *FORBIDDEN, "<img src=//server/x>", "$\\frac{", "x" * 40_000)
FORMULA_STARTS = tuple("=+-@\t\r\n")


@pytest.fixture(params=range(len(HOSTILE)), ids=[ascii(text)[:30] for text in HOSTILE])
def hostile(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, Path]:
    """A hostile text and a logbook in which everything with a name has it."""
    text = HOSTILE[request.param]
    path = tmp_path / "team.logbook"
    with Logbook.create(path, team=text) as book:
        book.put(
            Player(id="p", name=text, number=7),
            Practice(id="m", date="2026-03-02", name=text),
            ClipEntry(id="c", practice_id="m", path=f"/films/{text}", size_bytes=1, fingerprint="ab"),
            Serve(id="s", clip_id="c", player_id="p", note=text, aim="deep 1", outcome="net"),
        )
    return text, path


def run(*words: object, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["serve-marker", *map(str, words)])
    with pytest.raises(SystemExit):
        main()


UNSEEN = "\u3164" + "".join(
    chr(code) for code in range(0x10000) if unicodedata.category(chr(code)) in ("Cf", "Mn", "Zs", "Cc")
)
"""What a program may pass over at a text's beginning, for nothing is seen of it."""


def test_a_name_is_a_name_everywhere(
    hostile: tuple[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    qtbot: object,
) -> None:
    text, path = hostile

    for words in (
        ("logbook", "check", path),
        ("export", path, "-o", tmp_path / "all.csv"),
        ("export", path, "-o", tmp_path / "all.xlsx"),
        ("aim", path, "--server", text[:90].replace("\0", "")),
        ("report", path, "-o", tmp_path / "sheets", "--practice", "none of this name"),
    ):
        run(*words, monkeypatch=monkeypatch)
        printed = "".join(capfd.readouterr())
        assert printed
        steering = {character for character in printed if unicodedata.category(character) in ("Cc", "Cf")}
        assert steering <= set("\n\u200c\u200d"), words
        assert "Traceback" not in printed

    with (tmp_path / "all.csv").open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    for column in ("server", "practice", "note"):
        assert not row[column].startswith(FORMULA_STARTS)
        assert not unicodedata.normalize("NFKC", row[column].lstrip(UNSEEN)).startswith(FORMULA_STARTS)

    with zipfile.ZipFile(tmp_path / "all.xlsx") as book:
        for name in book.namelist():
            content = book.read(name)
            ElementTree.parse(io.BytesIO(content))
            assert not {"\ufffe", "\uffff"} & set(content.decode())
    sheet = openpyxl.load_workbook(tmp_path / "all.xlsx").active
    assert sheet is not None
    assert {cell.data_type for cells in sheet.iter_rows() for cell in cells} <= {"s", "n"}

    assert PlainLabel(text).textFormat() == Qt.TextFormat.PlainText

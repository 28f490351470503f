"""Children's data: a player erased from every byte the program wrote, and left out of what is shared without consent.

What is searched is every file under the folder, as it lies on the disk, and what is packed in PDF and XLSX besides.
"""

from __future__ import annotations

import json
import re
import shutil
import zipfile
import zlib
from collections import Counter
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from serve_marker.logbook.backups import backups_of, make_backup, restore_backup
from serve_marker.logbook.consents import Consent
from serve_marker.logbook.copy_before_migration import copies_before_migration
from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect
from serve_marker.logbook.records import Season, StoredFormation, Tally
from serve_marker.logbook.schema import MIGRATIONS
from serve_marker.logbook.store import Logbook

CLIP = "winter-stand"
NAME = "Salome"


def unpacked(file: Path) -> bytes:
    """The bytes of a file, with the streams of a PDF and the parts of a workbook unpacked behind them."""
    raw = file.read_bytes()
    if file.suffix == ".pdf":
        streams = re.findall(rb"stream\r?\n(.*?)endstream", raw, re.DOTALL)
        return raw + b"".join(zlib.decompressobj().decompress(stream) for stream in streams if stream[:1] == b"x")
    if file.suffix == ".xlsx":
        with zipfile.ZipFile(file) as book:
            return raw + b"".join(book.read(name) for name in book.namelist())
    return raw


def files_holding(folder: Path, *texts: str) -> list[str]:
    found = []
    for file in sorted(folder.rglob("*")):
        if file.is_file() and file.suffix != ".mp4":
            content, name = unpacked(file).lower(), file.name.lower()
            if any(text.lower().encode() in content or text.lower() in name for text in texts):
                found.append(file.relative_to(folder).as_posix())
    return found


@pytest.fixture(scope="module")
def imported(run, sample_clips, tmp_path_factory):
    """A folder with a film and a logbook of its serves, in which one server is called as nobody else."""
    folder = tmp_path_factory.mktemp("imported")
    film = Path(shutil.copy(sample_clips / f"{CLIP}.mp4", folder))
    view, path = folder / "view.json", folder / "team.logbook"
    assert run("view", "fit", sample_clips / f"{CLIP}.marks.json", "-o", view).code == 0
    assert run("logbook", "new", path).code == 0
    marks = sample_clips / f"{CLIP}.marks.csv"
    assert run("marks", "import", path, marks, "--clip", film, "--view", view, "--practice", "Tuesday").code == 0
    view.unlink()
    with Logbook.open(path) as book:
        most = Counter(serve.player_id or "" for serve in book.serves()).most_common(1)[0][0]
        hers = next(player for player in book.players() if player.id == most)
        book.put(replace(hers, name=NAME, number=83))
        book.put(Season(id="s", name="2025/26", shirts=((most, 84),)))
        book.put(Tally(id="t", date="2026-11-10", player_id=most, serves=9))
        passers = [{"name": NAME, "player_id": most, "x_m": 1.0, "y_m": 2.0, "role": ""}]
        book.put(StoredFormation(id="f", name=f"{NAME} and two", document=json.dumps({"passers": passers})))
        first = next(serve for serve in book.serves() if serve.player_id != most)
        book.put(replace(first, note=f"after {NAME.upper()}'s ace"))
    return folder


@pytest.fixture
def team(imported, tmp_path):
    """The same in a folder of its own, with all that can lie beside a logbook."""
    folder = tmp_path / "team"
    shutil.copytree(imported, folder)
    with Logbook.open(folder / "team.logbook") as book:
        (clip,) = book.clips()
        book.put(replace(clip, path=str(folder / f"{CLIP}.mp4")))
    return folder


def player_id_of(path: Path) -> str:
    with Logbook.open(path) as book:
        return next(player.id for player in book.players() if player.name == NAME)


@pytest.mark.gui
@pytest.mark.parametrize("keep_serves", [False, True])
def test_nothing_of_an_erased_player_is_in_any_file(run, team, keep_serves):
    path = team / "team.logbook"
    player_id = player_id_of(path)
    backup = make_backup(path, datetime(2026, 11, 2, 19))
    assert backup is not None
    restore_backup(path, backup, datetime(2026, 11, 2, 20))
    shutil.copy(path, team / "old.logbook")
    connection = connect(path)
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    migrate(connection, path, [*MIGRATIONS, lambda _: None])
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    connection.close()
    (team / "old.logbook").unlink()
    sheets = team / "team sheets"
    for command, out in (("report", sheets), ("stills", sheets / "stills")):
        assert run(command, path, "-o", out).code == 0
    elsewhere = team / "elsewhere"
    assert run("report", path, "-o", elsewhere).code == 0
    (elsewhere / "ladder.txt").write_text(f"{NAME}: not of the program")
    (team / "team backups" / ".4711.unfinished").write_bytes(path.read_bytes())
    assert len(copies_before_migration(path)) == len(backups_of(path)) == 1
    assert len(files_holding(team, NAME, player_id)) > 8
    with Logbook.open(path) as book:
        before = len(book.serves())
        hers = sum(serve.player_id == player_id for serve in book.serves())
    words = ["--keep-serves"] if keep_serves else []
    answer = run("logbook", "erase", path, "--player", NAME, "--folder", elsewhere, *words)

    assert answer.code == 0, answer.err
    assert files_holding(team, NAME, player_id) == ["elsewhere/ladder.txt"]
    assert not [*team.rglob("by aim/*.png"), *sheets.rglob("all landings*.png")]
    assert f'The film "{CLIP}.mp4" shows her. It is yours to delete.' in answer.out
    kept = [path, backups_of(path)[0].path, *team.glob("team before *.logbook"), *copies_before_migration(path)]
    assert len(kept) == 4
    for copy in kept:
        with Logbook.open(copy) as book:
            assert book.check() == []
            assert len(book.serves()) == (before if keep_serves else before - hers)
    assert run("report", path, "-o", sheets).code == 0
    assert files_holding(team, NAME, player_id) == ["elsewhere/ladder.txt"]


def test_who_is_not_there_cannot_be_erased(run, team):
    answer = run("logbook", "erase", team / "team.logbook", "--player", "Zofia")

    assert answer.code == 2
    assert "has no server Zofia" in answer.err


@pytest.mark.gui
def test_nothing_shared_shows_who_did_not_agree(run, team):
    """Everybody but one agreed to be filmed and shown to the team; one more only until last season."""
    path = team / "team.logbook"
    hers = player_id_of(path)
    with Logbook.open(path) as book:
        others = [player for player in book.players() if player.id != hers]
        book.put(*(Consent(id=one.id, filmed_from="2026-01-01", team_from="2026-01-01") for one in others))
        serves = [serve for serve in book.serves() if serve.player_id != hers]
        ids = [serve.id for serve in book.serves() if serve.player_id == hers]
    out = team.parent / "handed out"
    told = [
        run("report", path, "-o", out / "sheets"),
        run("stills", path, "-o", out / "stills"),
        run("export", path, "-o", out / "sheets" / "all.csv"),
        run("export", path, "-o", out / "sheets" / "all.xlsx"),
    ]

    assert [answer.code for answer in told] == [0, 0, 0, 0], [answer.err for answer in told]
    assert all(f'Left out, without consent: "83 {NAME}".' in answer.err for answer in told)
    assert files_holding(out, NAME, hers, *ids) == []
    rows = (out / "sheets" / "all.csv").read_text(encoding="utf-8-sig").splitlines()[1:]
    assert len(rows) == len(serves)
    assert not any(",83," in row or "83 " in row for row in rows)
    outside = run("export", path, "-o", out / "outside.csv", "--for", "outside")
    assert len(outside.err.splitlines()) == len(others) + 1
    assert len((out / "outside.csv").read_text(encoding="utf-8-sig").splitlines()) == 1
    mine = run("export", path, "-o", out / "mine.csv", "--for", "coach")
    assert mine.err == ""
    assert NAME in (out / "mine.csv").read_text(encoding="utf-8-sig")


def test_consent_that_has_ended_leaves_out_and_is_named_by_check(run, team):
    path = team / "team.logbook"
    with Logbook.open(path) as book:
        for player in book.players():
            ended = "2026-06-30" if player.name == NAME else None
            book.put(Consent(id=player.id, filmed_from="2025-09-01", team_from="2025-09-01", keep_until=ended))
    out = team.parent / "all.csv"

    assert run("export", path, "-o", out).err == f'Left out, without consent: "83 {NAME}".\n'
    checked = run("logbook", "check", path).out
    assert f"What is known of 83 {NAME} was to be kept until 2026-06-30. Erase her, or ask again." in checked


def test_an_audience_there_is_not_is_one_sentence(run, team):
    answer = run("export", team / "team.logbook", "-o", team / "all.csv", "--for", "everybody")

    assert (answer.code, answer.out) == (2, "")
    assert answer.err == 'Nothing is made for "everybody"; choose one of team, outside, coach.\n'

"""What no film, hand or program gives is one sentence, in check and wherever a logbook is opened."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from serve_marker.camera.fitting.repeatability import OWN_CLICK
from serve_marker.cli import app
from serve_marker.errors import UserError
from serve_marker.logbook.checksums import renew_checksums
from serve_marker.logbook.records import ClipEntry, FloorPoint, PracticePlan, Season
from serve_marker.logbook.store import Logbook
from serve_marker.study.ladder import LADDER_SETTING
from serve_marker.study.readable import unreadable_parts
from serve_marker.study.settings import KEY

IMPOSSIBLE = {
    "serve: landing_x_px = 1e308": "landing_x_px is beyond reason",
    "serve: landing_x_px = 9e999": "landing_x_px is beyond reason",
    "serve: contact_time_s = -9e999": "contact_time_s is beyond reason",
    "serve: touch_sd_s = -1": "touch_sd_s is beyond reason",
    "serve: pass_rating = NULL, landing_gap_before_s = NULL": "the mark of the landing is half there",
    "serve: landing_cov_xx_m2 = -0.01": "the error of the landing is none",
    "serve: landing_cov_xy_m2 = 0.03": "the error of the landing is none",
    "serve: contact_cov_yy_m2 = 9e999": "contact_cov_yy_m2 is beyond reason",
    "serve: contact_cov_yy_m2 = NULL": "the place of the contact is half there",
    "ball_mark: time_s = 1e308": "time_s is beyond reason",
    "player: number = 9223372036854775807": "number is beyond reason",
    "player: standing_reach_m = -2": "standing_reach_m is beyond reason",
    "clip: size_bytes = -1": "size_bytes is beyond reason",
    "practice: date = '2026-02-30'": "date is no date",
    "practice: date = 'yesterday'": "date is no date",
    "practice: date = '20260302'": "date is no date",
}


def changed(path: Path, change: str) -> None:
    """Change values as another program would that knows checksums too."""
    table, _, values = change.partition(": ")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(f"UPDATE {table} SET {values}")
        renew_checksums(connection)


@pytest.mark.parametrize(("change", "what"), IMPOSSIBLE.items(), ids=IMPOSSIBLE)
def test_what_cannot_be_is_refused_and_named(logbook: Logbook, change: str, what: str) -> None:
    logbook.close()
    changed(logbook.path, change)

    with pytest.raises(UserError, match=rf"in team\.logbook cannot be \({what}\); work on your latest copy of it\.$"):
        Logbook.open(logbook.path)
    answer = CliRunner().invoke(app, ["logbook", "check", str(logbook.path)])
    assert answer.exit_code == 1
    assert f"cannot be ({what})" in answer.output


def test_what_can_be_is_not_refused(logbook: Logbook) -> None:
    """A place near the horizon is far and known to kilometres; an error may be none along one way."""
    serve = logbook.serves()[0]
    far, sure = FloorPoint(4e5, -7e6, 1e9, 1e9, 1e9), FloorPoint(1.0, 2.0, 0.04, 0.0, 0.0)
    logbook.put(replace(serve, landing_point=far, contact_point=sure))

    assert logbook.check() == []
    Logbook.open(logbook.path).close()


SPOILT = {
    "season": ("shirts", "[[1, 2]]"),
    "next_serves": ("orders", "[[1], [2]]"),
    "practice_plan": ("blocks", '[{"player_ids": [], "effort": 1e308}]'),
    "trial": ("tries", '{"a": 1}'),
}


@pytest.mark.parametrize("text", ["", "no json", "[" * 100_000, "[NaN]", "7", '[{"a": 1}]', None])
@pytest.mark.parametrize("table", SPOILT)
def test_a_record_that_cannot_be_read_is_named(logbook: Logbook, table: str, text: str | None) -> None:
    logbook.put(Season(id="x", name="25"), PracticePlan(id="x", date="2026-03-02"))
    column, own = SPOILT[table]
    with logbook.one_change():
        for name, values in (
            ("next_serves", "'x', 'march', NULL, 'a', '', '', 'null'"),
            ("trial", "'x', 'toss', '2026-03-02', '2026-03-03', '', '[]', '[]'"),
        ):
            logbook._connection.execute(f"INSERT INTO {name} VALUES ({values}, 0)")
        logbook._connection.execute(f"UPDATE {table} SET {column} = ?", (own if text is None else text,))
        renew_checksums(logbook._connection)
    readers = {
        "season": logbook.seasons,
        "next_serves": lambda: logbook.next_serves("march"),
        "practice_plan": logbook.plans,
        "trial": logbook.trials,
    }

    with pytest.raises(UserError, match=rf"^A {table} in team\.logbook cannot be read; check the logbook"):
        readers[table]()
    (sentence,) = logbook.check()
    assert sentence.endswith("in team.logbook cannot be read; enter it again.")


@pytest.mark.parametrize("text", ["no json", "[" * 100_000, "[1e999]", "7", "[[]]", None])
@pytest.mark.parametrize(
    ("key", "own"),
    [
        (KEY, '{"movement": 4}'),
        (KEY, '{"pace_unit": 4}'),
        (KEY, '{"most_errors": "half"}'),
        (LADDER_SETTING, '[{"name": "deep", "aims": [4]}]'),
        ("scheme", '{"indoor": {"column_borders_m": [3, 1e308]}}'),
        (OWN_CLICK, '{"frames_off": "many"}'),
        (OWN_CLICK, '{"sd_px": 0.5, "image_width": 0}'),
    ],
)
def test_settings_that_cannot_be_read_are_a_sentence(logbook: Logbook, key: str, own: str, text: str | None) -> None:
    logbook.remove(*logbook.serves(), *logbook.clips())
    logbook.remove(*logbook.views())
    assert unreadable_parts(logbook) == []
    logbook.set_setting(key, own if text is None else text)

    (found,) = unreadable_parts(logbook)
    assert found.endswith(".")


def test_a_clip_without_reason_is_named_once(logbook: Logbook) -> None:
    logbook.put(ClipEntry(id="c", practice_id="march", path="b\x1b.mp4", size_bytes=1, fingerprint="x"))
    logbook._connection.execute("UPDATE clip SET fingerprint = 'y' WHERE id = 'c'")

    assert logbook.check() == [
        r'The clip "b\x1b.mp4" in team.logbook is not as it was written. Look at it and enter it again.'
    ]

"""Columns hold what the records hold, in the same order."""

from __future__ import annotations

import numpy as np

from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Practice, Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.logbook.store import Logbook


def test_columns_are_the_records_in_their_order(tmp_path):
    chance = np.random.default_rng(3)
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(*(Practice(id=f"p{n}", date=f"2026-11-0{1 + n % 3}", name=f"{9 - n}") for n in range(4)))
        book.put(
            *(
                ClipEntry(id=f"c{n}", practice_id=f"p{n % 4}", path=f"{n}", size_bytes=n, fingerprint=f"{n}")
                for n in range(8)
            )
        )
        for n in chance.permutation(1200).tolist():
            mark = Mark(float(n % 50), (1.0, 2.0), 0.02, 0.03) if n % 3 else None
            point = FloorPoint(0.1 * n, 5.0, 0.01, 0.0, 0.02) if n % 2 else None
            book.put(Serve(id=f"s{n}", clip_id=f"c{n % 8}", landing=mark, contact=mark, landing_point=point, note="é"))
        for practice_id in (None, "p2", "none such"):
            found, expected = book.serve_columns(*filter(None, [practice_id])), columns_of(book.serves(practice_id))
            assert found.keys() == expected.keys()
            for name in expected:
                assert np.array_equal(found[name], expected[name], equal_nan=expected[name].dtype.kind == "f")


def test_a_serve_whose_clip_is_gone_is_in_neither(tmp_path):
    """As in a damaged file, which `logbook check` tells of."""
    with Logbook.create(tmp_path / "team.logbook") as book:
        book.put(Practice(id="p", date="2026-11-03", name="Tuesday"))
        book.put(
            ClipEntry(id="c", practice_id="p", path="a", size_bytes=1, fingerprint="f"), Serve(id="s", clip_id="c")
        )
        book._connection.execute("PRAGMA foreign_keys = OFF")
        book._connection.execute("UPDATE serve SET clip_id = 'gone'")
        assert book.serves() == []
        assert len(book.serve_columns()["id"]) == 0

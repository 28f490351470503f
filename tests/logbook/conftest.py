from collections.abc import Iterator
from pathlib import Path

import pytest

from serve_marker.logbook.any_record import Record
from serve_marker.logbook.records import ClipEntry, FloorPoint, Gym, Mark, Player, Practice, Serve, StoredView
from serve_marker.logbook.store import Logbook

INES = Player(id="ines", name="Ines", number=4)
MARIT = Player(id="marit", name="Marit", number=9, position="setter", hand="left", standing_reach_m=2.31)
GYM = Gym(id="hall", name="Tidewater hall")
VIEW = StoredView(id="stand", gym_id="hall", name="Stand", made_on="2026-03-02", document='{"version": 1}')
PRACTICE = Practice(
    id="march", date="2026-03-02", name="Monday", gym_id="hall", order_a=("ines", "marit"), order_b=("marit",)
)
CLIP = ClipEntry(id="film", practice_id="march", path="film.mp4", size_bytes=5, fingerprint="ab", view_id="stand")
SERVE = Serve(
    id="first",
    clip_id="film",
    view_id="stand",
    player_id="ines",
    served_to="b",
    serve_type="jump float",
    aim="deep 1",
    contact=Mark(1.0, (100.5, 200.25), 0.033, 0.034),
    landing=Mark(2.125, (640.0, 360.0), 0.033, 0.033),
    ball_marks=(Mark(2.09, (650.0, 350.0)), Mark(2.16, None)),
    pass_rating=2,
    passer_id="ines",
    note='said "again",\nthen 🏐',
    landing_point=FloorPoint(-3.0, 7.5, 0.01, 0.002, 0.04),
    contact_point=FloorPoint(2.0, -9.2, 0.02, 0.0, 0.03),
)
ALL: tuple[Record, ...] = (INES, MARIT, GYM, VIEW, PRACTICE, CLIP, SERVE)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    """A logbook of one practice with one serve."""
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as opened:
        opened.put(*ALL)
        yield opened

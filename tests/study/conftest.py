import dataclasses

import pytest

from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.study.intraclass import EVENING_COLUMNS, codes_of

MARIT = Player(id="marit", name="Marit", number=7)
NOOR = Player(id="noor", name="Noor", number=4)
TUESDAY = Practice(id="tuesday", date="2026-11-03", name="Tuesday")
MATCH = Practice(id="match", date="2026-11-07", name="Match", purpose="match")


def with_evenings(table):
    """A serve table made by hand with the number of each evening, as every table from a logbook has it."""
    return table.assign(evening=codes_of(table, EVENING_COLUMNS))


def landed(serve_id, half_x_m, half_y_m, clip_id="clip-1", player_id="marit", aim="deep 1", sd_m=0.02, **more):
    """A serve to end b at a place of the half frame."""
    point = FloorPoint(half_x_m - 4.5, half_y_m, sd_m**2, 0.0, sd_m**2)
    return Serve(
        id=serve_id,
        clip_id=clip_id,
        player_id=player_id,
        served_to="b",
        serve_type="jump float",
        aim=aim,
        landing=Mark(20.0, (1.0, 2.0), 1 / 60, 1 / 60),
        landing_point=point,
        target_kind="mats" if clip_id == "clip-1" else "none",
        **more,
    )


SERVES = (
    landed(
        "s-hit",
        1.5,
        7.5,
        contact=Mark(19.0, (3.0, 4.0), 1 / 60, 1 / 60),
        contact_point=FloorPoint(2.5, -9.0, 0.0001, 0.0, 0.0001),
        note="toss low",
    ),
    landed("s-long", 1.5, 9.6),
    landed("s-close", 1.5, 9.06, sd_m=0.2),
    landed("s-seam", 6.1, 7.0, player_id="noor", aim="seam 5-6"),
    Serve(
        id="s-net",
        clip_id="clip-1",
        player_id="marit",
        aim="deep 1",
        outcome="net",
        target_kind="mats",
        serve_type="float",
    ),
    dataclasses.replace(landed("s-match", 4.0, 5.0, clip_id="clip-2", aim=""), player_id=None),
)


@pytest.fixture
def logbook(tmp_path):
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as book:
        book.put(MARIT, NOOR, TUESDAY, MATCH)
        for number, practice in enumerate((TUESDAY, MATCH), start=1):
            path = f"films/evening-{number}.mp4"
            book.put(
                ClipEntry(
                    id=f"clip-{number}", practice_id=practice.id, path=path, size_bytes=1, fingerprint=f"f{number}"
                )
            )
        book.put(*SERVES)
        yield book

import dataclasses
import datetime

import numpy as np
import pytest

from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook

NAMES = ("Ines", "Marit", "Noor", "Priya", "Yuki", "Salome", "Wren", "Odile", "Tamsin", "Zofia")
TYPES = ("float", "jump float", "jump topspin")


def practice_serves(players, clip_id, count, seed, aims=("deep 1",), centre=(1.9, 7.0), spread_m=(0.9, 0.9)):
    """Serves of players in turn about a centre of the half frame, some into the net; error grows near end b."""
    chance = np.random.default_rng(seed)
    serves = []
    for index in range(count):
        player = players[index % len(players)]
        x_m, y_m = chance.normal(centre, spread_m)
        ended = chance.random()
        time_s = 10.0 + 12.0 * index
        serve = Serve(
            id=f"{clip_id}-{index:04d}",
            clip_id=clip_id,
            player_id=player.id,
            served_to="b",
            serve_type=TYPES[index % len(TYPES)],
            aim=aims[index % len(aims)],
            contact=Mark(time_s - 1.1, (600.0, 300.0), 1 / 60, 1 / 60),
            landing=Mark(time_s, (640.0, 400.0), 1 / 60, 1 / 60),
            target_kind="mats",
        )
        if ended < 0.1:
            serve = dataclasses.replace(serve, outcome="net")
        elif ended < 0.13:
            serve = dataclasses.replace(serve, outcome="fault")
        elif ended < 0.16:
            serve = dataclasses.replace(serve, outcome="received", passer_id=players[0].id, pass_rating=2)
        else:
            sd_m = 0.04 + 0.012 * abs(y_m)
            serve = dataclasses.replace(
                serve,
                landing_point=FloorPoint(x_m - 4.5, y_m, (0.6 * sd_m) ** 2, 0.0, sd_m**2),
                contact_point=FloorPoint(chance.normal(2.5, 0.5), -9.2, 0.01, 0.0, 0.01),
            )
        serves.append(serve)
    return serves


def fill(logbook, players, counts=(40, 24), aims=("deep 1",), first_day="2026-10-06"):
    day = datetime.date.fromisoformat(first_day)
    logbook.put(*players)
    for number, count in enumerate(counts):
        practice = Practice(
            id=f"practice-{number}",
            date=(day + datetime.timedelta(days=28 * number)).isoformat(),
            name="Tuesday" if number == 0 else f"Tuesday {number + 1}",
        )
        clip = ClipEntry(
            id=f"clip-{number}", practice_id=practice.id, path=f"evening-{number}.mp4", size_bytes=1, fingerprint="f"
        )
        logbook.put(practice, clip)
        logbook.put(*practice_serves(players, clip.id, count, seed=number, aims=aims))


@pytest.fixture
def players():
    return [Player(id=f"player-{n}", name=name, number=n + 3) for n, name in enumerate(NAMES[:4])]


@pytest.fixture
def logbook(tmp_path, players):
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater U16") as book:
        fill(book, players)
        yield book


@pytest.fixture
def many_names(tmp_path):
    """A logbook with thirty servers and names as hard as names get."""
    hard = ["=1+1", "../../x", "<b>Noor</b>", 'Ines "Ace", Jr', "Zofia 🏐", "two\nlines", "$x_1$", "Wren" * 30]
    names = [*hard, *(f"{name} {part}" for part in ("A", "B", "C") for name in NAMES)][:30]
    players = [Player(id=f"player-{n}", name=name, number=n) for n, name in enumerate(names)]
    with Logbook.create(tmp_path / "many.logbook", team="Tidewater") as book:
        fill(book, players, counts=(240,), aims=("deep 1", "seam 5-6", "2,8,0.5"))
        yield book

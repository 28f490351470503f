"""A player forgotten: nothing that names her stays in any cell, and what names others stays as it was."""

import json
import re
from dataclasses import replace

import pytest

from serve_marker.logbook.consents import Consent
from serve_marker.logbook.erase_rows import forget_player, name_pattern
from serve_marker.logbook.records import (
    Mark,
    NextServes,
    PlanBlock,
    Player,
    PracticePlan,
    Season,
    Serve,
    StoredFormation,
    StoredProposal,
    Tally,
    Trial,
)
from serve_marker.logbook.store import Logbook

MARIT, NOOR = "marit-0001", "noor-0001"


@pytest.fixture
def crowded(logbook: Logbook) -> Logbook:
    """A logbook in which each kind of record names Marit and Noor."""
    logbook.remove(next(player for player in logbook.players() if player.name == "Marit"))
    clip, (practice,) = logbook.clips()[0], logbook.practices()
    passers = [{"name": name, "player_id": key} for name, key in (("Marit", MARIT), ("Noor", NOOR))]
    block = PlanBlock(player_ids=(MARIT, NOOR), aim="deep 1", reason="Marit and Noor pull left.")
    logbook.put(
        Player(id=MARIT, name="Marit Berg", number=4),
        Player(id=NOOR, name="Noor Berg", number=12),
        StoredFormation(id="f", name="Marit in the middle", document=json.dumps({"passers": passers})),
        replace(practice, name="Monday, marit absent", order_a=(MARIT, NOOR)),
        NextServes(id="n", practice_id=practice.id, orders=((MARIT, NOOR), (NOOR,))),
        Season(id="s", name="2025/26", shirts=((MARIT, 9), (NOOR, 12))),
        Tally(id="t", date="2026-03-02", player_id=MARIT, serves=12),
        PracticePlan(id="p", date="2026-03-09", blocks=(block,), absent=(MARIT,)),
        Trial(
            id="r", name="Marit's idea", drawn_on="2026-03-01", retest_on="2026-05-01", tries=(MARIT,), others=(NOOR,)
        ),
        Consent(id=MARIT, filmed_from="2026-01-01"),
        Serve(id="hers", clip_id=clip.id, player_id=MARIT, note="elbow", ball_marks=(Mark(1.0, (1.0, 2.0)),)),
        Serve(id="passed", clip_id=clip.id, player_id=NOOR, passer_id=MARIT, note="MARIT  BERG late; Maritime; Berg"),
        StoredProposal(Serve(id="hers", clip_id=clip.id, served_to="a", contact=Mark(1.0), landing=Mark(2.0))),
    )
    document = json.loads(logbook.views()[0].document) if logbook.views()[0].document.startswith("{") else {}
    logbook.put(replace(logbook.views()[0], document=json.dumps(document | {"reference": "pic/Marit+ture"})))
    logbook.set_setting("team", "Marit's Tidewater")
    return logbook


def all_cells(logbook: Logbook) -> str:
    return "\n".join(logbook._connection.iterdump())


@pytest.mark.parametrize("keep_serves", [True, False])
def test_nothing_names_her_and_all_else_stays(crowded: Logbook, keep_serves: bool) -> None:
    done = forget_player(crowded._connection, MARIT, keep_serves=keep_serves)
    left = all_cells(crowded)

    assert MARIT not in left
    assert re.search(r"\bmarit\b", left, re.IGNORECASE) is None
    assert crowded.check() == []
    assert (done["serves"], done["passes"], done["counts"], done["pictures"]) == (1, 1, 1, 1)
    assert [player.name for player in crowded.players() if player.id == NOOR] == ["Noor Berg"]
    serves = {serve.id: serve for serve in crowded.serves()}
    assert ("hers" in serves) == keep_serves
    assert serves["passed"].note == "someone late; Maritime; Berg"
    assert serves["passed"].player_id == NOOR
    assert crowded.practices()[0].order_a == (NOOR,)
    assert crowded.next_serves(crowded.practices()[0].id)[0].orders == ((NOOR,), (NOOR,))
    assert crowded.seasons()[0].shirts == ((NOOR, 12),)
    assert crowded.plans()[0].blocks[0].player_ids == (NOOR,)
    assert crowded.plans()[0].blocks[0].reason == "someone and Noor pull left."
    assert (crowded.trials()[0].tries, crowded.trials()[0].others) == ((), (NOOR,))
    assert (crowded.consents(), crowded.tallies()) == ([], [])
    assert json.loads(crowded.formations()[0].document)["passers"][0] == {"name": "someone", "player_id": ""}
    if keep_serves:
        assert (serves["hers"].player_id, serves["hers"].note, len(serves["hers"].ball_marks)) == (None, "", 1)


@pytest.mark.parametrize(
    ("name", "others", "text", "expected"),
    [
        ("Zofia", [], "ZOFIA, zofia's, Zofiana", "someone, someone's, Zofiana"),
        ("Ines Berg", ["Noor Berg"], "Ines Berg, Ines, Berg", "someone, someone, Berg"),
        ("Number 7", [], "Number 7 and number 12", "someone and number 12"),
        ("Li", [], "Li, and live", "someone, and live"),
        ("Wren (c+)", [], "Wren (c+) led", "someone led"),
        ("Yuki 🏐", [], "yuki", "someone"),
    ],
)
def test_a_name_is_found_as_it_is_written(name: str, others: list[str], text: str, expected: str) -> None:
    pattern = name_pattern(name, others)
    assert pattern is not None
    assert pattern.sub("someone", text) == expected


def test_a_name_two_players_share_stays_in_texts() -> None:
    assert name_pattern("Marit", ["marit"]) is None


def test_a_name_of_one_letter_is_no_name_in_a_text() -> None:
    assert name_pattern("A", []) is None

"""Where to aim on the command line: its answer, the coach's own values, and what it refuses."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook

KEYS = {"aim", "serves", "landings", "into_net", "out_unseen", "left_out", "worth", "best", "now", "gain", "as_good"}


@pytest.fixture
def logbook(tmp_path):
    """Marit serves 40 times at deep 1, 0.9 m long on average, four more into the net."""
    chance = np.random.default_rng(7)
    book = Logbook.create(tmp_path / "team.logbook")
    book.put(Practice(id="tuesday", date="2026-11-03", name="Tuesday"))
    book.put(Player(id="marit", name="Marit", number=7), Player(id="noor", name="Noor", number=4))
    book.put(ClipEntry(id="clip", path="tuesday.mp4", practice_id="tuesday", size_bytes=1, fingerprint="f"))
    asked = Serve(id="", clip_id="clip", player_id="marit", served_to="b", aim="deep 1", serve_type="float")
    for number, (x_m, y_m) in enumerate(chance.normal((1.5, 8.4), (0.6, 0.7), (40, 2))):
        place, mark = FloorPoint(x_m - 4.5, y_m, 0.0004, 0.0, 0.0004), Mark(9.0 * number, (1.0, 2.0))
        book.put(replace(asked, id=f"s{number}", landing=mark, landing_point=place))
    for number in range(4):
        book.put(replace(asked, id=f"n{number}", outcome="net", landing=Mark(400.0 + number, None)))
    book.close()
    return tmp_path / "team.logbook"


def test_a_long_server_is_told_to_centre_nearer(run, logbook):
    answer = run("aim", logbook, "--server", "Marit")
    assert answer.code == 0, answer.err
    first, more, values = answer.out.strip().splitlines()
    assert first.startswith("Best: 1.")
    assert "Moving there gains 0." in first
    assert more.endswith("Based on 40 landings, 4 into the net.")
    assert values.startswith("Deep 1 counts 1. Elsewhere in counts 0.5")


def test_the_answer_as_json_holds_the_same(run, logbook):
    answer = json.loads(run("aim", logbook, "--server", "7", "--json").out)
    assert set(answer) == KEYS
    assert (answer["aim"], answer["serves"], answer["into_net"]) == ("deep 1", 44, 4)
    assert answer["best"]["y_m"] < answer["now"]["y_m"] == pytest.approx(8.4, abs=0.3)
    assert answer["gain"]["told"]
    assert answer["as_good"]["y_m"][0] <= answer["best"]["y_m"] <= answer["as_good"]["y_m"][1]


def test_the_coachs_own_values_move_the_answer(run, logbook, tmp_path):
    values = tmp_path / "values.json"
    values.write_text(json.dumps({"on_court": 0.0, "places": {"deep 5": 1.0}}), encoding="utf-8")
    answer = json.loads(run("aim", logbook, "--server", "7", "--worth", values, "--json").out)
    assert answer["best"]["x_m"] > 6.0
    assert answer["worth"]["places"] == {"deep 5": 1.0}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--server", "4"), "None of these serves has an aim"),
        (("--server", "12"), "12"),
        (("--server", "7", "--aim", "deep 5"), "0 landings at deep 5 so far"),
        (("--server", "7", "--worth", "missing.json"), "missing.json"),
    ],
)
def test_what_it_refuses_is_one_sentence(run, logbook, words, said):
    answer = run("aim", logbook, *words)
    assert answer.code == 2
    assert said in answer.err
    assert len(answer.err.strip().splitlines()) == 1

"""One practice with three kinds of target, two servers, the formation up and then back: what a careful coach would say.

Every count below was laid down by hand in `practice`; the sheet must say it, and say "cannot tell" where it cannot.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import pytest

from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import preset
from serve_marker.desktop.study.words import which_seam
from serve_marker.logbook.records import ClipEntry, FloorPoint, Mark, Player, Practice, Serve
from serve_marker.logbook.store import Logbook
from serve_marker.report.server_page import server_pages
from serve_marker.report.sheets import read_report_data
from serve_marker.report.team_page import team_pages
from serve_marker.study.compare import NOT_THE_SAME_TASK, comparison_sentence, trend_sentence
from serve_marker.study.compare_servers import servers_sentences
from serve_marker.study.filter import ServeFilter, filter_serves
from serve_marker.study.passers import ace_mask, asked_of_each, gap_sentence, pass_means, pass_sentence, reach_sentence
from serve_marker.study.rates import aim_rate
from serve_marker.study.sentences import gate_sentence, impossible_pace_sentence
from serve_marker.study.spread_words import group_lines, spread_sentence
from serve_marker.study.stored_formations import formation_record

COURT = court_named("indoor")
MAT = "outline 0.5,6.5 2.5,6.5 2.5,8.5 0.5,8.5"
FOOT = "7.5,7.5,0.5"
NUMBER = count()


def served(player, x_m, y_m, aim, formation=None, kind="jump float", flight_s=1.2, sd_m=0.05, **more):
    number = next(NUMBER)
    return Serve(
        id=f"s{number:03d}",
        clip_id="film",
        player_id=player,
        served_to="b",
        serve_type=kind,
        aim=aim,
        formation_id=formation,
        contact=Mark(20.0 * number, (1.0, 2.0), 1 / 60, 1 / 60),
        landing=Mark(20.0 * number + flight_s, (3.0, 4.0), 1 / 60, 1 / 60),
        contact_point=FloorPoint(0.0, -9.2, 0.01, 0.0, 0.01),
        landing_point=FloorPoint(x_m - 4.5, y_m, sd_m**2, 0.0, sd_m**2),
        **more,
    )


def practice():
    """Marit hits the mat 9 of 10 times; Noor 3 of 10, always short; an upright target 2 of 4; then at three passers."""
    spots = [(1.2, 7.0), (1.6, 7.4), (1.4, 7.9), (2.0, 7.2), (1.1, 7.6), (1.8, 8.0), (1.5, 7.1), (0.9, 7.3), (2.2, 7.7)]
    serves = [served("marit", x, y, MAT) for x, y in spots] + [served("marit", 1.5, 9.02, MAT)]
    serves += [served("noor", x, y, MAT) for x, y in spots[:3]] + [
        served("noor", x, y - 2.5, MAT) for x, y in spots[:7]
    ]
    serves += [served("noor", 7.4, 7.4, FOOT), served("noor", 7.6, 7.7, FOOT), served("noor", 5.0, 7.0, FOOT)]
    serves.append(replace(served("noor", 7.5, 7.5, FOOT, kind="float"), outcome="net", landing_point=None))
    up = [(1.5, 8.6), (1.4, 8.4), (1.6, 8.5), (1.3, 8.7), (1.7, 8.3), (1.5, 8.5)]
    serves += [served("marit", x, y, "deep 1", "up", flight_s=0.95) for x, y in up]
    serves += [
        served(
            "marit",
            x,
            y,
            "deep 1",
            "back",
            outcome="received",
            pass_rating=rating,
            passer_id="noor",
            landing_height_m=0.8,
        )
        for (x, y), rating in zip(up, (3, 2, 3, 2, 3, 2), strict=True)
    ]
    return serves


@pytest.fixture
def evening(tmp_path):
    with Logbook.create(tmp_path / "team.logbook", team="Tidewater") as book:
        book.put(Player(id="marit", name="Marit", number=7), Player(id="noor", name="Noor", number=4))
        book.put(Practice(id="tuesday", date="2026-11-03", name="Tuesday"))
        book.put(ClipEntry(id="film", practice_id="tuesday", path="film.mp4", size_bytes=1, fingerprint="f"))
        book.put(*(formation_record(depth, preset(3, depth, COURT)) for depth in ("up", "back")))
        book.put(*practice())
        yield read_report_data(book)


def of(evening, **choice):
    return filter_serves(evening.table, ServeFilter(**choice))


def test_the_mat_as_it_was_placed(evening):
    assert (aim_rate(of(evening, aims=(MAT,), player_ids=("marit",))).hits) == 9
    assert (aim_rate(of(evening, aims=(MAT,), player_ids=("noor",))).hits) == 3


def test_two_servers_are_told_apart_and_four_serves_are_not(evening):
    marit, noor = (of(evening, aims=(MAT,), player_ids=(one,)) for one in ("marit", "noor"))
    assert "More on the right" in comparison_sentence(noor, marit, ("By Noor", "By Marit"))
    few = of(evening, aims=(FOOT,))
    assert comparison_sentence(few, marit, ("At the foot", "At the mat")) == NOT_THE_SAME_TASK
    assert "It takes 5 serves on each side" in comparison_sentence(noor.iloc[:3], marit, ("By Noor", "By Marit"))
    assert spread_sentence(few) in {f"{n} and we can say how steady." for n in ("One more landing", "2 more landings")}
    assert trend_sentence(evening.table) == "One practice so far. One more and we can compare."


def test_flat_and_fast_serves_come_past_the_passer_who_is_up(evening):
    """They land 2.9 to 3.3 m behind right back (1.5, 5.4), but are 1.2 m high 2.9 m before: from (4.5, -9.2) on to
    (1.5, 8.5), so 0.5 m to her left, where she has 0.76 s and is in time."""
    up, back = (of(evening, formations=(f"three passers {depth}",)) for depth in ("up", "back"))
    assert gap_sentence(up) == (
        "The nearest passer typically had to go 0.5 m (6 timed). right back had most to do, 6 of 6, mostly going left."
    )
    assert up["floor_gap_m"].median() == pytest.approx(3.1, abs=0.05)
    assert reach_sentence(up).startswith("0 of 6 timed serves were out of every passer's reach")
    assert reach_sentence(back).startswith("0 of 6 timed")
    assert ace_mask(up).sum() == 6
    assert [one.mean for one in pass_means(back, "gap")] == [pytest.approx(2.5)]
    assert pass_sentence(back).startswith("Mean pass 2.5 of 3, of 6 rated. ")
    assert [(one.passer, one.n, one.way) for one in asked_of_each(up)] == [("right back", 6, "left")]


def test_which_seam_of_the_passers(evening):
    """At 1.3 to 1.7 m across, right back's own floor: neither within 1 m of her sideline nor 0.5 m of the next cell."""
    up = of(evening, formations=("three passers up",))
    words = which_seam(up, evening)
    assert words.sentence == "Of 6 serves at passers, none in a seam."
    one = up.assign(passer_seam=["between right back and middle back", *[""] * 5])
    assert "5 in no seam. Seams follow the passers each serve was hit against." in which_seam(one, evening).more
    assert "Choose one formation" not in words.more
    assert "Choose one formation" in which_seam(evening.table, evening).more


def test_bias_by_server_and_kind(evening):
    lines = group_lines(of(evening, aims=(MAT,)), "server")
    assert lines[1].startswith("4 Noor: ")
    assert "short" in lines[1]
    assert "short" not in lines[0]


def words_on(pages):
    """All texts drawn on pages, as one text."""
    found = []
    for page in pages:
        for artist in page.figure.findobj(lambda one: hasattr(one, "get_text")):
            found.append(artist.get_text())
    return " ".join(" ".join(found).split())


def test_the_sheets_say_it(evening):
    sheet = words_on(team_pages(evening, "tuesday"))
    assert "Against three passers up: the nearest passer typically had to go 0.5 m (6 timed)." in sheet
    assert "0 of 6 timed serves were out of every passer's reach" in sheet
    assert "Against three passers back: the nearest passer typically had to go" in sheet
    assert "Mean pass 2.5 of 3, of 6 rated." in sheet
    assert "Best so far: 7 Marit, 71 to 99 % on target. Clearly fewer at the same task: 4 Noor." in sheet
    assert "too close to a line" in sheet
    assert "on target: " in sheet  # the legend
    one_aim = of(evening, aims=(MAT,))
    mat = replace(evening, table=one_aim)
    assert "aimed at" in words_on(team_pages(mat, "tuesday"))
    assert "aimed at" not in sheet, "several aims are not drawn"
    noor = words_on(server_pages(evening, "noor", "tuesday"))
    assert "target at 1.5, 7.5 m" in noor
    assert "spot at 7.5, 7.5 m" in noor
    assert "too few" in noor
    assert "Better than before? One practice so far. One more and we can compare." in noor


def test_servers_that_cannot_be_told_apart_yet(evening):
    """Of the serves at the passers and the upright target alone, Marit's 12 and Noor's 4: too few of one to compare."""
    few = evening.table[evening.table["aim"].isin(("deep 1", FOOT))]
    assert servers_sentences(few)[1] == "Only one server has served often enough to be compared."
    alike = evening.table[(evening.table["aim"] == MAT)].copy()
    alike["player_id"] = ["marit", "noor"] * 10
    assert servers_sentences(alike)[0].startswith("Too early to say who is best")


def test_a_gate_and_slow_motion_are_asked_about(evening):
    table = evening.table.copy()
    table.loc[0, "pace_mps"] = 2.0
    assert impossible_pace_sentence(table).startswith("1 pace in film.mp4 would be below 25 km/h or above 140 km/h.")
    assert impossible_pace_sentence(evening.table) == ""
    assert gate_sentence(evening.table, 18.0) == ""
    table["serve_type"] = "jump topspin"
    assert "of 34 jump topspin serves passed" in gate_sentence(table, 14.0)

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from serve_marker.errors import UserError
from serve_marker.logbook.any_record import Record
from serve_marker.logbook.outcomes import OUTCOMES, RALLIES, RECEPTIONS
from serve_marker.logbook.records import (
    HANDS,
    PURPOSES,
    SERVE_TYPES,
    TARGET_KINDS,
    ClipEntry,
    FloorPoint,
    Gym,
    Mark,
    NextServes,
    Player,
    Practice,
    Serve,
    StoredView,
    Tally,
)
from serve_marker.logbook.store import Logbook

numbers = st.floats(allow_nan=False, allow_infinity=False)
texts = st.text(st.characters(codec="utf-8", exclude_characters="\0")) | st.sampled_from(
    ["", "O'Hara; DROP TABLE serve", 'a "b", c', "line\nbreak\r\n", "🏐👩‍🦰", "=1+1", "../x", "<b>"]
)
whole_numbers = st.integers(min_value=-(2**63), max_value=2**63 - 1)
marks = st.builds(Mark, numbers, st.none() | st.tuples(numbers, numbers), gap_before_s=numbers, gap_after_s=numbers)
points = st.builds(FloorPoint, numbers, numbers, numbers, numbers, numbers)
players = st.builds(
    Player,
    id=st.just("p"),
    name=texts,
    number=st.none() | whole_numbers,
    position=texts,
    hand=st.sampled_from(HANDS),
    standing_reach_m=st.none() | numbers,
    jump_reach_m=st.none() | numbers,
)
views = st.builds(StoredView, id=st.just("v"), gym_id=st.just("g"), name=texts, made_on=texts, document=texts)
orders = st.lists(st.just("p"), max_size=3).map(tuple)
practices = st.builds(
    Practice,
    id=st.just("t"),
    date=texts,
    name=texts,
    gym_id=st.sampled_from([None, "g"]),
    purpose=st.sampled_from(PURPOSES),
    target_kind=st.sampled_from(TARGET_KINDS),
    order_a=orders,
    order_b=orders,
)
clips = st.builds(
    ClipEntry,
    id=st.just("c"),
    practice_id=st.just("t"),
    path=texts,
    size_bytes=whole_numbers,
    fingerprint=texts,
    view_id=st.sampled_from([None, "v"]),
)
serves = st.builds(
    Serve,
    id=st.just("s"),
    clip_id=st.just("c"),
    view_id=st.sampled_from([None, "v"]),
    player_id=st.sampled_from([None, "p"]),
    served_to=st.sampled_from([None, "a", "b"]),
    serve_type=st.sampled_from(("", *SERVE_TYPES)),
    aim=texts,
    outcome=st.sampled_from(OUTCOMES),
    target_kind=st.sampled_from(TARGET_KINDS),
    reception=st.sampled_from(RECEPTIONS),
    rally=st.sampled_from(RALLIES),
    contact=st.none() | marks,
    landing=st.none() | marks,
    ball_marks=st.lists(marks, max_size=3).map(tuple),
    pass_rating=st.none() | st.integers(0, 3),
    passer_id=st.sampled_from([None, "p"]),
    note=texts,
    landing_point=st.none() | points,
    contact_point=st.none() | points,
)


@pytest.fixture(scope="module")
def one_of_each(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with Logbook.create(tmp_path_factory.mktemp("round") / "trip.logbook") as logbook:
        yield logbook


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    player=players,
    gym=st.builds(Gym, id=st.just("g"), name=texts),
    view=views,
    practice=practices,
    clip=clips,
    serve=serves,
)
def test_every_record_comes_back_as_it_was_put(
    one_of_each: Logbook, player: Player, gym: Gym, view: StoredView, practice: Practice, clip: ClipEntry, serve: Serve
) -> None:
    one_of_each.put(serve, clip, practice, view, gym, player)

    assert one_of_each.players() == [player]
    assert one_of_each.gyms() == [gym]
    assert one_of_each.views() == [view]
    assert one_of_each.practices() == [practice]
    assert one_of_each.clips() == one_of_each.clips("t") == [clip]
    assert one_of_each.serves() == one_of_each.serves("t", "c") == [serve]


def test_what_was_put_is_there_when_the_file_is_opened_again(logbook: Logbook) -> None:
    before = (logbook.players(), logbook.practices(), logbook.serves())
    logbook.close()

    with Logbook.open(logbook.path) as again:
        assert (again.players(), again.practices(), again.serves()) == before
        assert again.team == "Tidewater"
        assert again.check() == []


def test_serves_stand_by_practice_and_moment(logbook: Logbook) -> None:
    first = logbook.serves()[0]
    earlier = Practice(id="feb", date="2026-02-01", name="Sunday")
    film = ClipEntry(id="old", practice_id="feb", path="old.mp4", size_bytes=1, fingerprint="cd")
    old = replace(first, id="old", clip_id="old")
    before = replace(first, id="before", landing=None, contact=Mark(1.5), ball_marks=())
    after = replace(first, id="after", landing=Mark(3.0), ball_marks=())
    logbook.put(earlier, film, after, before, old)

    assert [serve.id for serve in logbook.serves()] == ["old", "before", "first", "after"]
    assert [serve.id for serve in logbook.serves(practice_id="march")] == ["before", "first", "after"]
    assert [serve.id for serve in logbook.serves(clip_id="old")] == ["old"]
    assert logbook.serves(practice_id="march", clip_id="old") == []


def test_settings(logbook: Logbook) -> None:
    assert logbook.get_setting("scheme", "none yet") == "none yet"
    logbook.set_setting("scheme", '{"a": 1}')
    logbook.set_setting("scheme", '{"a": 2}')

    assert logbook.get_setting("scheme") == '{"a": 2}'


def test_one_wrong_record_keeps_all_of_a_change_out(logbook: Logbook) -> None:
    first = logbook.serves()[0]
    with pytest.raises(ValueError, match="CHECK"):
        logbook.put(replace(first, note="changed"), replace(first, id="second", outcome="lost"))

    assert logbook.serves() == [first]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"landing": Mark(float("nan"), (1.0, 2.0))}, "time_s must be a finite number"),
        ({"landing_point": FloorPoint(float("inf"), 0, 0, 0, 0)}, "landing_x_m must be a finite number"),
        ({"pass_rating": 5}, "CHECK"),
        ({"pass_rating": 2**70}, "64 bits"),
        ({"note": 5}, "note must be a text, got int"),
    ],
)
def test_a_callers_mistake_is_a_value_error(logbook: Logbook, wrong: dict[str, Any], words: str) -> None:
    first = logbook.serves()[0]
    with pytest.raises(ValueError, match=words):
        logbook.put(replace(first, **wrong))

    assert logbook.serves() == [first]


@pytest.mark.parametrize(("text", "words"), [("a\0b", "NUL"), ("\ud83c", "half a character")])
def test_text_that_cannot_be_kept_whole_is_refused(logbook: Logbook, text: str, words: str) -> None:
    first = logbook.serves()[0]
    with pytest.raises(UserError, match=f"The note holds .*{words}"):
        logbook.put(replace(first, note=text))

    assert logbook.serves() == [first]


@pytest.mark.parametrize(
    ("pick", "sentence"),
    [
        (lambda book: book.players()[0], "Ines cannot be removed, because there is 1 serve by or to Ines; give them"),
        (lambda book: book.clips()[0], "This clip cannot be removed, because there is 1 serve marked on this clip"),
        (lambda book: book.views()[0], "Stand cannot be removed, because there is 1"),
        (lambda book: book.practices()[0], "Monday cannot be removed, because there is 1 clip of Monday"),
        (lambda book: book.gyms()[0], "Tidewater hall cannot be removed, because there is 1"),
    ],
)
def test_what_others_need_is_not_removed(logbook: Logbook, pick: Callable[[Logbook], Record], sentence: str) -> None:
    with pytest.raises(UserError, match=sentence):
        logbook.remove(pick(logbook))

    assert len(logbook.serves()) == len(logbook.players()) - 1 == len(logbook.practices()) == 1


def test_a_player_without_serves_leaves_the_serving_orders(logbook: Logbook) -> None:
    marit = logbook.players()[1]
    logbook.remove(marit)

    assert [player.id for player in logbook.players()] == ["ines"]
    assert (logbook.practices()[0].order_a, logbook.practices()[0].order_b) == (("ines",), ())


def test_a_whole_practice_goes_in_one_change(logbook: Logbook) -> None:
    logbook.remove(*logbook.practices(), *logbook.clips(), *logbook.serves())

    assert (logbook.practices(), logbook.clips(), logbook.serves()) == ([], [], [])
    assert logbook.check() == []


def test_a_record_of_nothing_is_refused(logbook: Logbook) -> None:
    with pytest.raises(UserError, match="The clip this change belongs to is gone, so nothing was changed"):
        logbook.put(Serve(id="lost", clip_id="none"))

    assert [serve.id for serve in logbook.serves()] == ["first"]


def test_change_serves_adds_changes_removes_and_goes_back(logbook: Logbook) -> None:
    first = logbook.serves()[0]
    changed = replace(first, note="changed")
    second = Serve(id="second", clip_id="film", landing=Mark(9.0))
    changes = [(first, changed), (None, second)]
    logbook.change_serves(changes)
    assert logbook.serves() == [changed, second]

    logbook.change_serves([(after, before) for before, after in reversed(changes)])
    assert logbook.serves() == [first]


@pytest.mark.parametrize("theirs", [{"player_id": "marit"}, {"ball_marks": ()}, {"ball_marks": (Mark(2.0),)}])
def test_a_serve_changed_by_another_window_is_not_overwritten(logbook: Logbook, theirs: dict[str, Any]) -> None:
    mine = logbook.serves()[0]
    with Logbook.open(logbook.path) as other:
        other.put(replace(mine, **theirs))

    with pytest.raises(UserError, match="Another window changed this serve"):
        logbook.change_serves([(None, replace(mine, id="new")), (mine, replace(mine, note="mine"))])
    assert logbook.serves() == [replace(mine, **theirs)]


def test_a_serve_removed_by_another_window_does_not_come_back(logbook: Logbook) -> None:
    mine = logbook.serves()[0]
    with Logbook.open(logbook.path) as other:
        other.remove(mine)
    logbook.change_serves([(mine, None)])
    with pytest.raises(UserError, match="Another window changed this serve"):
        logbook.change_serves([(mine, replace(mine, note="back"))])
    assert logbook.serves() == []

    logbook.change_serves([(None, mine)])
    assert logbook.serves() == [mine]


def test_what_is_written_as_one_change_is_kept_whole_or_not_at_all(logbook: Logbook) -> None:
    mine, before = logbook.serves()[0], logbook.players()

    def change() -> None:
        with logbook.one_change():
            logbook.put(Player(id="new", name="Wren"))
            logbook.set_setting("team", "Others")
            logbook.remove(mine)
            logbook.change_serves([(mine, replace(mine, note="gone"))])

    with pytest.raises(UserError, match="Another window changed this serve"):
        change()
    assert (logbook.players(), logbook.serves()[0]) == (before, mine)
    assert logbook.team != "Others"


def test_places_rebuilt_meanwhile_do_not_stand_in_the_way(logbook: Logbook) -> None:
    first = logbook.serves()[0]
    logbook.put(replace(first, landing_point=FloorPoint(0.0, 8.0, 0.01, 0.0, 0.01)))
    logbook.change_serves([(first, replace(first, note="later"))])

    assert logbook.serves()[0].note == "later"


def test_threads_take_turns(logbook: Logbook) -> None:
    def add(name: str) -> None:
        for number in range(10):
            logbook.put(Gym(id=f"{name}{number}", name=name))
            logbook.serves()

    threads = [threading.Thread(target=add, args=(name,)) for name in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(logbook.gyms()) == 31


def test_the_file_stands_alone_after_each_change(logbook: Logbook, tmp_path: Path) -> None:
    copy = tmp_path / "elsewhere" / "copy.logbook"
    copy.parent.mkdir()
    copy.write_bytes(logbook.path.read_bytes())

    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["team.logbook"]
    with Logbook.open(copy) as other:
        assert other.serves() == logbook.serves()


def test_what_the_film_showed_is_kept_beside_the_coachs_own_marks(logbook: Logbook) -> None:
    serve = next(iter(logbook.serves()))
    coach, film = Mark(1.0, (5.0, 6.0), 0.02, 0.02), Mark(1.1, (7.0, 8.0), 0.02, 0.02, on_ball=True)
    toss = Mark(0.1, (3.0, 4.0), 0.02, 0.02, on_ball=True)
    both = replace(
        serve,
        ball_marks=(coach,),
        film_marks=(film,),
        contact_film_marks=(toss, film),
        touch_after_s=0.012,
        touch_sd_s=0.003,
        hit_after_s=-0.004,
        hit_sd_s=0.002,
    )
    logbook.change_serves([(serve, both)])
    assert next(kept for kept in logbook.serves() if kept.id == serve.id) == both


def test_columns_stand_in_the_order_in_which_the_clips_were_filmed(logbook: Logbook) -> None:
    """Two clips of one practice that came into the logbook the wrong way round, named as cameras count."""
    practice = Practice(id="late", date="2027-01-05", name="Late")
    later, early = (
        ClipEntry(id=name, practice_id="late", path=f"films/VID {name}.mp4", size_bytes=1, fingerprint=name)
        for name in ("10", "9")
    )
    logbook.put(practice, later, early, *(Serve(id=f"of {clip.id}", clip_id=clip.id) for clip in (later, early)))
    assert logbook.serve_columns("late")["id"].tolist() == ["of 9", "of 10"]
    assert logbook.serve_columns()["id"].tolist()[-2:] == ["of 9", "of 10"]


def test_tallies_are_kept_by_day_and_hold_their_player(logbook: Logbook) -> None:
    player = logbook.players()[0]
    later = Tally(id="1", date="2026-11-05", player_id=player.id, aim="deep 1", serve_type="float", serves=20, hits=0)
    early = Tally(id="2", date="2026-11-03", player_id=player.id, serves=4, full_pace=4)
    logbook.put(later, early)
    assert logbook.tallies() == [early, later]
    logbook.put(replace(later, hits=None))
    assert logbook.tallies()[1].hits is None


@pytest.mark.parametrize("wrong", [{"serves": 0}, {"serves": 3, "hits": 4}, {"serves": 3, "full_pace": 4}])
def test_tallies_that_cannot_be_are_refused(logbook: Logbook, wrong: Any) -> None:
    with pytest.raises(ValueError, match="CHECK constraint"):
        logbook.put(Tally(id="1", date="2026-11-05", player_id=logbook.players()[0].id, **wrong))
    assert logbook.tallies() == []


def test_a_player_with_tallies_is_not_removed(logbook: Logbook) -> None:
    player = Player(id="new", name="Zofia")
    logbook.put(player, Tally(id="1", date="2026-11-05", player_id="new", serves=3))
    with pytest.raises(UserError, match="1 count typed in for Zofia; take them out first"):
        logbook.remove(player)


def test_choices_for_the_next_serves_stand_by_view_and_leave_with_it(logbook: Logbook) -> None:
    practice, view = logbook.practices()[0], logbook.views()[0]
    typed = (("first", "second"), ())
    here = NextServes(id="1", practice_id=practice.id, view_id=view.id, end="b", aim="deep 1", orders=typed)
    bare = NextServes(id="2", practice_id=practice.id, serve_type="float")
    logbook.put(here, bare)
    logbook.put(replace(here, aim="deep 5"))

    assert logbook.next_serves(practice.id) == [replace(here, aim="deep 5"), bare]
    assert logbook.next_serves("another") == []

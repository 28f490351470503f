"""Serves found on film, as the logbook keeps them until the coach has answered, and after."""

from dataclasses import replace
from pathlib import Path

import pytest

from serve_marker.logbook.migration import migrate
from serve_marker.logbook.opening import connect
from serve_marker.logbook.records import ANSWERS, Mark, Serve, ServeSearch, StoredProposal
from serve_marker.logbook.schema import MIGRATIONS, checksums_of_rows
from serve_marker.logbook.store import Logbook
from tests.logbook.conftest import CLIP, SERVE


def found(serve_id: str, contact_s: float) -> StoredProposal:
    serve = Serve(
        id=serve_id,
        clip_id=CLIP.id,
        served_to="b",
        outcome="received",
        contact=Mark(contact_s, (100.25, 200.5), 0.033, 0.034),
        landing=Mark(contact_s + 1.125, (640.0, 360.0), 0.033, 0.033, on_ball=True),
        landing_height_m=0.8,
        film_marks=(Mark(contact_s + 1.1, (650.0, 350.0), on_ball=True),),
        contact_film_marks=(Mark(contact_s - 0.1, (99.0, 150.0), on_ball=True),),
    )
    flight = (Mark(contact_s, (100.0, 120.0), on_ball=True), Mark(contact_s + 1.125, (640.0, 360.0), on_ball=True))
    return StoredProposal(serve, flight, 0.83, "the toss is not seen")


def test_proposals_come_back_as_they_were_in_the_order_they_were_hit(logbook: Logbook) -> None:
    late, early = found("late", 9.0), found("early", 4.0)
    logbook.put(late, early)
    assert logbook.proposals(CLIP.id) == [early, late]
    assert logbook.proposals("another") == []

    for answer in ANSWERS:
        logbook.put(replace(early, answer=answer))
        assert logbook.proposals(CLIP.id) == [replace(early, answer=answer), late]


def test_a_proposal_is_no_serve(logbook: Logbook) -> None:
    logbook.put(found("early", 4.0))
    assert logbook.serves() == [SERVE]


def test_a_search_is_kept_for_each_clip(logbook: Logbook) -> None:
    assert logbook.serve_search(CLIP.id) is None
    for search in (ServeSearch(id=CLIP.id, served_from="b"), ServeSearch(id=CLIP.id, finished=True)):
        logbook.put(search)
        assert logbook.serve_search(CLIP.id) == search


def test_what_was_found_on_a_clip_leaves_with_it(logbook: Logbook) -> None:
    logbook.put(found("early", 4.0), ServeSearch(id=CLIP.id))
    logbook.remove(SERVE, CLIP)
    assert logbook.proposals(CLIP.id) == []
    assert logbook.serve_search(CLIP.id) is None
    assert logbook.check() == []


def test_the_file_refuses_an_answer_nobody_gives(logbook: Logbook) -> None:
    with pytest.raises(Exception, match="answer"):
        logbook.put(replace(found("early", 4.0), answer="perhaps"))
    assert logbook.proposals(CLIP.id) == []


def test_a_logbook_from_before_there_were_proposals_takes_them(tmp_path: Path) -> None:
    path = tmp_path / "old.logbook"
    path.touch()
    connection = connect(path)
    migrate(connection, path, MIGRATIONS[: MIGRATIONS.index(checksums_of_rows)])
    practice, clip = "'march', '2026-03-02', 'Monday', 'drill'", "'film', 'march', 'film.mp4', 5, ''"
    connection.execute(f"INSERT INTO practice (id, date, name, purpose) VALUES ({practice})")
    connection.execute(f"INSERT INTO clip (id, practice_id, path, size_bytes, fingerprint) VALUES ({clip})")
    connection.close()

    with Logbook.open(path) as opened:
        opened.put(found("early", 4.0))
        assert opened.proposals("film") == [found("early", 4.0)]
        assert opened.check() == []

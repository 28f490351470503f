"""Whoever is erased is in no page, film or file of other programs either; what others made stays."""

from serve_marker.desktop.share.excerpts import write_excerpts
from serve_marker.desktop.share.phone_pages import write_phone_pages
from serve_marker.logbook.records import PracticePlan
from serve_marker.report.made_files import made_files_showing
from serve_marker.report.subtitles import write_all_subtitles
from serve_marker.report.write_export import write_export
from tests.desktop.test_excerpts import logbook

__all__ = ["logbook"]


def test_what_shows_her_is_found_by_its_name_and_what_it_says_of_itself(dressed, logbook, tmp_path):
    folder = tmp_path / "made"
    write_phone_pages(logbook, folder / "phone pages")
    write_excerpts(logbook, folder / "excerpts", logbook.serves())
    write_excerpts(logbook, folder / "film as it is", logbook.serves(), overlay=False)
    write_all_subtitles(logbook, folder)
    logbook.put(PracticePlan(id="plan", date="2026-11-05"))
    for name in ("practices.ics", "logbook.json"):
        write_export(logbook, folder / name)
    for name in ("another.json", "evening.ics", "Noor.mp4", "Noor.html", "Noor.vtt"):
        (folder / name).write_text('{"made": "by somebody else"}', encoding="utf-8")
    found = [file.relative_to(folder).as_posix() for file in made_files_showing(folder, ["Noor"])]
    assert found == [
        *("evening.vtt", "excerpts/Noor.mp4", "film as it is/Noor evening.mp4"),
        *("logbook.json", "phone pages/Noor.html", "practices.ics"),
    ]

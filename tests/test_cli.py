"""The command line as an outsider runs it: the main job, the answers' shapes, and bad input."""

from __future__ import annotations

import csv
import json
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from serve_marker.camera.fitting.repeatability import OWN_CLICK, own_click_text, own_frames_text
from serve_marker.camera.picture.feature_matching import grey_of
from serve_marker.camera.picture.moved_since_view import recognise
from serve_marker.camera.view.viewfile import load_view, save_view, view_from_text, view_to_text
from serve_marker.logbook.records import StoredView
from serve_marker.logbook.store import Logbook
from serve_marker.marking.landing import place
from serve_marker.marking.view_reference import reference_of
from serve_marker.video.clip import open_clip
from serve_marker.video.frames import FrameReader

CLIP = "autumn-gallery"
HEADER = "server,outcome,landing_frame,landing_x_px,landing_y_px\n"
INFO_KEYS = {
    "frames",
    "duration_s",
    "width",
    "height",
    "rotation_deg",
    "codec",
    "variable_rate",
    "keyframes",
    "warnings",
}
FOUR = ("end-b/left", "end-b/right", "attack-a/left", "attack-a/right")
LOCATE_KEYS = {
    "x_m",
    "y_m",
    "cov_m2",
    "half",
    "half_x_m",
    "half_y_m",
    "area",
    "zone",
    "depth_band",
    "seam",
    "verdict",
    "line_margin_m",
    "area_margin_m",
    "area_sure",
}


@pytest.fixture(scope="module")
def imported(run, sample_clips, tmp_path_factory):
    """A folder with a logbook of the clip's serves and its view, the picture of its place with it, to be copied."""
    folder = tmp_path_factory.mktemp("imported")
    book, view = folder / "team.logbook", folder / "view.json"
    marks, clip = sample_clips / f"{CLIP}.marks.csv", sample_clips / f"{CLIP}.mp4"
    assert run("view", "fit", sample_clips / f"{CLIP}.marks.json", "-o", view).code == 0
    assert run("logbook", "new", book).code == 0
    answer = run("marks", "import", book, marks, "--clip", clip, "--view", view, "--practice", "Tuesday")
    assert answer.code == 0, answer.err
    with Logbook.open(book) as opened:
        view.write_text(opened.views()[0].document, encoding="utf-8")
    return folder


@pytest.fixture
def view(imported, tmp_path):
    return Path(shutil.copy(imported / "view.json", tmp_path))


@pytest.fixture
def logbook(imported, tmp_path):
    return Path(shutil.copy(imported / "team.logbook", tmp_path))


@pytest.fixture
def truth(sample_clips):
    return json.loads((sample_clips / f"{CLIP}.truth.json").read_text(encoding="utf-8"))


def test_clip_info_answers_with_the_contract_s_keys_and_the_truth_s_numbers(run, sample_clips, truth):
    answer = json.loads(run("clip", "info", sample_clips / f"{CLIP}.mp4", "--json").out)

    assert set(answer) >= INFO_KEYS
    assert answer["frames"] == len(truth["times_s"])
    assert [answer["width"], answer["height"]] == truth["image_size"]
    assert answer["warnings"] == []


def test_clip_frame_writes_the_frame_that_a_sequential_decode_shows(run, sample_clips, tmp_path):
    import av
    import cv2

    wanted = 137
    path = sample_clips / f"{CLIP}.mp4"
    assert run("clip", "frame", path, wanted, "-o", tmp_path / "f.png").code == 0

    with av.open(str(path)) as container:
        for index, frame in enumerate(container.decode(video=0)):
            if index == wanted:
                expected = frame.to_ndarray(format="bgr24")
                break
    written = cv2.imread(str(tmp_path / "f.png"))
    assert written is not None
    assert np.array_equal(written, expected)


def test_view_fit_finds_the_camera_of_the_truth(run, sample_clips, tmp_path, truth):
    out = tmp_path / "v.json"
    answer = json.loads(run("view", "fit", sample_clips / f"{CLIP}.marks.json", "-o", out, "--json").out)

    assert set(answer) == {"rms_px", "residuals_px", "expected_error_m", "camera_height_m", "warnings"}
    assert set(answer["expected_error_m"]) == {"end_a", "end_b", "worst"}
    assert answer["rms_px"] < 0.2
    assert answer["camera_height_m"] == pytest.approx(truth["camera"]["position_m"][2], rel=0.03)


def test_marks_that_moved_to_their_crossing_are_told_more_closely(run, sample_clips, tmp_path):
    """Four corners alone, and the same with where they were clicked, a pixel off."""
    sheet = json.loads((sample_clips / f"{CLIP}.marks.json").read_text())
    four = {name: pixel for name, pixel in sheet["marks"].items() if name in FOUR}
    clicked = {name: [x + 0.8, y - 0.6] for name, (x, y) in four.items()}
    errors_m = []
    for told in ({}, {"clicked": clicked}):
        marks, out = tmp_path / "four.json", tmp_path / "v.json"
        marks.write_text(json.dumps(sheet | {"marks": four, "traces": {}} | told))
        answer = json.loads(run("view", "fit", marks, "-o", out, "--json").out)
        errors_m.append(answer["expected_error_m"]["end_b"])
    assert errors_m[1] < 0.5 * errors_m[0]
    assert load_view(out).clicked == {name: tuple(pixel) for name, pixel in clicked.items()}


def test_views_are_spoken_of_as_a_coach_does(run, sample_clips, view, tmp_path):
    made = run("view", "fit", sample_clips / f"{CLIP}.marks.json", "-o", tmp_path / "v.json").out
    placed = run("view", "locate", view, 640, 560).out

    assert "A click is good to 9 cm at end a, " in made
    assert "The camera stands" in made
    assert "from the server's left sideline" in placed
    assert not any(word in made + placed for word in ("_m", "_px", "cov", "homography", "rms"))


def test_view_locate_finds_the_landings_of_the_truth(run, view, truth):
    serve = next(s for s in truth["serves"] if s["landing_px"] and s["in_out"] == "in")
    answer = json.loads(run("view", "locate", view, *serve["landing_px"], "--json").out)

    assert set(answer) == LOCATE_KEYS
    assert [answer["x_m"], answer["y_m"]] == pytest.approx(serve["landing_xy_m"], abs=0.02)
    assert [answer["half_x_m"], answer["half_y_m"]] == pytest.approx(serve["half_xy_m"], abs=0.02)
    assert np.array(answer["cov_m2"]).shape == (2, 2)


def test_the_whole_job_writes_sheets_stills_and_tables(run, logbook, tmp_path, truth):
    import pypdf

    assert run("report", logbook, "-o", tmp_path / "sheets").code == 0
    assert run("stills", logbook, "-o", tmp_path / "stills").code == 0
    assert run("export", logbook, "-o", tmp_path / "all.csv").code == 0

    with (tmp_path / "all.csv").open(encoding="utf-8-sig", newline="") as table:
        rows = list(csv.DictReader(table))
    sheets = list((tmp_path / "sheets").rglob("*.pdf"))
    servers = {serve["server"] for serve in truth["serves"]}
    assert len(rows) == len(truth["serves"])
    assert sum(len(pypdf.PdfReader(path).pages) for path in sheets) >= 1 + len(servers)
    assert len(list((tmp_path / "stills").rglob("*.png"))) >= sum(s["outcome"] == "floor" for s in truth["serves"])


def test_exported_calls_are_the_truth_or_too_close(run, logbook, tmp_path, truth):
    run("export", logbook, "-o", tmp_path / "all.csv")
    with (tmp_path / "all.csv").open(encoding="utf-8-sig", newline="") as table:
        rows = [r for r in csv.DictReader(table) if r["outcome"] == "floor"]
    serves = sorted((s for s in truth["serves"] if s["outcome"] == "floor"), key=lambda s: s["landing_time_s"])
    rows.sort(key=lambda r: float(r["landing_s"]))

    assert len(rows) == len(serves)
    for row, serve in zip(rows, serves, strict=True):
        assert row["verdict"] in (serve["in_out"], "too close")


def test_check_calls_a_fresh_import_sound_and_names_a_missing_clip(run, logbook, sample_clips, tmp_path, view):
    sound = run("logbook", "check", logbook)
    moved = tmp_path / "moved.mp4"
    moved.write_bytes((sample_clips / "winter-stand.mp4").read_bytes())
    run("marks", "import", logbook, sample_clips / "winter-stand.marks.csv", "--clip", moved, "--view", view)
    moved.unlink()
    unsound = run("logbook", "check", logbook)

    assert (sound.code, unsound.code) == (0, 1)
    assert "moved.mp4" in unsound.out


def test_an_import_reads_all_or_nothing(run, logbook, sample_clips, tmp_path, view):
    bad = tmp_path / "bad.csv"
    bad.write_text(HEADER + "7,floor,10,600,400\n4,floor,ten,600,400\n", encoding="utf-8")
    before = run("export", logbook, "-o", tmp_path / "before.csv").code
    failed = run("marks", "import", logbook, bad, "--clip", sample_clips / f"{CLIP}.mp4", "--view", view)
    run("export", logbook, "-o", tmp_path / "after.csv")

    assert (before, failed.code) == (0, 2)
    assert "landing_frame" in failed.err
    assert (tmp_path / "before.csv").read_text() == (tmp_path / "after.csv").read_text()


def test_an_imported_view_is_known_again_on_the_next_clip(logbook, sample_clips):
    """The next film of the gym is this clip's last frame, the camera turned by 1.4 degrees (K R K^-1, f 900 px)."""
    with Logbook.open(logbook) as book:
        (stored,) = book.views()
    with FrameReader(open_clip(sample_clips / f"{CLIP}.mp4")) as reader:
        last = reader.frame(reader.clip.frame_count - 1)
    lens = np.array([[900.0, 0, 639.5], [0, 900.0, 359.5], [0, 0, 1]])
    turn = lens @ cv2.Rodrigues(np.radians([0.0, 1.4, 0.0]))[0] @ np.linalg.inv(lens)
    turned = cv2.warpPerspective(last, turn, (1280, 720), borderMode=cv2.BORDER_REPLICATE)
    seen = grey_of(turned.astype(np.uint8), 1280)

    found = recognise(view_from_text(stored.document), seen, reference_of(stored.document))

    assert found.view is not None
    assert found.turned_deg == pytest.approx(1.4, abs=0.2)


def test_an_imported_view_counts_with_the_click_measured_by_the_window(run, logbook, sample_clips, tmp_path):
    """Frames and pixels, also where the file brings a click of its own: a logbook counts with one hand."""
    other, view = sample_clips / "winter-stand", tmp_path / "winter.json"
    run("view", "fit", f"{other}.marks.json", "-o", view)
    save_view(replace(load_view(view), own_click_sd_px=0.7), view)
    with Logbook.open(logbook) as book:
        book.set_setting(OWN_CLICK, own_click_text(3.0, (1920, 1080), own_frames_text(0)))
    for practice in ("Monday", "Tuesday"):
        words = ("--clip", f"{other}.mp4", "--view", view, "--practice", practice)
        assert run("marks", "import", logbook, f"{other}.marks.csv", *words).code == 0
    with Logbook.open(logbook) as book:
        first, imported = (view_from_text(stored.document) for stored in book.views())
    assert (first.own_click_sd_px, imported.own_click_sd_px, imported.click_frames_off) == (None, 2.0, 0)


def test_a_view_stored_before_gets_the_picture_and_places_the_serves(run, logbook, sample_clips, tmp_path):
    """The logbook has the view already, without a picture, counting with a click of 3 px; only the picture is news."""
    other, view = sample_clips / "winter-stand", tmp_path / "winter.json"
    run("view", "fit", f"{other}.marks.json", "-o", view)
    usual = load_view(view)
    coarse = replace(usual, own_click_sd_px=3.0)
    with Logbook.open(logbook) as book:
        gym_id = book.gyms()[0].id
        kept = StoredView(id="v", gym_id=gym_id, name="Stand", made_on="2026-03-01", document=view_to_text(coarse))
        book.put(kept)
    words = ("--clip", f"{other}.mp4", "--view", view, "--practice", "Monday", "--no-film")
    assert run("marks", "import", logbook, f"{other}.marks.csv", *words).code == 0
    with Logbook.open(logbook) as book:
        (stored,) = (known for known in book.views() if known.id == "v")
        serves = [serve for serve in book.serves() if serve.view_id == "v" and serve.landing_point]
    assert reference_of(stored.document).shape == (720, 1280)
    assert json.loads(stored.document).keys() - json.loads(kept.document).keys() == {"reference"}
    assert view_to_text(view_from_text(stored.document)) == kept.document
    errors_m = [serve.landing_point.error_m for serve in serves]
    assert len(serves) > 5
    assert errors_m == pytest.approx([place(serve, coarse).landing_point.error_m for serve in serves], rel=1e-6)
    assert all(m > place(serve, usual).landing_point.error_m for m, serve in zip(errors_m, serves, strict=True))


def test_the_same_table_is_not_read_twice(run, logbook, sample_clips, tmp_path, view, truth):
    marks, clip = sample_clips / f"{CLIP}.marks.csv", sample_clips / f"{CLIP}.mp4"
    again = run("marks", "import", logbook, marks, "--clip", clip, "--view", view, "--practice", "Tuesday")
    run("export", logbook, "-o", tmp_path / "all.csv")

    assert again.code == 2
    assert "already" in again.err
    assert len((tmp_path / "all.csv").read_text(encoding="utf-8-sig").splitlines()) == 1 + len(truth["serves"])


def test_every_bad_input_is_one_sentence_and_leaves_no_file(run, tmp_path, sample_clips, view, logbook):
    junk = tmp_path / "junk.mp4"
    junk.write_text("not a film")
    empty = tmp_path / "empty.mp4"
    empty.touch()
    listed = tmp_path / "list.json"
    listed.write_text("[]")
    out = tmp_path / "out.png"
    clip = sample_clips / f"{CLIP}.mp4"
    bad_commands = [
        ("clip", "info", junk),
        ("clip", "info", empty),
        ("clip", "info", tmp_path / "absent.mp4"),
        ("clip", "info", tmp_path),
        ("clip", "frame", clip, 99999, "-o", out),
        ("clip", "frame", clip, -5, "-o", out),
        ("clip", "frame", clip, 5),
        ("clip", "frame", clip, "five", "-o", out),
        ("clip", "fram", clip),
        ("view", "fit", listed, "-o", out),
        ("view", "fit", junk, "-o", out),
        ("view", "locate", listed, 1, 1),
        ("view", "locate", view, 640, 1),
        ("logbook", "check", junk),
        ("logbook", "check", tmp_path / "absent.logbook"),
        ("logbook", "new", logbook),
        ("logbook", "new", tmp_path / "no" / "such" / "folder.logbook"),
        ("report", junk, "-o", tmp_path / "r"),
        ("report", logbook, "-o", tmp_path / "r", "--practice", "Nowhere"),
        ("report", logbook, "-o", tmp_path / "r", "--server", "Nobody"),
        ("export", logbook, "-o", tmp_path / "out.docx"),
        ("export", logbook, "-o", tmp_path / f"{'long' * 80}.csv"),
        ("export", tmp_path / "absent.logbook", "-o", out),
        ("stills", tmp_path / "absent.logbook", "-o", tmp_path / "r"),
    ]
    for command in bad_commands:
        answer = run(*command)
        assert answer.code == 2, command
        assert len(answer.err.strip().splitlines()) == 1, (command, answer.err)
        assert "Traceback" not in answer.err
    assert not out.exists()
    assert not (tmp_path / "r").exists()
    assert not (tmp_path / "absent.logbook").exists()


def test_no_command_waits_for_a_pipe_in_a_clip_s_place(run, logbook, pipe, in_time, sample_clips, view):
    with Logbook.open(logbook) as book:
        book.put(replace(book.clips()[0], path=str(pipe), size_bytes=0))
    marks = sample_clips / "winter-stand.marks.csv"
    shown = in_time(run, "clip", "info", pipe)
    imported = in_time(run, "marks", "import", logbook, marks, "--clip", pipe, "--view", view)
    checked = in_time(run, "logbook", "check", logbook)

    sentence = "pipe.mp4 is a pipe, not a film; save the film as a file and choose that."
    assert [(answer.code, answer.err.strip()) for answer in (shown, imported)] == [(2, sentence)] * 2
    assert checked.code == 1
    assert f"pipe.mp4 is not at {pipe}; put it back" in checked.out


def test_what_is_read_and_other_kinds_of_file_are_never_written_over(run, sample_clips, tmp_path):
    book, clip, marks = tmp_path / "team.logbook", tmp_path / "film.mp4", tmp_path / "marks.json"
    run("logbook", "new", book)
    clip.write_bytes((sample_clips / f"{CLIP}.mp4").read_bytes())
    marks.write_bytes((sample_clips / f"{CLIP}.marks.json").read_bytes())
    kept = {path: path.read_bytes() for path in (book, clip, marks)}
    for command in (
        ("clip", "frame", clip, 5, "-o", clip),
        ("clip", "frame", clip, 5, "-o", book),
        ("view", "fit", marks, "-o", marks),
        ("view", "fit", marks, "-o", book),
    ):
        answer = run(*command)
        assert (answer.code, len(answer.err.strip().splitlines())) == (2, 1), command
    assert {path: path.read_bytes() for path in kept} == kept


def test_names_with_every_character_stay_text_and_inside_the_folder(run, sample_clips, tmp_path, view):
    names = ["=1+1", "../../escape", "<b>Noor</b>", 'Ines "Ace", Jr', "Zofia 🏐", "+Wren", "two\nlines", "@Odile"]
    marks = tmp_path / "names.csv"
    with marks.open("w", newline="", encoding="utf-8") as table:
        writer = csv.writer(table)
        writer.writerow(["server", "outcome", "landing_frame", "landing_x_px", "landing_y_px", "note"])
        writer.writerows([name, "floor", 30 + i, 640, 400, name] for i, name in enumerate(names))
    book = tmp_path / "names.logbook"
    run("logbook", "new", book)
    clip = sample_clips / f"{CLIP}.mp4"
    assert run("marks", "import", book, marks, "--clip", clip, "--view", view, "--practice", "../../up").code == 0

    folder = tmp_path / "inside"
    for command in (("report", book, "-o", folder), ("stills", book, "-o", folder)):
        assert run(*command).code == 0
    assert run("export", book, "-o", folder / "all.xlsx").code == 0
    assert run("export", book, "-o", folder / "all.csv").code == 0
    assert {p.name for p in tmp_path.iterdir()} == {"view.json", "names.csv", "names.logbook", "inside"}

    import openpyxl

    workbook = openpyxl.load_workbook(folder / "all.xlsx")
    cells = [cell for sheet in workbook for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    with (folder / "all.csv").open(encoding="utf-8-sig", newline="") as table:
        values = [value for row in csv.reader(table) for value in row]
    risky = [v for v in values if v[:1] in ("=", "+", "@") or (v[:1] == "-" and not is_number(v))]
    assert risky == []


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_a_theme_there_is_not_is_one_sentence(run):
    answer = run("--theme", "blue")
    assert (answer.code, answer.err) == (2, "There is no theme blue; choose one of light, dark, system.\n")

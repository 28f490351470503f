"""The command line: every stage of the path of one serve, without a window."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Annotated

import typer

from serve_marker import __version__
from serve_marker.cli_keeping import logbook_erase, logbook_import, logbook_load, logbook_merge, logbook_rescue
from serve_marker.cli_moving import logbook_find_clips, logbook_pack, logbook_unpack
from serve_marker.cli_named import (
    Audience,
    OneServer,
    OtherFolders,
    OutFile,
    OutFolder,
    PracticeName,
    allow_clips,
    open_logbook,
    opened_for,
    practice_named,
    require_target,
)
from serve_marker.cli_printout import print_answer, print_paths, progress_on_stderr, say
from serve_marker.cli_sharing import excerpts, export, marks_export, pages, stills
from serve_marker.errors import UserError
from serve_marker.plain_json import text_of_file
from serve_marker.report.paper_sizes import DEFAULT_PAPER, PAPERS_IN

app = typer.Typer(
    help="Where did every serve land, how far from the aim, and how surely?",
    invoke_without_command=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    add_completion=False,
)
clip_app = typer.Typer(help="What a clip is, and its exact frames.", no_args_is_help=True)
view_app = typer.Typer(help="From pixels to metres: make a view and use it.", no_args_is_help=True)
logbook_app = typer.Typer(help="The one file in which a team keeps everything.", no_args_is_help=True)
marks_app = typer.Typer(help="Marks made elsewhere.", no_args_is_help=True)
app.add_typer(clip_app, name="clip")
app.add_typer(view_app, name="view")
app.add_typer(logbook_app, name="logbook")
app.add_typer(marks_app, name="marks")
logbook_app.command("rescue")(logbook_rescue)
logbook_app.command("erase")(logbook_erase)
logbook_app.command("merge")(logbook_merge)
logbook_app.command("load")(logbook_load)
logbook_app.command("find")(logbook_find_clips)
logbook_app.command("pack")(logbook_pack)
logbook_app.command("unpack")(logbook_unpack)
logbook_app.command("import")(logbook_import)
marks_app.command("export")(marks_export)

STOPPED = 130
THEMES = ("light", "dark", "system")
SIGNED_NUMBERS = {"ignore_unknown_options": True}

JsonFlag = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of words.")]


def tell_version(asked: bool) -> None:
    """Print the program's version and end."""
    if asked:
        say(f"Serve Marker {__version__}")
        raise typer.Exit


@app.callback()
def open_window(
    context: typer.Context,
    theme: Annotated[str, typer.Option(help="light, dark or system, this time only.")] = "",
    logbook: Annotated[Path | None, typer.Option(help="The logbook to open.")] = None,
    _version: Annotated[
        bool, typer.Option("--version", callback=tell_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Open the window, or do one of the jobs below without it."""
    if theme and theme not in THEMES:
        raise UserError(f"There is no theme {theme}; choose one of {', '.join(THEMES)}.")
    if context.invoked_subcommand is None:
        from serve_marker.desktop.app import run

        raise typer.Exit(run(theme=theme, logbook_path=logbook))


@app.command()
def demo(out: Annotated[Path | None, typer.Option("-o", "--out", help="The folder to write into.")] = None) -> None:
    """Do the whole job on two sample clips and an invented season."""
    from serve_marker.demo import run_demo

    for line in run_demo(out, progress_on_stderr("demo")):
        say(line)


@clip_app.command("info")
def clip_info(
    clip: Path,
    as_json: JsonFlag = False,
    quick: Annotated[bool, typer.Option(help="Leave out the search for damage, which decodes every frame.")] = False,
) -> None:
    """Tell what a clip really is, and where it is damaged."""
    from serve_marker.video.clip import open_clip
    from serve_marker.video.clip_facts import clip_facts
    from serve_marker.video.damage import scan_damage

    opened = open_clip(clip)
    if not quick:
        opened = opened.with_damage(scan_damage(opened, progress_on_stderr("search for damage")))
    print_answer(clip_facts(opened), as_json)


@clip_app.command("frame", context_settings=SIGNED_NUMBERS)
def clip_frame(clip: Path, number: Annotated[int, typer.Argument(help="0 is the first frame.")], out: OutFile) -> None:
    """Write the exact frame of a clip, upright and in full resolution."""
    from serve_marker.report.write_files import write_png
    from serve_marker.video.clip import open_clip
    from serve_marker.video.frames import FrameReader

    require_target(out, ".png", clip)
    opened = open_clip(clip)
    if not 0 <= number < opened.frame_count:
        raise UserError(f"{clip.name} has frames 0 to {opened.frame_count - 1}; frame {number} is not among them.")
    with FrameReader(opened) as reader:
        write_png(reader.frame(number), out)


@view_app.command("fit")
def view_fit(marks: Path, out: OutFile, as_json: JsonFlag = False) -> None:
    """Make a view from marks of four or more landmarks."""
    from serve_marker.camera.fitting.view_from_marks import fit_view
    from serve_marker.camera.view.viewfile import read_marks, save_view
    from serve_marker.cli_printout import view_fit_lines

    require_target(out, ".json", marks)
    sheet = read_marks(marks)
    fit = fit_view(
        sheet.marks,
        sheet.court,
        sheet.image_size,
        sheet.net_height_m,
        traces=sheet.traces,
        clicked=sheet.clicked,
    )
    save_view(fit.view, out)
    answer = {
        "rms_px": fit.view.rms_px,
        "residuals_px": fit.residuals_px,
        "expected_error_m": fit.view.expected_error_m(),
        "camera_height_m": fit.view.camera_height_m,
        "warnings": [*fit.warnings, fit.taken_for_granted],
    }
    print_answer(answer, as_json, lambda plain: [f"{out} is ready.", *view_fit_lines(plain)])


@view_app.command("locate", context_settings=SIGNED_NUMBERS)
def view_locate(view: Path, x_px: float, y_px: float, as_json: JsonFlag = False) -> None:
    """Tell where on the court a pixel lies, and how surely."""
    import numpy as np

    from serve_marker.camera.view.view import longer_half_axis_m
    from serve_marker.camera.view.viewfile import load_view
    from serve_marker.cli_printout import view_locate_lines
    from serve_marker.court.areas import default_scheme
    from serve_marker.logbook.records import FloorPoint, Serve
    from serve_marker.marking.judging import judge

    opened = load_view(view)
    points_m, cov_m2 = opened.locate(np.array([[x_px, y_px]]))
    x_m, y_m = points_m[0].tolist()
    if not math.isfinite(x_m):
        raise UserError(f"Pixel {x_px:g}, {y_px:g} does not show the floor; choose one below the horizon.")
    (xx, xy), (_, yy) = cov_m2[0].tolist()
    here = Serve(id="", clip_id="", landing_point=FloorPoint(x_m, y_m, xx, xy, yy))
    judged = judge(here, opened.court, default_scheme(opened.court))
    answer = {
        "x_m": x_m,
        "y_m": y_m,
        "cov_m2": [[xx, xy], [xy, yy]],
        "half": judged.half,
        "half_x_m": float(judged.half_x_m),
        "half_y_m": float(judged.half_y_m),
        "area": "" if judged.verdict == "out" else judged.area,
        "zone": "" if judged.verdict == "out" else judged.zone,
        "depth_band": "" if judged.verdict == "out" else judged.depth_band,
        "seam": "" if judged.verdict == "out" else judged.seam,
        "verdict": judged.verdict,
        "line_margin_m": float(judged.line_margin_m),
        "area_margin_m": float(judged.area_margin_m),
        "area_sure": bool(judged.area_sure),
    }
    print_answer(answer, as_json, lambda plain: view_locate_lines(plain, float(longer_half_axis_m(cov_m2)[0])))


@view_app.command("check")
def view_check(
    view: Path,
    clip: Path,
    out: Annotated[Path | None, typer.Option("-o", "--out", help="The folder for re-aligned views.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """Tell whether a view holds for a clip, and where the camera moved."""
    from serve_marker.camera.view.viewfile import load_view
    from serve_marker.cli_printout import view_check_lines
    from serve_marker.marking.view_check import answer_of, check_clip
    from serve_marker.marking.view_reference import reference_of
    from serve_marker.video.clip import open_clip

    opened = load_view(view)
    reference = reference_of(text_of_file(view))
    checked = check_clip(opened, open_clip(clip), reference, progress_on_stderr("view check"))
    print_answer(answer_of(checked, view, out), as_json, view_check_lines)


@logbook_app.command("new")
def logbook_new(path: Path, team: Annotated[str, typer.Option(help="The team's name.")] = "") -> None:
    """Make an empty logbook."""
    from serve_marker.logbook.store import Logbook

    Logbook.create(path, team=team).close()
    say(f"{path} is ready.")


@logbook_app.command("check")
def logbook_check(path: Path, clips: OtherFolders = None) -> None:
    """Check a logbook: the file itself, every record and setting, missing clips, stale views."""
    from serve_marker.logbook.health import problems
    from serve_marker.logbook.serve_counts import serves_per_clip
    from serve_marker.logbook.store import Logbook
    from serve_marker.study.readable import unreadable_parts
    from serve_marker.study.sentences import count_words

    with Logbook.open(path, to_check=True) as logbook:
        allow_clips(logbook, clips or [])
        found = problems(logbook) or unreadable_parts(logbook)
        serves = 0 if found else sum(serves_per_clip(logbook).values())
    for sentence in found:
        say(sentence)
    if not found:
        say(f"{path.name} is sound: {count_words(serves, 'serve')}.")
    raise typer.Exit(1 if found else 0)


@marks_app.command("import")
def marks_import(
    logbook: Path,
    marks: Path,
    clip: Annotated[Path, typer.Option(help="The clip the marks were made on.")],
    view: Annotated[Path, typer.Option(help="The view that turns its pixels into metres.")],
    practice: Annotated[str, typer.Option(help="The practice's name.")] = "Practice",
    date: Annotated[str, typer.Option(help="YYYY-MM-DD; the day of filming if not given.")] = "",
    film: Annotated[bool, typer.Option(help="Sharpen landings and contacts from the film around them.")] = True,
) -> None:
    """Read a table of marks into a logbook, all of it or nothing."""
    from serve_marker.camera.view.viewfile import load_view
    from serve_marker.marking.import_marks import import_marks
    from serve_marker.marking.view_reference import known_again
    from serve_marker.study.sentences import count_words
    from serve_marker.study.settings import settings_of
    from serve_marker.video.clip import open_clip

    opened_view = load_view(view)
    opened_clip = open_clip(clip)
    with open_logbook(logbook) as book:
        best_pass = settings_of(book).best_pass
        text = known_again(text_of_file(view), opened_clip)
        told = progress_on_stderr("film") if film else None
        count = import_marks(book, marks, opened_clip, opened_view, text, practice, date, best_pass, film, told)
    say(f"{count_words(count, 'serve')} read into {logbook.name}.")


@app.command("spot")
def spot_clips(
    clips: Annotated[list[Path], typer.Argument(metavar="CLIP", help="The clips, all through one view.")],
    view: Annotated[Path, typer.Option(help="The view that turns their pixels into metres.")],
    out: Annotated[Path | None, typer.Option("-o", "--out", help="The file of proposals; of clips, a folder.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """Propose the serves of clips, each with its error and how sure it is. Nothing is entered.

    With -o, work broken off goes on from what is kept beside it.
    """
    from serve_marker.camera.view.viewfile import load_view
    from serve_marker.cli_proposals import part_file, proposal_files, proposal_lines, write_proposals
    from serve_marker.marking.view_reference import reference_of
    from serve_marker.spotting.spot import spot
    from serve_marker.video.clip import open_clip

    if out is not None and len(clips) == 1:
        require_target(out, ".json", view)
    targets = proposal_files(clips, out)
    opened = load_view(view)
    reference = reference_of(text_of_file(view))
    answers = []
    for clip, target in zip(clips, targets, strict=True):
        kept_in = part_file(target) if target is not None else None
        proposals = spot(open_clip(clip), opened, reference, progress_on_stderr("spot"), kept_in=kept_in)
        answers.append({"clip": str(clip), "serves": [proposal.to_dict() for proposal in proposals]})
        if target is not None:
            write_proposals(answers[-1], target)
    for target in filter(None, targets):
        part_file(target).unlink(missing_ok=True)
    print_answer(answers[0] if len(clips) == 1 else {"clips": answers}, as_json, proposal_lines)


@app.command()
def report(
    logbook: Path,
    out: OutFolder,
    practice: PracticeName = "",
    server: OneServer = "",
    paper: Annotated[str, typer.Option(help=f"{' or '.join(PAPERS_IN)}.")] = DEFAULT_PAPER,
    audience: Audience = "team",
) -> None:
    """Write the team sheet, one page per server, and the tables."""
    from serve_marker.report.bundle import write_report

    with opened_for(logbook, audience) as book:
        practice_id = practice_named(book, practice)
        paths = write_report(book, out, practice_id, server or None, paper, progress_on_stderr("report"))
    print_paths(paths)


@app.command()
def aim(
    logbook: Path,
    server: Annotated[str, typer.Option(help="Shirt number or name.")],
    at: Annotated[str, typer.Option("--aim", help="Only serves at this aim; else the aim served most often.")] = "",
    worth: Annotated[Path | None, typer.Option(help="JSON: on_court, net, long, wide, places.")] = None,
    as_json: JsonFlag = False,
) -> None:
    """Tell where a server's serves are worth most."""
    from serve_marker.report.sheets import player_ids, read_report_data
    from serve_marker.study.best_aim import best_aim
    from serve_marker.study.best_aim_words import best_aim_answer, best_aim_more, best_aim_sentence, values_words
    from serve_marker.study.serve_worth import ServeWorth

    with open_logbook(logbook) as book:
        chosen = player_ids(book, server)
        data = read_report_data(book)
    rows = data.table[data.table["player_id"].isin(chosen)]
    values = None if worth is None else ServeWorth.read(worth)
    found = best_aim(rows, data.court, data.scheme, values, at)
    words = [best_aim_sentence(found, data.court), best_aim_more(found), values_words(found)]
    print_answer(best_aim_answer(found), as_json, lambda _plain: words)


app.command()(stills)
app.command()(excerpts)
app.command()(pages)
app.command()(export)


def main() -> None:
    """Run the command line: what the person can mend is one sentence and exit code 2; Ctrl-C stops cleanly."""
    try:
        code = app(standalone_mode=False)
    except UserError as error:
        say(str(error), on_stderr=True)
        sys.exit(2)
    except typer.TyperException as error:
        for line in error.format_message().splitlines():
            say(line, on_stderr=True)
        sys.exit(2)
    if code == STOPPED:
        say("Stopped; nothing was left half-written.", on_stderr=True)
    sys.exit(code)

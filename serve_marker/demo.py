"""The whole job on the sample clips, from marks to sheets, for a coach who wants to see what comes out."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from serve_marker.errors import UserError
from serve_marker.video.progress import Progress

if TYPE_CHECKING:
    from serve_marker.logbook.records import ClipEntry
    from serve_marker.logbook.store import Logbook

DEMO_FOLDER = "serve-marker-demo"
LOGBOOK_NAME = "tidewater.logbook"
TEAM = "Tidewater"
SAMPLES = ("autumn-gallery", "winter-stand")
NEWEST = 2
"""Practices that are summed up and get a team sheet."""
STEPS = ("clips and views", "marks", "the season", "sheets and stills", "window")


@dataclass(frozen=True)
class Sample:
    """One sample clip with what was marked on it and who was there."""

    name: str
    folder: Path

    @property
    def clip(self) -> Path:
        """The clip itself."""
        return self.folder / f"{self.name}.mp4"

    @property
    def landmarks(self) -> Path:
        """The clicked landmarks, MARKS.json."""
        return self.folder / f"{self.name}.marks.json"

    @property
    def serves(self) -> Path:
        """The clicked serves, MARKS.csv."""
        return self.folder / f"{self.name}.marks.csv"

    @property
    def scenario(self) -> dict[str, Any]:
        """Who served, when and where, from the truth file."""
        return dict(json.loads((self.folder / f"{self.name}.truth.json").read_text(encoding="utf-8")))


def run_demo(folder: Path | None, progress: Progress) -> list[str]:
    """Return the summary's lines after writing the logbook, sheets, stills, tables and the window's picture.

    A demo that is stopped on the way leaves nothing behind.

    Raises
    ------
    UserError
        Where the folder is not empty, or cannot be written to.
    """
    folder = make_demo_folder(folder)
    try:
        return fill(folder, progress)
    except BaseException as error:
        shutil.rmtree(folder, ignore_errors=True)
        if isinstance(error, OSError):
            raise UserError(
                f"The demo could not be written to {folder} ({error.strerror}). Choose another folder with -o."
            ) from error
        raise


def fill(folder: Path, progress: Progress) -> list[str]:
    """Return the summary's lines after writing everything into an empty folder."""
    from serve_marker.demo_season.practices import add_season, players_of
    from serve_marker.demo_season.scenario import SCENARIO_FILE, read_season
    from serve_marker.desktop.app import window_picture
    from serve_marker.logbook.store import Logbook

    clips = folder / "clips"
    samples = copy_samples(clips)
    season = read_season(clips / SCENARIO_FILE)
    progress(1, len(STEPS))
    with Logbook.create(folder / LOGBOOK_NAME, team=TEAM) as logbook:
        logbook.put(*players_of(season))
        for sample in samples:
            add_practice(logbook, sample)
        progress(2, len(STEPS))
        add_season(logbook, season, clips)
        add_week_ahead(logbook)
        progress(3, len(STEPS))
        newest = [practice.id for practice in logbook.practices()[-NEWEST:]]
        filmed = [clip.practice_id for clip in filmed_clips(logbook)]
        summary = summarise(logbook)
    sheets, stills = write_pages(folder, newest, filmed)
    progress(4, len(STEPS))
    window = window_picture(folder / LOGBOOK_NAME, folder / "window.png")
    progress(5, len(STEPS))
    return [
        *summary,
        f"Serves without film are invented, from the spread written in {clips / SCENARIO_FILE}.",
        f"Sheets and tables: {len(sheets)} files in {folder / 'sheets'}",
        f"Stills: {len(stills)} pictures in {folder / 'stills'}",
        f"The window as a coach sees it: {window}",
        f"Look further: serve-marker --logbook {folder / LOGBOOK_NAME}",
    ]


def write_pages(folder: Path, newest: Sequence[str], filmed: Sequence[str]) -> tuple[list[Path], list[Path]]:
    """Return the sheets written, of the whole season but for team sheets of the newest practices alone, and the stills.

    Two other processes draw the sheets, since that is what takes longest.
    """
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    from serve_marker.report.bundle import REPORT_PARTS

    others = tuple(part for part in REPORT_PARTS if part not in ("team sheet", "server pages"))
    wanted = [(None, ("server pages",)), *((practice, ("team sheet",)) for practice in newest), (None, others)]
    with ProcessPoolExecutor(2, get_context("spawn")) as pool:
        written = [pool.submit(write_sheets, folder, practice, parts) for practice, parts in wanted]
        stills = write_film_stills(folder, filmed)
        sheets = [path for one in written for path in one.result()]
    return sheets, stills


def write_sheets(folder: Path, practice_id: str | None, parts: Sequence[str]) -> list[Path]:
    """Return some of the sheets, written from the demo's logbook."""
    from serve_marker.logbook.store import Logbook
    from serve_marker.report.bundle import write_report

    with Logbook.open(folder / LOGBOOK_NAME) as logbook:
        return write_report(logbook, folder / "sheets", practice_id, parts=parts)


def write_film_stills(folder: Path, practice_ids: Sequence[str]) -> list[Path]:
    """Return the stills written of practices with film; serves without any are left out in silence."""
    from serve_marker.desktop.app import offscreen_app
    from serve_marker.desktop.share.stills import write_stills
    from serve_marker.logbook.store import Logbook

    offscreen_app()
    with Logbook.open(folder / LOGBOOK_NAME) as logbook:
        stills = [write_stills(logbook, folder / "stills", one, tell=say_nothing) for one in practice_ids]
    return [path for paths in stills for path in paths]


def say_nothing(_sentence: str) -> None:
    """Take what is said of a clip without film, which the summary tells already."""


def make_demo_folder(folder: Path | None) -> Path:
    """Return the demo's empty folder, made if need be; nothing that is there already is ever touched."""
    chosen = folder or next_free(Path(DEMO_FOLDER))
    try:
        chosen.mkdir(parents=True, exist_ok=True)
        if any(chosen.iterdir()):
            raise UserError(f"{chosen} is not empty; choose another folder for the demo with -o.")
    except OSError as error:
        raise UserError(f"{chosen} cannot be made ({error.strerror}); choose another folder with -o.") from error
    return chosen


def next_free(folder: Path) -> Path:
    """Return the folder, or the first of folder-2, folder-3, ... that is not there yet."""
    candidate, count = folder, 1
    while candidate.exists():
        count += 1
        candidate = folder.with_name(f"{folder.name}-{count}")
    return candidate


def copy_samples(target: Path) -> list[Sample]:
    """Return the sample clips copied into a new folder, so that it stands alone."""
    shipped = files("serve_marker.sample_clips")
    target.mkdir(exist_ok=True)
    for item in shipped.iterdir():
        if item.name.endswith((".mp4", ".json", ".csv")):
            with item.open("rb") as source, (target / item.name).open("wb") as copy:
                shutil.copyfileobj(source, copy)
    return [Sample(name, target) for name in SAMPLES]


def add_practice(logbook: Logbook, sample: Sample) -> None:
    """Add the sample's players, view, practice and serves, exactly as the command line would."""
    from dataclasses import replace

    from serve_marker.camera.fitting.view_from_marks import fit_view
    from serve_marker.camera.view.viewfile import read_marks, view_to_text
    from serve_marker.logbook.records import Player, Practice, new_id
    from serve_marker.marking.import_marks import import_marks
    from serve_marker.marking.view_reference import known_again
    from serve_marker.video.clip import open_clip

    scenario = sample.scenario
    known = {player.number for player in logbook.players()}
    logbook.put(*(Player(id=new_id(), **player) for player in scenario["players"] if player["number"] not in known))

    sheet = read_marks(sample.landmarks)
    view = fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view
    clip = open_clip(sample.clip)
    name, date = scenario["practice"], scenario["date"]
    logbook.put(Practice(id=new_id(), date=date, name=name, target_kind=scenario["target_kind"]))
    import_marks(logbook, sample.serves, clip, view, known_again(view_to_text(view), clip), name, date)
    practice = next(p for p in logbook.practices() if p.name == name)
    order = tuple(dict.fromkeys(s.player_id for s in logbook.serves(practice_id=practice.id) if s.player_id))
    gym = replace(logbook.gyms()[0], name=scenario["gym"])
    logbook.put(gym, replace(practice, order_b=order))


def add_week_ahead(logbook: Logbook) -> None:
    """Add the plan of the week after the last practice."""
    from datetime import date, timedelta

    from serve_marker.logbook.records import PracticePlan, new_id
    from serve_marker.report.sheets import read_report_data_without_flights
    from serve_marker.study.climb import climbs
    from serve_marker.study.plan import suggested_blocks

    last = logbook.practices()[-1].date
    next_week = (date.fromisoformat(last) + timedelta(days=7)).isoformat()
    data = read_report_data_without_flights(logbook)
    blocks = suggested_blocks(climbs(data.table, data.ladder, data.settings.most_errors), last)
    logbook.put(PracticePlan(id=new_id(), date=next_week, blocks=blocks))


def summarise(logbook: Logbook) -> list[str]:
    """Return lines a coach understands: what was measured, who hit what, and how much of the season is film."""
    from serve_marker.study.sentences import practice_summary
    from serve_marker.study.serve_columns import serve_table

    lines = []
    table = serve_table(logbook)
    practices = logbook.practices()
    for practice in practices[-NEWEST:]:
        rows = table[table["practice_id"] == practice.id]
        lines += [f"{logbook.team}, {practice.name}, {practice.date}:", *(f"  {s}" for s in practice_summary(rows)[:2])]
    on_film = sum(len(logbook.serves(clip_id=clip.id)) for clip in filmed_clips(logbook))
    servers = table["player_id"].nunique()
    return [*lines, f"{len(practices)} practices, {len(table)} serves by {servers} servers; {on_film} are on film."]


def filmed_clips(logbook: Logbook) -> list[ClipEntry]:
    """Return the clips whose film is there."""
    return [clip for clip in logbook.clips() if Path(clip.path).exists()]

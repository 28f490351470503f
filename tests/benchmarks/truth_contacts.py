"""Contacts clicked on the right frame or one beside it: when was the ball hit, and how fast was the serve?

The rendered clips' servers are clicked at the floor under the ball, across within 0.1 m and along within 0.3 m (one
deviation), their landings on the nearest frame as in truth_landings.py, with and without the film looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from serve_marker.camera.view.view import USUAL_FRAMES_OFF, View
from serve_marker.court.dimensions import Floats
from serve_marker.logbook.records import Mark, Serve
from serve_marker.logbook.serve_arrays import columns_of
from serve_marker.marking.film_sharpening import with_film_marks
from serve_marker.marking.landing import place_all
from serve_marker.study.flight_columns import pace_columns, timed
from serve_marker.video.clip import Clip, open_clip
from tests.benchmarks.truth_landings import clicked_serves, fitted
from tests.benchmarks.views import CLIPS, TrueClip

FOOT_SD_M = (0.1, 0.3)


@dataclass
class Told:
    """Moments of hits and paces of serves against the truth."""

    frames_off: list[float] = field(default_factory=list)
    deviations_off: list[float] = field(default_factory=list)
    pace_share_off: list[float] = field(default_factory=list)
    pace_held: list[bool] = field(default_factory=list)
    pace_width: list[float] = field(default_factory=list)

    def show(self, words: str, count: int) -> None:
        if self.frames_off:
            held = np.mean(np.array(self.deviations_off) <= 1.96)
            print(
                f"{words:42} {len(self.frames_off)} of {count} hits told, off p50 {np.median(self.frames_off):.2f} p95 "
                f"{np.quantile(self.frames_off, 0.95):.2f} frames, held {100 * held:.0f} %",
                flush=True,
            )
        off = np.array(self.pace_share_off)
        wide = np.array(self.pace_width) / np.quantile(off, 0.95)
        print(
            f"{words:42} pace off p50 {100 * np.median(off):.1f} p95 {100 * np.quantile(off, 0.95):.1f} %, held "
            f"{100 * np.mean(self.pace_held):.0f} % of {len(off)}, stated p50 {100 * np.median(self.pace_width):.1f} "
            f"%, wide {np.median(wide):.2f}",
            flush=True,
        )


def with_contacts(clip: TrueClip, film: Clip, view: View, off: int, rng: np.random.Generator) -> list[Serve]:
    """Serves with contacts clicked ``off`` the nearest frame and landings on theirs."""
    found = []
    truths = {str(told["index"]): told for told in clip.truth["serves"]}
    for serve in clicked_serves(clip, 0, (), rng)[0]:
        told = truths[serve.id]
        if not told["contact_in_frame"]:
            continue
        foot_m = clip.turn * np.array(told["contact_pos"][:2]) + rng.normal(0, FOOT_SD_M)
        x_px, y_px = view.project(foot_m[None])[0].tolist()
        frame = told["contact_frame"] + off
        contact = Mark(film.time_s(frame), (x_px, y_px), *film.gaps_s(frame))
        kind = told["type"].replace("_", " ").replace(" standing", "")
        found.append(replace(serve, contact=contact, serve_type=kind))
    return found


def judged(told: Told, serves: list[Serve], clip: TrueClip, view: View) -> None:
    """Hold placed serves against the truth."""
    truths = {str(one["index"]): one for one in clip.truth["serves"]}
    columns = columns_of(serves)
    of = timed(columns, [(view, np.arange(len(serves)))], {})
    pace: dict[str, Floats] = pace_columns(of, USUAL_FRAMES_OFF)
    for k, serve in enumerate(serves):
        true, mark = truths[serve.id], serve.contact
        assert mark is not None
        if serve.hit_after_s is not None and serve.hit_sd_s is not None:
            off_s = abs(mark.time_s + serve.hit_after_s - true["contact_time"])
            told.frames_off.append(off_s / max(mark.gap_before_s, mark.gap_after_s))
            told.deviations_off.append(off_s / serve.hit_sd_s)
        mps, low, high = (float(pace[name][k]) for name in ("pace_mps", "pace_low_mps", "pace_high_mps"))
        truth_mps = true["avg_horizontal_speed_contact_to_landing"]
        if np.isfinite(mps):
            told.pace_share_off.append(abs(mps / truth_mps - 1))
            told.pace_held.append(low <= truth_mps <= high)
            told.pace_width.append(high / mps - 1)


def show(clips: list[TrueClip], draws: int) -> None:
    for off, words in ((0, "right frame"), (1, "one off")):
        rng = np.random.default_rng(6)
        plain, sharp, count = Told(), Told(), 0
        for clip in clips:
            film = open_clip(CLIPS / clip.truth["file"])
            for _ in range(draws):
                view = fitted(clip, rng, True)
                for side in (-1, 1) if off and view else (0,):
                    if view is None:
                        continue
                    placed = place_all(with_contacts(clip, film, view, side, rng), view)
                    count += len(placed)
                    judged(plain, placed, clip, view)
                    judged(sharp, place_all(with_film_marks(placed, view, film, 1.0), view), clip, view)
        plain.show(f"contact, {words}, clicks alone", count)
        sharp.show(f"contact, {words}, film", count)

"""How many keys and clicks a serve costs: a coach marks clips in the real window, knowing the truth only by looking.

Run with `python tests/benchmarks/actions.py [CLIP ...]`. Each serve gets contact, the server's place and its end; the
serving order is known, the frames are not. The coach looks at the frame shown: is the ball there, still to come, or
gone by, and about how far? By arrows he takes the fewest steps of ten and one, as a perfect eye would. By sound he
presses B, and for what is to come within half a second, or has just gone by, the keys to the next and the last sound;
a few frames he steps, and some more where a sound went past it. A sixtieth of a second
more or less is nothing to see; where frames are farther apart, the nearest will do. Clips without sound get the sound
of a hall (`tests/hall_sound.py`).
"""

from __future__ import annotations

import argparse
import os
import runpy
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import Qt

from serve_marker.camera.view.view import View
from serve_marker.court.dimensions import COURTS, landmarks

TESTS = Path(__file__).resolve().parents[1]
true = runpy.run_path(str(TESTS / "truths.py"), run_name="truths")
hall = runpy.run_path(str(TESTS / "hall_sound.py"), run_name="hall_sound")
films = runpy.run_path(str(TESTS / "desktop" / "film_sound.py"), run_name="film_sound")
coaching = runpy.run_path(str(TESTS / "desktop" / "coach.py"), run_name="coach")
SEEN_S = 1 / 60
FEW_STEPS, NEAR_STEPS = 2, 5
"""Up to so many keys the ball is stepped to rather than searched for by sound; and once a sound was past it."""
SOON_S = 0.5
"""A ball that is to land or to be hit so soon is seen to be, and the next sound is likely it."""
ENOUGH_SEEN_S = 1.5
"""So long after a ball went into the net or was played it is still seen what became of it."""
NOISE_OF = {
    "autumn-gallery": "echoing hall",
    "winter-stand": "other balls",
    "behind-servers-30vfr": "other balls",
    "bumped-60": "low signal",
    "portrait-30": "echoing hall",
}
WAYS = ("arrows", "sound", "sound, jumping on")
KEY_OF_OUTCOME = {"net": Qt.Key.Key_N, "received": Qt.Key.Key_R}


@dataclass
class Count:
    """Actions of one clip, by kind."""

    keys: int = 0
    clicks: int = 0
    serves: int = 0

    @property
    def per_serve(self) -> float:
        return (self.keys + self.clicks) / max(self.serves, 1)


class Evening:
    """The window on one clip with its view made, and a coach who counts what he does."""

    def __init__(self, folder: Path, film: Path, truth: dict[str, Any], way: str) -> None:
        self.truth, self.way, self.count = truth, way, Count()
        self.coach: Any = coaching["Coach"](folder)
        self.coach.begin(film, folder / "team.logbook")
        self.turn = true["turn_of"](truth)
        self.view: View = true["true_view"](truth)
        self.times_s = self.coach.workspace.clip.times_s
        self._settle()
        self._make_view()
        self.coach.key(Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
        if self.turn * truth["serves"][0]["contact_pos"][1] > 0:
            self.coach.key(Qt.Key.Key_E)
        if way == "sound, jumping on":
            self.coach.key(Qt.Key.Key_F4)

    def _settle(self) -> None:
        self.coach.wait(lambda: not self.coach.window.busy)

    def _make_view(self) -> None:
        making = self.coach.window.page._making
        places_m = landmarks(COURTS["indoor"])
        pixels = self.view.project(np.array([[x, y] for x, y, *_ in places_m.values()]))
        width, height = self.truth["display_size"]
        inside = {
            name: (float(x), float(y))
            for name, (x, y) in zip(places_m, pixels, strict=True)
            if 0 < x < width - 1 and 0 < y < height - 1
        }
        self.coach.wait(lambda: making.seen() is not None)
        making.move(inside)

    @property
    def now_s(self) -> float:
        return float(self.times_s[self.coach.workspace.frame])

    def key(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self.count.keys += 1
        self.coach.key(key, modifiers)

    def click(self, place_m: np.ndarray, modifiers: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        self._settle()
        self.count.clicks += 1
        x_px, y_px = self.view.project(place_m[None])[0]
        self.coach.click_film(float(x_px), float(y_px), modifiers)

    def in_picture(self, place_m: np.ndarray) -> bool:
        x_px, y_px = self.view.project(place_m[None])[0]
        width, height = self.truth["display_size"]
        return bool(0 < x_px < width - 1 and 0 < y_px < height - 1)

    # Looking

    def frames_away(self, first_s: float, last_s: float) -> int:
        """Frames from the one shown to what is looked for: 0 there, more than 0 still to come."""
        times_s, here = self.times_s, self.coach.workspace.frame
        good = np.flatnonzero((times_s >= first_s) & (times_s <= last_s))
        if not len(good):
            good = np.array([np.abs(times_s - (first_s + last_s) / 2).argmin()])
        return int(good[np.abs(good - here).argmin()] - here)

    def steps(self, away: int) -> int:
        """The fewest keys to go so many frames, by steps of ten and one."""
        tens, ones = divmod(abs(away), 10)
        return tens + min(ones, 11 - ones)

    def step(self, away: int) -> None:
        """Go that many frames by the fewest keys: steps of ten, and single ones."""
        tens, ones = divmod(abs(away), 10)
        forth, back = (Qt.Key.Key_Right, Qt.Key.Key_Left) if away > 0 else (Qt.Key.Key_Left, Qt.Key.Key_Right)
        over = ones > 5
        for _ in range(tens + over):
            self.key(forth, Qt.KeyboardModifier.ShiftModifier)
        for _ in range(10 - ones if over else ones):
            self.key(back if over else forth)

    def find(self, first_s: float, last_s: float) -> None:
        """Bring what happens between these times on the screen."""
        passed, before_s = False, float("-inf")
        while (away := self.frames_away(first_s, last_s)) != 0:
            frame, now_s = self.coach.workspace.frame, self.now_s
            passed |= before_s < first_s < now_s or now_s < last_s < before_s
            before_s = now_s
            self.coach.wait(lambda: not self.coach.window.page.sound.busy)
            if self.way == "arrows" or self.steps(away) <= (NEAR_STEPS if passed else FEW_STEPS):
                self.step(away)
            elif away > 0:
                self.key(Qt.Key.Key_B if first_s - now_s > SOON_S else Qt.Key.Key_Period)
            else:
                self.key(Qt.Key.Key_Comma)
            if self.coach.workspace.frame == frame:
                self.step(away)

    # Marking

    def mark_all(self) -> Count:
        """Mark every serve of the clip."""
        for serve in self.truth["serves"]:
            self.find(serve["contact_time"] - SEEN_S, serve["contact_time"] + SEEN_S)
            place_m = self.turn * np.array(serve["contact_pos"][:2])
            self.mark_contact(place_m)
            self.mark_end(serve)
            self.count.serves += 1
        return self.count

    def mark_contact(self, place_m: np.ndarray) -> None:
        """Mark the contact with the server's place, where that is in the picture."""
        if self.in_picture(place_m):
            self.click(place_m, Qt.KeyboardModifier.ControlModifier)
        else:
            self._settle()
            self.key(Qt.Key.Key_H)

    def mark_end(self, serve: dict[str, Any]) -> None:
        """Mark the landing, or how else the serve ended."""
        if serve["outcome"] in KEY_OF_OUTCOME:
            ended_s = serve.get("reception_time") or serve["contact_time"] + (0.5 if serve["outcome"] == "net" else 1.1)
            self.find(ended_s, ended_s + ENOUGH_SEEN_S)
            self._settle()
            self.key(KEY_OF_OUTCOME[serve["outcome"]])
            return
        landing_s = serve["landing_time"]
        self.find(landing_s - SEEN_S, landing_s + SEEN_S)
        place_m = self.turn * np.array(serve["landing_xy"][:2])
        if self.in_picture(place_m):
            self.click(place_m)
        else:
            self._settle()
            self.key(Qt.Key.Key_O)

    def leave(self) -> None:
        """Close the window, and hold it to what was to be marked."""
        marked = [serve for serve in self.coach.workspace.serves if serve.contact is not None]
        assert len(marked) == self.count.serves, (len(marked), self.count.serves, self.coach.said[-5:])
        assert all(serve.landing is not None for serve in marked), self.coach.said[-5:]
        self.coach.leave()


def heard_film(truth: dict[str, Any], folder: Path) -> tuple[Path, str]:
    """Return the clip with sound, and what noise is in it."""
    noise = NOISE_OF.get(truth["clip"])
    if noise is None:
        return truth["path"], "its own"
    film: Callable[..., Path] = films["film_with_sound"]
    return film(truth["path"], folder / truth["path"].name, hall["sound_of"](truth, noise, 1)), noise


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Actions per serve, counted in the real window.")
    parser.add_argument("clips", nargs="*", help="names of clips; all where none is named")
    parser.add_argument("--ways", nargs="*", default=WAYS, help=f"of {', '.join(WAYS)}")
    chosen = parser.parse_args()
    print(f"{'clip':22}{'serves':>7}{'':2}{'sound':14}" + "".join(f"{way:>26}" for way in chosen.ways))
    print(f"{'':45}" + f"{'actions (keys + clicks)':>26}" * len(chosen.ways))
    for name, truth in true["truths"]().items():
        if chosen.clips and name not in chosen.clips:
            continue
        told = []
        for way in chosen.ways:
            with tempfile.TemporaryDirectory() as place:
                folder = Path(place)
                film, noise = heard_film(truth, folder)
                evening = Evening(folder, film, truth, way)
                count = evening.mark_all()
                evening.leave()
            told.append(f"{count.per_serve:.1f} ({count.keys / count.serves:.1f} + {count.clicks / count.serves:.1f})")
        print(f"{name:22}{len(truth['serves']):7}{'':2}{noise:14}" + "".join(f"{words:>26}" for words in told))
        sys.stdout.flush()


if __name__ == "__main__":
    main()

"""What a review of found serves costs: keys and clicks per serve, and seconds of film watched per serve.

Run with `python3 -m tests.benchmarks.reviewing [CLIP ...]`. The coach knows the truth only by looking: each found serve
is watched once through in its loop. One that no true serve stands behind is rejected; one that ended otherwise gets the
key of its ending; one whose ring lies more than half a metre beside the ball is corrected by a click, with arrows
before it where the moment is off as well; all others are kept. What was not found is marked by hand afterwards, by
arrows; "review" counts the actions without those, per found serve.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import Qt

from serve_marker.desktop.dialogs.serving_end import ServingEndDialog
from serve_marker.logbook.records import StoredProposal
from tests.benchmarks.actions import KEY_OF_OUTCOME, SEEN_S, Count, Evening
from tests.truths import truths

SAME_S, BESIDE_M, SEARCH_S = 0.4, 0.5, 3600.0
UNSEEN_FRAMES = 1
"""A landing proposed so many frames off is taken for the right frame by eye."""
CTRL = Qt.KeyboardModifier.ControlModifier


class Review(Evening):
    """An evening whose serves are found first."""

    def __init__(self, folder: Path, film: Path, truth: dict[str, Any]) -> None:
        super().__init__(folder, film, truth, "arrows")
        self.watched_s = self.search_s = 0.0
        self.corrected = self.rejected = self.review_actions = 0
        self._left = list(truth["serves"])

    @property
    def missed(self) -> int:
        """True serves that no proposal stood for."""
        return len(self._left)

    def mark_all(self) -> Count:
        """Find the serves, answer each, and mark by hand what was missed."""
        page, begun_s = self.coach.window.page, time.monotonic()
        self.key(Qt.Key.Key_F, CTRL)
        self.coach.dialog(ServingEndDialog)
        self.key(Qt.Key.Key_Return)
        self.coach.face_window()
        self.coach.wait(lambda: not page.finder.busy, SEARCH_S)
        self.search_s = time.monotonic() - begun_s
        while page.review.shown is not None:
            self._watch_once()
            self._answer(page.review.shown)
        self.review_actions = self.count.keys + self.count.clicks
        self.count.serves = len(self.truth["serves"])
        for serve in self._left:
            self.find(serve["contact_time"] - SEEN_S, serve["contact_time"] + SEEN_S)
            self.mark_contact(self.turn * np.array(serve["contact_pos"][:2]))
            self.mark_end(serve)
        return self.count

    def _watch_once(self) -> None:
        """See the loop from its beginning until it begins again."""
        seen_s: list[float] = []
        now = self.coach.workspace.frame_changed.connect(lambda _frame: seen_s.append(self.now_s))
        self.coach.wait(lambda: len(seen_s) > 1 and seen_s[-1] < max(seen_s))
        self.coach.workspace.frame_changed.disconnect(now)
        self.watched_s += max(seen_s) - min(seen_s)

    def _answer(self, shown: StoredProposal) -> None:
        found = self.coach.window.page.review.meant()
        at_s = found.contact.time_s
        serve = min(self._left, key=lambda one: abs(one["contact_time"] - at_s), default=None)
        if serve is None or abs(serve["contact_time"] - at_s) > SAME_S:
            self.rejected += 1
            self.key(Qt.Key.Key_X)
            return
        self._left.remove(serve)
        if (serve["outcome"] if serve["outcome"] in KEY_OF_OUTCOME else "floor") != found.outcome:
            self.corrected += 1
            if serve["outcome"] in KEY_OF_OUTCOME:
                self.key(KEY_OF_OUTCOME[serve["outcome"]])
            else:
                self._click_landing(serve)
        elif found.outcome == "floor" and self._beside_m(found, serve) > BESIDE_M:
            self.corrected += 1
            self._click_landing(serve)
        else:
            self.key(Qt.Key.Key_K)

    def _beside_m(self, found: Any, serve: dict[str, Any]) -> float:
        if found.landing_point is None:
            return float("inf")
        true_m = self.turn * np.array(serve["landing_xy"][:2])
        return float(np.hypot(*(np.array([found.landing_point.x_m, found.landing_point.y_m]) - true_m)))

    def _click_landing(self, serve: dict[str, Any]) -> None:
        """Click where it landed while it plays; stop there by an arrow and step where the moment is off by frames."""
        place_m = self.turn * np.array(serve["landing_xy"][:2])
        shown = self.coach.window.page.review.shown
        frames_off = self.coach.workspace.clip.frame_at(serve["landing_time"]) - self.coach.workspace.clip.frame_at(
            shown.serve.landing.time_s
        )
        if not self.in_picture(place_m):
            self.key(Qt.Key.Key_O)
        elif abs(frames_off) <= UNSEEN_FRAMES:
            self.click_playing(place_m)
        else:
            self.key(Qt.Key.Key_Right)
            self.mark_end(serve)

    def click_playing(self, place_m: np.ndarray) -> None:
        """Click a place while the loop goes on."""
        self.count.clicks += 1
        x_px, y_px = self.view.project(place_m[None])[0]
        self.coach.click_film(float(x_px), float(y_px))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Actions and film watched per serve, counted in the real window.")
    parser.add_argument("clips", nargs="*", help="names of clips; all where none is named")
    chosen = parser.parse_args()
    columns = ("serves", "missed", "rejected", "corrected", "review", "actions", "watched s", "search s")
    print(f"{'clip':22}" + "".join(f"{column:>11}" for column in columns))
    for name, truth in truths().items():
        if chosen.clips and name not in chosen.clips:
            continue
        with tempfile.TemporaryDirectory() as place:
            review = Review(Path(place), truth["path"], truth)
            count = review.mark_all()
            assert count.keys + count.clicks >= count.serves
            review.leave()
        figures = (count.serves, review.missed, review.rejected, review.corrected)
        found = max(count.serves - review.missed, 1)
        shares = (review.review_actions / found, count.per_serve, review.watched_s / count.serves, review.search_s)
        print(f"{name:22}" + "".join(f"{n:11}" for n in figures) + "".join(f"{share:11.1f}" for share in shares))
        sys.stdout.flush()


if __name__ == "__main__":
    main()

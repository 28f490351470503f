"""What confidence is worth: the weights of doubts fitted on some rendered practices, and how they hold on others.

Run from the project's folder with `python -m tests.benchmarks.spotting_confidence FITTED CHECKED`: two folders of films
made by `tests.benchmarks.spotting_films` with other numbers. A proposal is right where a serve was hit then that ended
as told. The weights printed belong into `serve_marker.spotting.confidence`; the table of what was said and what was
right is of the films that were not fitted.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from serve_marker.court.dimensions import Floats
from serve_marker.marking.view_check import ClipSegment
from serve_marker.spotting import confidence
from serve_marker.spotting.found_so_far import FoundSoFar
from serve_marker.spotting.frames_around import FramesAround
from serve_marker.spotting.proposals import Proposal
from serve_marker.spotting.spot import spotted_in
from serve_marker.video.clip import open_clip
from serve_marker.video.progress import ProgressReporter
from tests.benchmarks.spotting import CONFIDENT, SAME_S, fitted_view
from tests.benchmarks.views import TrueClip, true_clips

MOST = {
    "the toss is not seen": confidence.NO_TOSS,
    "no rebound is seen": confidence.NO_REBOUND,
    "what the ball did next is not seen": confidence.NO_WAY_ON,
    "an end lies at the picture's border": confidence.NEAR_BORDER,
    "the flight does not fit well": confidence.POOR_FIT,
    "it is hit at an unusual place or speed": confidence.UNUSUAL,
    "the ball is hidden on much of its way": confidence.HIDDEN,
    "it may have ended in another way": confidence.AMBIGUOUS,
}
RIDGE, LEAST_WEIGHT = 0.15, 0.1
"""Keeps weights small that the proposals do not tell; what speaks against a proposal is never left unsaid."""
EDGES = (0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)


@dataclass(frozen=True, eq=False)
class Judged:
    """Proposals by how far each doubt holds (N, D), and whether they are right (N,) and a floor serve (N,)."""

    doubted: Floats
    right: NDArray[np.bool_]
    floor: NDArray[np.bool_]
    floor_serves: int


def proposals_of(clip: TrueClip, folder: Path) -> tuple[Proposal, ...]:
    """All proposals of a clip, before they are held against each other."""
    film, view = open_clip(folder / clip.truth["file"]), fitted_view(clip)
    segment = ClipSegment(0.0, film.duration_s, 0.0, 0.0, view, np.zeros((1, 1), np.uint8))
    with FramesAround(film) as reader:
        after_blocks = list(spotted_in(film, segment, reader, ProgressReporter(None, None), FoundSoFar()))
    return after_blocks[-1].proposals


def judged(folder: Path) -> Judged:
    """Hold the proposals of all films of a folder against their truth."""
    rows: list[list[float]] = []
    right, floor, serves = [], [], 0
    for clip in true_clips(folder):
        left = list(proposals_of(clip, folder))
        serves += sum(serve["outcome"] == "floor" for serve in clip.truth["serves"])
        for serve in clip.truth["serves"]:
            near = [one for one in left if abs(one.contact_s - serve["contact_time"]) < SAME_S]
            if near:
                one = max(near, key=lambda proposal: proposal.confidence)
                left.remove(one)
                rows.append(_doubted(one))
                right.append(one.outcome == serve["outcome"])
                floor.append(serve["outcome"] == "floor")
        rows += [_doubted(one) for one in left]
        right += [False] * len(left)
        floor += [False] * len(left)
    return Judged(np.array(rows), np.array(right), np.array(floor), serves)


def _doubted(one: Proposal) -> list[float]:
    weights = {doubt.why: doubt.weight for doubt in one.doubts}
    return [weights.get(why, 0.0) / most for why, most in MOST.items()]


def fitted_weights(of: Judged) -> Floats:
    """The log odds at best, and the weight of each doubt that make what came most likely."""

    def cost(weights: Floats) -> float:
        log_odds = weights[0] - of.doubted @ weights[1:]
        return float(np.logaddexp(0, np.where(of.right, -log_odds, log_odds)).sum() + RIDGE * (weights[1:] ** 2).sum())

    found = minimize(cost, np.ones(len(MOST) + 1), bounds=[(0, None)] + [(LEAST_WEIGHT, None)] * len(MOST))
    return np.asarray(found.x)


def show(words: str, of: Judged, weights: Floats) -> None:
    """Print how often proposals are right that are said to be as likely."""
    said = 1 / (1 + np.exp(of.doubted @ weights[1:] - weights[0]))
    confident = said >= CONFIDENT
    print(f"{words}: {len(said)} proposals; of {of.floor_serves} floor serves {(confident & of.floor).sum()} confident")
    for low, high in zip((0.0, *EDGES[:-1]), EDGES, strict=True):
        some = (said >= low) & (said < high)
        if some.any():
            share = f"said {said[some].mean():.2f}, right {of.right[some].mean():.2f}"
            print(f"  {low:.2f} to {min(high, 1):.2f}: n {some.sum():3}, {share}", flush=True)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the weights and both tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("fitted", type=Path)
    parser.add_argument("checked", type=Path)
    asked = parser.parse_args(arguments)
    fitted = judged(asked.fitted)
    weights = fitted_weights(fitted)
    print(f"log odds at best {weights[0]:.2f}")
    for why, weight in zip(MOST, weights[1:], strict=True):
        print(f"  {why:40} {weight:.2f}")
    today = np.array([confidence.AT_BEST, *MOST.values()])
    checked = judged(asked.checked)
    show("fitted", fitted, weights)
    show("checked", checked, weights)
    show("checked, with the weights as they stand", checked, today)


if __name__ == "__main__":
    main()

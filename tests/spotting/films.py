"""Parts of the sample clips, and flights with known truth, for the tests of spotting."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import av
import numpy as np

from serve_marker.camera.fitting.view_from_marks import fit_view
from serve_marker.camera.view.view import View
from serve_marker.camera.view.viewfile import read_marks
from serve_marker.court.dimensions import Floats
from serve_marker.spotting.candidates import Look
from tests.truths import ROOT

SAMPLES = ROOT / "sample_clips"
GALLERY = "autumn-gallery"
RATE = 30


def gallery_view() -> View:
    """The view of the clip filmed from the gallery, of its own marks."""
    sheet = read_marks(SAMPLES / f"{GALLERY}.marks.json")
    return fit_view(sheet.marks, sheet.court, sheet.image_size, sheet.net_height_m, traces=sheet.traces).view


def gallery_truth() -> dict[str, Any]:
    """What is true of that clip."""
    told: dict[str, Any] = json.loads((SAMPLES / f"{GALLERY}.truth.json").read_text(encoding="utf-8"))
    return told


def beginning_of_gallery(path: Path, frames: int) -> Path:
    """The clip's first frames, not encoded anew."""
    with av.open(str(SAMPLES / f"{GALLERY}.mp4")) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(source.streams.video[0]):
            if packet.pts is not None and packet.pts * packet.time_base < frames / RATE:
                packet.stream = stream
                target.mux(packet)
    return path


def looks_at(view: View, places_m: Floats, first_s: float = 0.0, noise_px: float = 0.0, seed: int = 0) -> list[Look]:
    """Looks a thirtieth of a second apart, one at each place (K, 3) of a ball, with a candidate where it is seen."""
    shown = view.project(places_m) + np.random.default_rng(seed).normal(0, noise_px, (len(places_m), 2))
    return [Look(k, first_s + k / RATE, at[None], np.array([60.0])) for k, at in enumerate(shown)]


def flown(contact_m: Floats, launch_mps: Floats, times_s: Floats, drag: float, lift: float) -> Floats:
    """Places (K, 3) of a ball from the clips' own equations, which are not those of the program."""
    from sample_clips.flight import fly

    last_s = float(times_s[-1])
    places = fly(contact_m, launch_mps[None], last_s, drag, lift, 400)[0][:, 0]
    every_s = np.linspace(0.0, last_s, len(places))
    return np.column_stack([np.interp(times_s, every_s, places[:, axis]) for axis in range(3)])

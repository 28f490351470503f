"""How long launches, net clearances and passers' numbers take for 10,000 serves, and how good pace and clearance are.

The paces need the rendered clips of ../shared/clips.

Run: python3 tests/benchmarks/flight.py [FOLDER_WITH_TRUTH_FILES]
"""

from __future__ import annotations

import json
import runpy
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from unittest.mock import patch

import numpy as np

from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import preset
from serve_marker.court.reception import Playable, out_of_reach, receive
from serve_marker.court.seams import seam_polygons
from serve_marker.flight import forces
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.launch_and_clearance import REACH_SD_M, flights
from serve_marker.flight.pace import flight_time
from serve_marker.study.flight_columns import pace_columns

SERVES = 10_000
ROUNDS = 5
TYPES = {
    "float_standing": "float",
    "jump_float": "jump float",
    "topspin_standing": "topspin",
    "jump_topspin": "jump topspin",
}


def show_time(what: str, spec: Callable[[], object]) -> None:
    """One line: the median of a few rounds [ms]."""
    spent = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        spec()
        spent.append(time.perf_counter() - start)
    print(f"{what:58} {1000 * statistics.median(spent):8.1f} ms")


def show_times() -> None:
    """Every spec on made-up serves."""
    rng = np.random.default_rng(1)
    court = court_named("indoor")
    formation = preset(5, "up", court)
    contact, landing = np.zeros((2, SERVES, 2))
    contact[:, 1], landing[:, 1] = -9.3, rng.uniform(2, 9.5, SERVES)
    contact[:, 0], landing[:, 0] = rng.uniform(-4, 4, (2, SERVES))
    cov = np.broadcast_to(np.eye(2) * 0.0025, (SERVES, 2, 2))
    flight_s = np.hypot(*(landing - contact).T) / rng.uniform(11, 19, SERVES)
    kinds = rng.choice(list(TYPES.values()), SERVES).tolist()
    half = landing + np.array([4.5, 0.0])
    asked = (contact, cov, landing, cov, flight_s, np.full(SERVES, 0.012), 2.6, REACH_SD_M, 2.24, kinds)
    show_time(f"{SERVES} launches", lambda: solve_launch(np.hypot(*(landing - contact).T), flight_s, 2.6, 0.35))
    show_time(f"{SERVES} flights with intervals", lambda: flights(*asked))
    known = Playable(*(np.tile(part, (SERVES, 1)) for part in ((1.9, 0.3), (0.9, 1.0), (0.0, 1.0))))
    show_time(f"{SERVES} landings against five passers", lambda: receive(half, formation, court))
    show_time(f"{SERVES} flights against five passers", lambda: receive(half, formation, court, playable=known))
    show_time("seams of five passers", lambda: seam_polygons(formation, court))
    show_time("floor out of reach of five passers", lambda: out_of_reach(formation, court, known[:1]))


def show_quality(folder: Path) -> None:
    """Share of true net clearances within their intervals, and how wide these are."""
    rows = []
    for path in sorted(folder.glob("*.truth.json")):
        told = json.loads(path.read_text(encoding="utf-8"))
        frames = np.array(told["frame_times"])
        rows += [(serve, told["net_height"], frames) for serve in told["serves"] if serve["outcome"] == "floor"]
    count = len(rows)
    contact = np.array([serve["contact_pos"] for serve, _, _ in rows])
    landing = np.array([serve["landing_xy"] for serve, _, _ in rows])
    true = np.array([serve["net_clearance_center_m"] for serve, _, _ in rows])
    net = np.array([height for _, height, _ in rows])
    kinds = [TYPES[serve["type"]] for serve, _, _ in rows]
    moments = np.array([[nearest(f, s["contact_time"]), nearest(f, s["landing_time"])] for s, _, f in rows])
    framed = flight_time(moments[:, 1, 0] - moments[:, 0, 0], moments[:, 0, 1:], moments[:, 1, 1:])
    exact_s = np.array([serve["landing_time"] - serve["contact_time"] for serve, _, _ in rows])
    rng = np.random.default_rng(2)
    for what, (flight_s, flight_sd_s), reach_off_m, place_sd_m in (
        ("true moments and contact height", (exact_s, np.zeros(count)), 0.0, 0.0),
        ("whole frames, reach within 0.15 m, places within 0.05 m", framed, 0.15, 0.05),
    ):
        held, widths, misses = [], [], []
        for _ in range(100):
            cov = np.broadcast_to(np.eye(2) * place_sd_m**2, (count, 2, 2))
            told = flights(
                *(contact[:, :2] + rng.normal(0, place_sd_m, (count, 2)), cov),
                *(landing + rng.normal(0, place_sd_m, (count, 2)), cov, flight_s, flight_sd_s),
                contact[:, 2] + rng.uniform(-reach_off_m, reach_off_m, count),
                *(REACH_SD_M if reach_off_m else 0.0, net),
                serve_types=kinds,
            ).net_clearance_m
            held.append(((told.low <= true) & (true <= told.high)).mean())
            widths.append(np.median(told.high - told.low))
            misses.append(np.abs(told.value - true))
        print(
            f"{count} serves, {what}: {np.mean(held):.1%} held, median width {np.mean(widths):.2f} m, "
            f"miss median {np.median(misses):.3f} m, 95th percentile {np.quantile(misses, 0.95):.3f} m"
        )


def show_paces() -> None:
    """Pace of the rendered clips' serves, marked as a coach would: share held, and width over what is needed.

    Marks lie on the frame nearest each event, or on it or one beside it at random; the setting "a mark may be off by"
    is 0 or 1 frame. Needed is the width of the same shape that holds 95 of 100.
    """
    at_hand = runpy.run_path(str(Path(__file__).parents[1] / "study" / "test_flight_columns.py"))
    folder = Path(__file__).resolve().parents[3] / "shared" / "clips"
    scenes = [
        (name, at_hand["scene"](json.loads((folder / f"{name}.truth.json").read_text(encoding="utf-8"))))
        for name in at_hand["CLIPS"]
    ]
    print(f"{'pace':32}" + "".join(f"{name:>26}" for name in (*at_hand["CLIPS"], "all")))
    for frames_off in (0, 1):
        for setting in (0, 1):
            rng = np.random.default_rng(5)
            shares: dict[str, list[float]] = {name: [] for name, _ in scenes}
            for _ in range(at_hand["ROUNDS"]):
                for name, told in scenes:
                    paces = pace_columns(at_hand["marked"](told, rng, frames_off), setting)
                    off = np.abs(np.log(paces["pace_mps"] / at_hand["pace_of"](told[1])))
                    shares[name] += (off / np.log(paces["pace_high_mps"] / paces["pace_mps"])).tolist()
            rows = [*shares.values(), [share for each in shares.values() for share in each]]
            cells = [f"{np.mean(np.array(row) <= 1):.1%} held, {1 / np.quantile(row, 0.95):.2f} x" for row in rows]
            print(f"marks {frames_off} off, setting {setting:<16} " + "".join(f"{cell:>26}" for cell in cells))


def show_what_widens_clearance() -> None:
    """Median width of net clearance of made-up serves where one unknown alone is left open."""
    rng = np.random.default_rng(1)
    count, still = 200, np.zeros((200, 2, 2))
    contact, landing = np.tile((0.0, -9.3), (count, 1)), np.column_stack([np.zeros(count), rng.uniform(5, 9, count)])
    flight_s = np.hypot(*(landing - contact).T) / rng.uniform(12, 17, count)
    for what, kind, drag_sd, flight_sd_s, height_sd_m in (
        ("drag alone", "still", forces.DRAG_SD, 0.0, 0.0),
        ("wobble of a float alone", "float", 0.0, 0.0, 0.0),
        ("spin of a topspin alone", "topspin", 0.0, 0.0, 0.0),
        ("30 frames a second alone", "still", 0.0, 0.0142, 0.0),
        ("reach known to 0.15 m alone", "still", 0.0, 0.0, REACH_SD_M),
    ):
        lifts = forces.LIFT_BY_SERVE_TYPE | {"still": (0.0, 0.0)}
        with patch.multiple(forces, DRAG_SD=drag_sd, LIFT_BY_SERVE_TYPE=lifts):
            told = flights(
                *(contact, still, landing, still, flight_s, np.full(count, flight_sd_s), 2.6, height_sd_m, 2.24),
                [kind] * count,
            ).net_clearance_m
        print(f"net clearance, {what:43} {np.nanmedian(told.high - told.low):8.2f} m wide")


def nearest(frames: np.ndarray, moment_s: float) -> tuple[float, float, float]:
    """Time of the nearest frame, and to the ones before and after it [s]."""
    k = int(np.abs(frames - moment_s).argmin())
    return float(frames[k]), float(frames[k] - frames[k - 1]), float(frames[k + 1] - frames[k])


if __name__ == "__main__":
    show_times()
    show_what_widens_clearance()
    show_paces()
    for place in sys.argv[1:]:
        show_quality(Path(place))

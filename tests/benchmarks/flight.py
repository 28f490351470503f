"""How long launches, net clearances and passers' numbers take for 10,000 serves, and how good they are on the clips.

Run: python3 tests/benchmarks/flight.py [FOLDER_WITH_TRUTH_FILES]
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from serve_marker.court.dimensions import court_named
from serve_marker.court.formations import preset
from serve_marker.court.reception import in_reach, out_of_reach, receive, seam_polygons
from serve_marker.flight.clearance import REACH_SD_M, flights
from serve_marker.flight.launch import solve_launch
from serve_marker.flight.timing import flight_time

SERVES = 10_000
ROUNDS = 5
TYPES = {
    "float_standing": "float",
    "jump_float": "jump float",
    "topspin_standing": "topspin",
    "jump_topspin": "jump topspin",
}


def show_time(what: str, deed: Callable[[], object]) -> None:
    """One line: the median of a few rounds [ms]."""
    spent = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        deed()
        spent.append(time.perf_counter() - start)
    print(f"{what:58} {1000 * statistics.median(spent):8.1f} ms")


def show_times() -> None:
    """Every deed on made-up serves."""
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
    show_time(f"{SERVES} landings against five passers", lambda: receive(half, formation, court))
    show_time(f"{SERVES} landings in reach or not", lambda: in_reach(half, flight_s, formation, court))
    show_time("seams of five passers", lambda: seam_polygons(formation, court))
    show_time("floor out of reach of five passers", lambda: out_of_reach(formation, court, 1.0))


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
                *(REACH_SD_M if reach_off_m else 0.0, net, kinds),
            ).net_clearance_m
            held.append(((told.low <= true) & (true <= told.high)).mean())
            widths.append(np.median(told.high - told.low))
            misses.append(np.abs(told.value - true))
        print(
            f"{count} serves, {what}: {np.mean(held):.1%} held, median width {np.mean(widths):.2f} m, "
            f"miss median {np.median(misses):.3f} m, 95th percentile {np.quantile(misses, 0.95):.3f} m"
        )


def nearest(frames: np.ndarray, moment_s: float) -> tuple[float, float, float]:
    """Time of the nearest frame, and to the ones before and after it [s]."""
    k = int(np.abs(frames - moment_s).argmin())
    return float(frames[k]), float(frames[k] - frames[k - 1]), float(frames[k + 1] - frames[k])


if __name__ == "__main__":
    show_times()
    for place in sys.argv[1:]:
        show_quality(Path(place))

"""Are the figures true where coaches really stand: prints, cell by cell, what is stated beside what was true.

Run from the project's folder with `python -m tests.benchmarks.truth [--part views|snapped|landings|film|contacts]
[--draws N] [--only CASE]`, on simulated cameras and on the cameras of the rendered clips beside the project.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.benchmarks import truth_contacts, truth_landings, truth_snapped, truth_views
from tests.benchmarks.views import CLIPS, true_clips


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument(
        "--part",
        choices=["views", "snapped", "landings", "film", "contacts"],
        default=None,
        help="one table only",
    )
    parser.add_argument("--draws", type=int, default=20, help="sets of clicks a camera and cell")
    parser.add_argument("--only", default="", help="one case only")
    parser.add_argument("--clips", type=Path, default=CLIPS)
    asked = parser.parse_args()
    if asked.part in (None, "views"):
        truth_views.show(true_clips(asked.clips), asked.draws, asked.only)
    if asked.part in (None, "snapped"):
        truth_snapped.show(true_clips(asked.clips), asked.draws, asked.only)
    if asked.part in (None, "landings"):
        truth_landings.show(true_clips(asked.clips), asked.draws)
    if asked.part in (None, "film"):
        truth_landings.show_film(true_clips(asked.clips), min(asked.draws, 3))
    if asked.part in (None, "contacts"):
        truth_contacts.show(true_clips(asked.clips), min(asked.draws, 3))


if __name__ == "__main__":
    main()

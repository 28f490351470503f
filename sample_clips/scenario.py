"""What happens in the two sample clips: who serves when, with what aim, and where the ball comes down.

Landings are given in the half frame (x from the server's left sideline, y from the net axis, metres);
the serves go to end a, so the court frame is (4.5 - x, -y).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from sample_clips.lens import Camera, looking

NET_HEIGHT_M = 2.24


@dataclass(frozen=True)
class Player:
    """One server of the club: body height scales the figure, reaches go into the truth."""

    number: int
    name: str
    hand: str
    position: str
    height_m: float
    standing_reach_m: float
    jump_reach_m: float
    skin: tuple[int, int, int]
    hair: tuple[int, int, int]
    post_x_m: float


PLAYERS = (
    Player(4, "Ines", "right", "setter", 1.73, 2.23, 2.71, (214, 168, 136), (58, 40, 30), 3.3),
    Player(7, "Marit", "right", "outside hitter", 1.82, 2.36, 2.89, (232, 190, 162), (196, 160, 98), 1.2),
    Player(11, "Noor", "left", "opposite", 1.80, 2.33, 2.85, (158, 110, 80), (24, 20, 20), -1.1),
    Player(16, "Priya", "right", "middle", 1.86, 2.41, 2.96, (128, 86, 60), (18, 16, 18), -3.2),
)


@dataclass(frozen=True)
class Attempt:
    """One serve as wanted; ``half_xy_m`` is where it lands, or is played, or meets the net (x only)."""

    number: int
    serve_type: str
    aim: str
    outcome: str
    half_xy_m: tuple[float, float]
    clearance_m: float
    passer: str = ""
    pass_rating: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Passer:
    """A receiver on the floor, facing the servers."""

    number: int
    name: str
    x_m: float
    y_m: float
    height_m: float
    skin: tuple[int, int, int]
    hair: tuple[int, int, int]


@dataclass(frozen=True)
class Filming:
    """One sample clip: its practice, its camera, its clock and its serves."""

    file: str
    date: str
    practice: str
    gym: str
    place: str
    target_kind: str
    camera: Camera
    seed: int
    duration_s: float
    first_contact_s: float
    every_s: float
    shutter_s: float
    variable: bool
    keyframe_distance: int
    crf: int
    daylight: float
    attempts: tuple[Attempt, ...]
    mats: tuple[tuple[float, float, float, float], ...] = ()
    passers: tuple[Passer, ...] = field(default=())


AUTUMN = Filming(
    file="autumn-gallery.mp4",
    date="2026-10-06",
    practice="Autumn serving",
    gym="Harbour hall",
    place="gallery, behind end a",
    target_kind="flat",
    camera=looking((0.8, -16.0, 4.5), -2.6, 17.0, 900.0),
    seed=1006,
    duration_s=32.5,
    first_contact_s=1.7,
    every_s=2.6,
    shutter_s=1 / 100,
    variable=False,
    keyframe_distance=250,
    crf=21,
    daylight=1.0,
    mats=((1.5, 7.5, 1.6, 1.6), (6.0, 7.0, 1.0, 2.0)),
    attempts=(
        Attempt(4, "float", "deep 1", "floor", (2.62, 6.45), 0.75),
        Attempt(7, "jump float", "deep 1", "target", (1.28, 7.62), 0.55, note="on the mat"),
        Attempt(11, "float", "deep 1", "floor", (3.94, 6.71), 0.85),
        Attempt(16, "jump topspin", "deep 1", "floor", (1.74, 10.05), 0.92),
        Attempt(4, "float", "deep 1", "net", (2.40, 0.0), -0.28),
        Attempt(7, "jump float", "deep 1", "floor", (2.35, 9.15), 0.62),
        Attempt(11, "float", "seam 5-6", "target", (6.15, 7.35), 0.80, note="on the mat"),
        Attempt(16, "jump topspin", "seam 5-6", "floor", (5.38, 8.12), 0.86),
        Attempt(4, "float", "seam 5-6", "floor", (7.46, 8.21), 0.95),
        Attempt(7, "jump float", "seam 5-6", "floor", (6.33, 5.55), 0.50),
        Attempt(11, "float", "seam 5-6", "floor", (4.61, 4.83), 0.65),
        Attempt(16, "jump topspin", "seam 5-6", "floor", (6.71, 7.18), 0.80),
    ),
)

WINTER = Filming(
    file="winter-stand.mp4",
    date="2026-11-10",
    practice="Winter serving",
    gym="Harbour hall",
    place="stand, right corner of end a",
    target_kind="passers",
    camera=looking((5.6, -14.2, 3.0), -23.5, 12.5, 820.0),
    seed=1110,
    duration_s=30.6,
    first_contact_s=1.6,
    every_s=2.45,
    shutter_s=1 / 125,
    variable=True,
    keyframe_distance=90,
    crf=23,
    daylight=0.25,
    passers=(
        Passer(5, "Yuki", 3.0, -6.1, 1.70, (226, 188, 150), (22, 20, 22)),
        Passer(2, "Wren", 0.0, -6.6, 1.66, (224, 178, 150), (120, 62, 34)),
        Passer(14, "Salome", -3.0, -6.0, 1.78, (118, 78, 56), (20, 16, 16)),
    ),
    attempts=(
        Attempt(4, "float", "deep 1", "floor", (1.71, 7.83), 0.70),
        Attempt(7, "jump float", "deep 1", "floor", (2.24, 7.26), 0.48),
        Attempt(11, "float", "deep 1", "floor", (2.52, 8.02), 0.72),
        Attempt(16, "jump topspin", "deep 1", "floor", (2.05, 9.97), 0.92),
        Attempt(4, "float", "deep 1", "received", (2.10, 6.85), 0.66, passer="Yuki", pass_rating=2),
        Attempt(7, "jump float", "deep 1", "floor", (-0.16, 7.42), 0.52),
        Attempt(11, "float", "seam 5-6", "floor", (6.02, 7.63), 0.70),
        Attempt(16, "jump topspin", "seam 5-6", "floor", (5.71, 8.24), 0.95),
        Attempt(4, "float", "seam 5-6", "floor", (6.28, 6.96), 0.62),
        Attempt(7, "jump float", "seam 5-6", "net", (5.60, 0.0), -0.22),
        Attempt(11, "float", "seam 5-6", "floor", (5.24, 2.31), 0.30),
        Attempt(16, "jump topspin", "seam 5-6", "floor", (6.35, 8.41), 0.84),
    ),
)

FILMINGS = (AUTUMN, WINTER)

"""What a logbook holds, as frozen records.

Raw marks are kept as they were clicked; floor points are derived from them and rebuilt whenever a
view changes (docs/decisions.md). Records hold plain numbers and tuples, so that they compare and
hash; arrays begin in the floors above.
"""

from __future__ import annotations

import math
import uuid
from dataclasses import dataclass
from typing import Literal

from serve_marker.confidence_level import ELLIPSE_95
from serve_marker.logbook.path_names import file_name_of

Half = Literal["a", "b"]

SERVE_TYPES = ("underhand", "float", "jump float", "topspin", "jump topspin", "hybrid")
JUMP_SERVE_TYPES = ("jump float", "jump topspin", "hybrid")
PURPOSES = ("drill", "match")
TARGET_WORDS = {
    "none": "no targets",
    "mats": "mats on the floor",
    "upright": "upright targets",
    "people": "people receiving",
}
TARGET_KINDS = tuple(TARGET_WORDS)
HANDS = ("right", "left")
ANSWERS = ("", "accepted", "corrected", "rejected")
"""What a coach has said of a proposal."""


def new_id() -> str:
    """Return a fresh record id, chosen before a record is first stored so that redo restores the same one.

    Examples
    --------
    >>> len(new_id())
    32
    """
    return uuid.uuid4().hex


@dataclass(frozen=True)
class Mark:
    """A pixel clicked on a frame of a clip.

    Parameters
    ----------
    time_s : presentation time of the frame since the clip's first frame [s].
    pixel : (x, y) in the upright, full-resolution picture [px]; None where only the moment is known.
    gap_before_s, gap_after_s : time to the frame before and after [s], which bounds how far the
        true moment can lie from the frame clicked (0 where unknown; NaN, as a clip's first and last
        frame have it, becomes 0).
    on_ball : the pixel is the ball's centre instead of the floor point under or at it.

    Examples
    --------
    >>> Mark(0.0, gap_before_s=math.nan, gap_after_s=0.033)
    Mark(time_s=0.0, pixel=None, gap_before_s=0.0, gap_after_s=0.033, on_ball=False)
    """

    time_s: float
    pixel: tuple[float, float] | None = None
    gap_before_s: float = 0.0
    gap_after_s: float = 0.0
    on_ball: bool = False

    def __post_init__(self) -> None:
        for gap in ("gap_before_s", "gap_after_s"):
            if math.isnan(getattr(self, gap)):
                object.__setattr__(self, gap, 0.0)


@dataclass(frozen=True)
class FloorPoint:
    """A point on the floor in the court frame [m] with its covariance [m2].

    Examples
    --------
    >>> round(FloorPoint(0.0, 4.0, 0.01, 0.0, 0.0025).error_m, 4)
    0.2448
    """

    x_m: float
    y_m: float
    cov_xx_m2: float
    cov_xy_m2: float
    cov_yy_m2: float

    @property
    def error_m(self) -> float:
        """The longer half-axis of the 95 % ellipse [m]."""
        mean = (self.cov_xx_m2 + self.cov_yy_m2) / 2
        spread = math.hypot((self.cov_xx_m2 - self.cov_yy_m2) / 2, self.cov_xy_m2)
        return ELLIPSE_95 * math.sqrt(max(mean + spread, 0.0))


@dataclass(frozen=True, kw_only=True)
class Player:
    """Someone who serves or passes.

    ``number`` is the shirt number of the running season; reach is standing or jumping height of the hand [m].
    """

    id: str
    name: str
    number: int | None = None
    position: str = ""
    hand: str = "right"
    standing_reach_m: float | None = None
    jump_reach_m: float | None = None


def number_name(number: int | None) -> str:
    """Return the name of a player of whom only the shirt number is known.

    Examples
    --------
    >>> number_name(7)
    'Number 7'
    """
    return f"Number {number}"


def player_words(player: Player) -> str:
    """Return how a player is written everywhere: shirt number and name, or the one of them that is known.

    Examples
    --------
    >>> [player_words(Player(id="p", name=name, number=7)) for name in ("Marit", "Number 7", "")]
    ['7 Marit', 'Number 7', 'Number 7']
    """
    if player.number is None:
        return player.name
    alone = number_name(player.number)
    return alone if player.name in ("", alone) else f"{player.number} {player.name}"


@dataclass(frozen=True, kw_only=True)
class Season:
    """The span in which a shirt number means one player: from its first day to that of the next season.

    ``begins`` is YYYY-MM-DD, "" for since ever. ``shirts`` are (player id, number) as it ended; those of
    the running season stand with the players.
    """

    id: str
    name: str
    begins: str = ""
    shirts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Gym:
    """A hall in which a team practises. ``court`` is its court (JSON text), "" until the coach has said which it is."""

    id: str
    name: str
    court: str = ""


@dataclass(frozen=True, kw_only=True)
class StoredView:
    """One calibrated camera position in one gym. ``document`` is the text of a view file (VIEW.json)."""

    id: str
    gym_id: str
    name: str
    made_on: str
    document: str


@dataclass(frozen=True, kw_only=True)
class Practice:
    """One gathering. ``date`` is YYYY-MM-DD; the orders are player ids in serving order, one per end served from.

    ``formation_id`` is where the passers stand for the next serves, ``target_kind`` what those are served at,
    ``wind_end`` the end with the wind at its back.
    """

    id: str
    date: str
    name: str
    gym_id: str | None = None
    purpose: str = "drill"
    target_kind: str = "none"
    order_a: tuple[str, ...] = ()
    order_b: tuple[str, ...] = ()
    formation_id: str | None = None
    wind_end: Half | None = None


@dataclass(frozen=True, kw_only=True)
class NextServes:
    """What was chosen for the next serves of a practice on clips of one view, None: on those that have none yet.

    ``end`` is the end served from. ``orders`` are the serving orders typed there, player ids for end a and for end b;
    None: those of the practice hold.
    """

    id: str
    practice_id: str
    view_id: str | None = None
    end: Half = "a"
    aim: str = ""
    serve_type: str = ""
    orders: tuple[tuple[str, ...], tuple[str, ...]] | None = None


@dataclass(frozen=True, kw_only=True)
class ClipEntry:
    """A clip of a practice. ``fingerprint`` hashes the file's head and tail, so that a moved file is found again.

    ``filmed_at_fps`` is the rate a slow-motion clip was filmed at, None where its timestamps are true. ``view_id``
    holds from the clip's beginning; each of ``later_views``, in order, from its own time [s] on, None: no view yet.
    """

    id: str
    practice_id: str
    path: str
    size_bytes: int
    fingerprint: str
    view_id: str | None = None
    filmed_at_fps: float | None = None
    later_views: tuple[tuple[float, str | None], ...] = ()

    @property
    def file_name(self) -> str:
        """The name of the clip's file."""
        return file_name_of(self.path)


@dataclass(frozen=True, kw_only=True)
class StoredFormation:
    """Where the passers stood. ``document`` holds their places, names and roles as JSON text."""

    id: str
    name: str
    document: str


@dataclass(frozen=True, kw_only=True)
class Serve:
    """One attempt.

    ``landing`` is the moment the serve ended; its pixel is set where the touch of the floor was seen.
    ``ball_marks`` are the ball's underside on neighbouring frames, as the coach clicked it; ``film_marks`` and
    ``contact_film_marks`` are the ball's centre as the film itself shows it around the touch and around the hit.
    ``served_to`` is the receiving end where the coach's serving order told it. ``landing_point`` and ``contact_point``
    are derived from the marks through the view, and so is how long after the landing's frame the ball touched and after
    the contact's it was hit, with deviations, where marks around them tell. ``landing_height_m`` is the height of the
    ball's centre where a received ball was played, ``full_pace`` says that the serve belongs to a series hit as hard as
    can be, ``target_kind`` is one of TARGET_KINDS, ``reception`` one of RECEPTIONS, ``wind_end`` the end that had the
    wind at its back, None where no wind mattered, ``rally`` one of RALLIES.
    """

    id: str
    clip_id: str
    view_id: str | None = None
    player_id: str | None = None
    served_to: Half | None = None
    serve_type: str = ""
    aim: str = ""
    outcome: str = "floor"
    contact: Mark | None = None
    landing: Mark | None = None
    ball_marks: tuple[Mark, ...] = ()
    film_marks: tuple[Mark, ...] = ()
    contact_film_marks: tuple[Mark, ...] = ()
    pass_rating: int | None = None
    passer_id: str | None = None
    note: str = ""
    landing_point: FloorPoint | None = None
    contact_point: FloorPoint | None = None
    touch_after_s: float | None = None
    touch_sd_s: float | None = None
    hit_after_s: float | None = None
    hit_sd_s: float | None = None
    formation_id: str | None = None
    full_pace: bool = False
    landing_height_m: float | None = None
    target_kind: str = "none"
    reception: str = ""
    wind_end: Half | None = None
    rally: str = ""

    @property
    def moment_s(self) -> float | None:
        """When the serve stands on the time bar: its landing, or else its contact [s]."""
        mark = self.landing or self.contact
        return mark.time_s if mark else None


@dataclass(frozen=True)
class StoredProposal:
    """A serve found on film, with the ball on its way, from 0 to 1 how sure it is and what speaks against it.

    ``serve`` is what would be entered, without server and aim; the serve entered has its id. ``answer`` is one of
    ANSWERS.
    """

    serve: Serve
    flight: tuple[Mark, ...] = ()
    confidence: float = 0.0
    why: str = ""
    answer: str = ""

    @property
    def id(self) -> str:
        """That of its serve."""
        return self.serve.id


@dataclass(frozen=True, kw_only=True)
class ServeSearch:
    """That serves were looked for on the clip of this id: from which end, "" for both, and whether to its end."""

    id: str
    served_from: str = ""
    finished: bool = False


@dataclass(frozen=True, kw_only=True)
class Tally:
    """Serves of a day that were counted beside the court and are on no film.

    ``date`` is YYYY-MM-DD; ``hits`` are those on target, None where nobody counted them; ``full_pace`` is how many were
    hit as hard as can be.
    """

    id: str
    date: str
    player_id: str
    aim: str = ""
    serve_type: str = ""
    serves: int = 0
    hits: int | None = None
    full_pace: int = 0


@dataclass(frozen=True, kw_only=True)
class PlanBlock:
    """What some players serve for a while: each of them ``serves`` times at an aim.

    ``target_kind`` is one of TARGET_KINDS, ``effort`` the share of the own best asked for, 0 where none is; ``reason``
    says why the block is there.
    """

    player_ids: tuple[str, ...] = ()
    aim: str = ""
    serve_type: str = ""
    target_kind: str = "none"
    effort: float = 0.0
    serves: int = 10
    minutes: int = 0
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class PracticePlan:
    """What is to be served on a day YYYY-MM-DD, block after block; ``absent`` are the players who are not there."""

    id: str
    date: str
    blocks: tuple[PlanBlock, ...] = ()
    absent: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Trial:
    """Something tried by the players that chance drew, beside others who go on as before.

    ``drawn_on`` is the day YYYY-MM-DD from which they try it, ``retest_on`` the day on which both are compared, ``aim``
    what they serve at for it, "" for any.
    """

    id: str
    name: str
    drawn_on: str
    retest_on: str
    aim: str = ""
    tries: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

"""All kinds of records a logbook keeps."""

from __future__ import annotations

from serve_marker.logbook.consents import Consent
from serve_marker.logbook.records import (
    ClipEntry,
    Gym,
    NextServes,
    Player,
    Practice,
    PracticePlan,
    Season,
    Serve,
    ServeSearch,
    StoredFormation,
    StoredProposal,
    StoredView,
    Tally,
    Trial,
)
from serve_marker.logbook.second_marks import Marker, SecondMark

Record = (
    Player
    | Season
    | Gym
    | StoredView
    | Practice
    | NextServes
    | ClipEntry
    | StoredFormation
    | Serve
    | Tally
    | PracticePlan
    | Trial
    | StoredProposal
    | ServeSearch
    | Consent
    | Marker
    | SecondMark
)

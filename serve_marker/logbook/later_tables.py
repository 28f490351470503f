"""Tables that came with later versions; the steps in `schema.py` make them."""

from __future__ import annotations

CONSENT_TABLE = """CREATE TABLE consent (
    id TEXT PRIMARY KEY NOT NULL REFERENCES player (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    filmed_from TEXT,
    filmed_until TEXT,
    team_from TEXT,
    team_until TEXT,
    outside_from TEXT,
    outside_until TEXT,
    keep_until TEXT
) STRICT"""
MARKER_TABLES = (
    "CREATE TABLE marker (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL) STRICT",
    """CREATE TABLE second_mark (
        id TEXT PRIMARY KEY NOT NULL,
        serve_id TEXT NOT NULL,
        name TEXT NOT NULL,
        serve TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX second_mark_serve ON second_mark (serve_id)",
)
"""They name serves without a reference: a serve deleted and brought back by undo keeps them."""

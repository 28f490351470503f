"""The tables a logbook began with; the steps in `schema.py` lead on from them."""

from __future__ import annotations

FIRST_TABLES = (
    "CREATE TABLE setting (key TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT, WITHOUT ROWID",
    """CREATE TABLE player (
        id TEXT PRIMARY KEY NOT NULL,
        name TEXT NOT NULL,
        number INTEGER,
        position TEXT NOT NULL,
        hand TEXT NOT NULL CHECK (hand IN ('right', 'left')),
        standing_reach_m REAL,
        jump_reach_m REAL
    ) STRICT""",
    "CREATE TABLE gym (id TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL) STRICT",
    """CREATE TABLE stored_view (
        id TEXT PRIMARY KEY NOT NULL,
        gym_id TEXT NOT NULL REFERENCES gym (id) DEFERRABLE INITIALLY DEFERRED,
        name TEXT NOT NULL,
        made_on TEXT NOT NULL,
        document TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE practice (
        id TEXT PRIMARY KEY NOT NULL,
        date TEXT NOT NULL,
        name TEXT NOT NULL,
        gym_id TEXT REFERENCES gym (id) DEFERRABLE INITIALLY DEFERRED,
        purpose TEXT NOT NULL CHECK (purpose IN ('drill', 'match')),
        target_kind TEXT NOT NULL CHECK (target_kind IN ('none', 'flat', 'upright', 'passers'))
    ) STRICT""",
    """CREATE TABLE serving_order (
        practice_id TEXT NOT NULL REFERENCES practice (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        served_from TEXT NOT NULL CHECK (served_from IN ('a', 'b')),
        position INTEGER NOT NULL,
        player_id TEXT NOT NULL REFERENCES player (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        PRIMARY KEY (practice_id, served_from, position)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE clip (
        id TEXT PRIMARY KEY NOT NULL,
        practice_id TEXT NOT NULL REFERENCES practice (id) DEFERRABLE INITIALLY DEFERRED,
        path TEXT NOT NULL,
        size_bytes INTEGER NOT NULL,
        fingerprint TEXT NOT NULL,
        view_id TEXT REFERENCES stored_view (id) DEFERRABLE INITIALLY DEFERRED
    ) STRICT""",
    """CREATE TABLE serve (
        id TEXT PRIMARY KEY NOT NULL,
        clip_id TEXT NOT NULL REFERENCES clip (id) DEFERRABLE INITIALLY DEFERRED,
        view_id TEXT REFERENCES stored_view (id) DEFERRABLE INITIALLY DEFERRED,
        player_id TEXT REFERENCES player (id) DEFERRABLE INITIALLY DEFERRED,
        served_to TEXT CHECK (served_to IN ('a', 'b')),
        serve_type TEXT NOT NULL
            CHECK (serve_type IN ('', 'underhand', 'float', 'jump float', 'topspin', 'jump topspin')),
        aim TEXT NOT NULL,
        outcome TEXT NOT NULL CHECK (outcome IN ('floor', 'net', 'received', 'target', 'out', 'fault')),
        contact_time_s REAL,
        contact_x_px REAL,
        contact_y_px REAL,
        contact_gap_before_s REAL,
        contact_gap_after_s REAL,
        landing_time_s REAL,
        landing_x_px REAL,
        landing_y_px REAL,
        landing_gap_before_s REAL,
        landing_gap_after_s REAL,
        pass_rating INTEGER CHECK (pass_rating BETWEEN 0 AND 3),
        passer TEXT NOT NULL,
        note TEXT NOT NULL,
        landing_x_m REAL,
        landing_y_m REAL,
        landing_cov_xx_m2 REAL,
        landing_cov_xy_m2 REAL,
        landing_cov_yy_m2 REAL,
        contact_x_m REAL,
        contact_y_m REAL,
        contact_cov_xx_m2 REAL,
        contact_cov_xy_m2 REAL,
        contact_cov_yy_m2 REAL,
        CHECK ((contact_x_px IS NULL) = (contact_y_px IS NULL)),
        CHECK ((landing_x_px IS NULL) = (landing_y_px IS NULL)),
        CHECK (contact_x_px IS NULL OR contact_time_s IS NOT NULL),
        CHECK (landing_x_px IS NULL OR landing_time_s IS NOT NULL)
    ) STRICT""",
    """CREATE TABLE ball_mark (
        serve_id TEXT NOT NULL REFERENCES serve (id) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        time_s REAL NOT NULL,
        x_px REAL,
        y_px REAL,
        gap_before_s REAL NOT NULL,
        gap_after_s REAL NOT NULL,
        PRIMARY KEY (serve_id, position)
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX stored_view_gym ON stored_view (gym_id)",
    "CREATE INDEX practice_gym ON practice (gym_id)",
    "CREATE INDEX serving_order_player ON serving_order (player_id)",
    "CREATE INDEX clip_practice ON clip (practice_id)",
    "CREATE INDEX clip_view ON clip (view_id)",
    "CREATE INDEX serve_clip ON serve (clip_id)",
    "CREATE INDEX serve_view ON serve (view_id)",
    "CREATE INDEX serve_player ON serve (player_id)",
)

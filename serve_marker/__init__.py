"""Serve Marker: from a practice clip to where every serve landed."""

__version__ = "0.1.0"

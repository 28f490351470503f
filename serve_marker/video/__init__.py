"""Clips as filmed: what a file really is, and the exact frame of it."""

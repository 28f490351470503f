"""Dialogs that edit what belongs to a practice or a team."""

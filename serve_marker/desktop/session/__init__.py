"""What the window works on: the open logbook, clip and view, and every change to them. No widget is known here."""

"""The Set up step: from the court in the picture to a view."""

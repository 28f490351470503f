"""General widgets, colours and drawing, without knowledge of a logbook."""

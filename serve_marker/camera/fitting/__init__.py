"""How a coach's marks of landmarks make a view."""

"""Everything a team keeps, over years, in one file."""

"""What the team is shown: display lists, charts, sheets and tables."""

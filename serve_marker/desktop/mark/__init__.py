"""The Mark step: who serves at what aim, and where the serves landed."""

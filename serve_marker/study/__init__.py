"""The numbers a coach acts on, each with its interval."""

"""The pages of the documentation, shipped with the program, which opens the guide."""

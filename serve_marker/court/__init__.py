"""The court: its lines, landmarks and target areas. Knows nothing of cameras or files."""

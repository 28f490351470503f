"""What the picture tells about the court and the camera."""

"""``python -m serve_marker`` is the same as ``serve-marker``."""

from serve_marker.cli import main

if __name__ == "__main__":
    main()

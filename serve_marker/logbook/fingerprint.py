"""What tells one film from any other, whatever its name and place."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from serve_marker.errors import UserError, regular_file_size

SAMPLE_BYTES = 1 << 20


def fingerprint(path: str | Path) -> tuple[int, str]:
    """Size of a file [bytes] and a hash of its size, head and tail (1 MiB each).

    Head and tail of a film differ from those of any other film, and reading them takes no
    longer for an hour than for a minute.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.NamedTemporaryFile() as file:
    ...     size_bytes, digest = fingerprint(file.name)
    >>> size_bytes, len(digest)
    (0, 64)
    """
    path = Path(path)
    try:
        regular_file_size(path)
        with path.open("rb") as file:
            size_bytes = file.seek(0, os.SEEK_END)
            digest = hashlib.sha256(str(size_bytes).encode())
            file.seek(0)
            digest.update(file.read(SAMPLE_BYTES))
            file.seek(max(size_bytes - SAMPLE_BYTES, 0))
            digest.update(file.read(SAMPLE_BYTES))
    except FileNotFoundError:
        raise UserError(f"{path.name} is not there; check the name.") from None
    except OSError as error:
        raise UserError(f"{path.name} cannot be read ({error.strerror}); check the file and its disk.") from None
    return size_bytes, digest.hexdigest()

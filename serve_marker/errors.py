"""The errors that are meant for the coach, and the refusal of a film that is no file."""

import stat
from pathlib import Path

NO_FILES = {
    stat.S_IFDIR: "a folder; choose the video file inside it",
    stat.S_IFIFO: "a pipe, not a film; save the film as a file and choose that",
    stat.S_IFSOCK: "a socket, not a film; choose the video file",
}
DEVICE = "a device, not a film; copy the film from it and choose the copy"


class UserError(Exception):
    """Something outside the program is in the way: a file, the disk, the input.

    The text is one line of short sentences: what happened and what to do about it. The command line
    prints it on stderr and exits with 2; the window shows it. Everything else is a bug.

    Examples
    --------
    >>> str(UserError("team.logbook is not there; check the name."))
    'team.logbook is not there; check the name.'
    """


class DamagedLogbookError(UserError):
    """A logbook that is damaged: a backup may be restored, or what can be read looked at.

    Examples
    --------
    >>> issubclass(DamagedLogbookError, UserError)
    True
    """


def regular_file_size(path: Path) -> int:
    """Size of the film at `path` [bytes], found without opening it: opening a pipe can wait without end.

    Raises
    ------
    UserError
        If a folder, pipe, socket or device is there.
    OSError
        If there is nothing, or it cannot be reached.
    """
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise UserError(f"{path.name or path.resolve().name} is {NO_FILES.get(stat.S_IFMT(found.st_mode), DEVICE)}.")
    return found.st_size

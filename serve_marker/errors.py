"""The one error that is meant for the coach."""


class UserError(Exception):
    """Something outside the program is in the way: a file, the disk, the input.

    The text is one sentence that says what happened and what to do about it. The command line
    prints it on stderr and exits with 2; the window shows it. Everything else is a bug.

    Examples
    --------
    >>> str(UserError("team.logbook is not there; check the name."))
    'team.logbook is not there; check the name.'
    """

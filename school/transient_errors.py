"""Recognise failures of the database that pass by themselves or are repaired outside, by their SQLSTATE.

Source of the codes: PostgreSQL documentation, appendix A, "PostgreSQL Error Codes".
"""

import errno
from enum import Enum

from django.db import InterfaceError, OperationalError

DISK_FULL_CODE = "53100"
ROLLBACK_CLASS = "40"  # the class of deadlocks and of what could not be put in one order


class TransientError(Enum):
    """Say what happened and what was saved, to the person who was writing."""

    UNREACHABLE = (
        "The records cannot be reached.",
        "The database does not answer at the moment. What you just sent was saved completely or not at all: when"
        " this page opens again, check before you send it again.",
    )
    FULL = (
        "The disk of the records is full.",
        "Nothing that you just sent was saved; what was saved before is unchanged. The server's operator must"
        " free some space. Then go back and send it again.",
    )
    CONFLICT = (
        "Two changes arrived at the same moment.",
        "Nothing that you just sent was saved; the other change was. Go back, reload the page and send it again.",
    )

    def __init__(self, title: str, text: str) -> None:
        self.title, self.text = title, text


def find_transient_error(error: BaseException | None) -> TransientError | None:
    """Return which one an error is, or None for a failure of the program itself."""
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return TransientError.FULL
    if not isinstance(error, OperationalError | InterfaceError):
        return None
    code = str(getattr(error.__cause__, "sqlstate", None) or "")
    if code == DISK_FULL_CODE:
        return TransientError.FULL
    # Everything else counts as unreachable, whose text claims least: what was sent may be on record or not.
    return TransientError.CONFLICT if code.startswith(ROLLBACK_CLASS) else TransientError.UNREACHABLE

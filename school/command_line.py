"""Run a command of manage.py, and say in a sentence what an installation lacks instead of showing a traceback."""

import errno
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from psycopg import Error, OperationalError

from school.embedded import Unavailable
from school.errors import Refusal

CANNOT_CONNECT = "08"  # class of SQLSTATE: connection exception
MISSING_TABLES = {"42P01", "42703"}  # undefined_table, undefined_column
NO_RIGHT = "42501"  # insufficient_privilege


def run(arguments: list[str]) -> int:
    """Run a command and return its exit status. `--traceback` shows where a missing thing was noticed."""
    try:
        execute_from_command_line(arguments)
    except Exception as fault:
        words = missing_thing(fault)
        # What is no lack of the installation is a fault of the program and keeps its traceback.
        if words is None or "--traceback" in arguments:
            raise
        sys.stderr.write(f"{words}\n")
        return 1
    return 0


def missing_thing(fault: BaseException) -> str | None:
    """Return a sentence about what the installation lacks and what to do, or None for any other error."""
    if isinstance(fault, ImproperlyConfigured):
        return f"The settings are not complete: {_one_line(fault)} See .env.example."
    if isinstance(fault, Unavailable | Refusal):
        return str(fault)
    cause = fault if isinstance(fault, Error) else fault.__cause__
    if isinstance(cause, Error):
        state = cause.sqlstate or ""
        if state in MISSING_TABLES:
            return "The tables of this version are missing in the database: run manage.py migrate, or manage.py start."
        if state == NO_RIGHT:
            return f"The database refuses this to the role in use ({_one_line(cause)}): see .deploy/roles.sql."
        if isinstance(cause, OperationalError) and (not state or state.startswith(CANNOT_CONNECT)):
            return f"The database cannot be reached: start PostgreSQL, or correct DATABASE_URL ({_one_line(cause)})."
    if isinstance(fault, PermissionError):
        return f"{fault.filename} belongs to another account, or is closed to this one: run the command as its owner."
    if isinstance(fault, OSError) and fault.errno in (errno.ENOSPC, errno.EDQUOT, errno.EROFS):
        return f"{fault.filename or 'A file'} cannot be written ({fault.strerror}): make room, and start again."
    return None


def _one_line(fault: BaseException) -> str:
    return " ".join(str(fault).split())

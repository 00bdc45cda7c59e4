"""The tables, made by the migrations once: each test database is a copy of them, until a migration or Django changes.

Applying 126 migrations takes a process 8 s, copying what they made half a second. Django applies them to the copy as
it would to any database, and finds nothing left to do.
"""

import fcntl
import sys

from django.conf import settings
from django.core.management import call_command
from django.db import connection

from grading.simulation.demo.stored_tables import migrations_digest

NAMES = "migrated_"


def migrated_template() -> str:
    """Return the name of a database with the tables of today, made if there is none. Older ones are removed."""
    wanted = f"{NAMES}{migrations_digest()}_{sys.version_info[1]}"
    with (settings.VAR / "migrated.lock").open("w") as lock, connection._nodb_cursor() as cursor:
        fcntl.flock(lock, fcntl.LOCK_EX)  # the other processes of the tests wait for the first
        cursor.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [NAMES])
        names = {name for (name,) in cursor.fetchall()}
        for name in names - {wanted}:
            cursor.execute(f'DROP DATABASE "{name}" WITH (FORCE)')
        if wanted not in names:
            cursor.execute(f'CREATE DATABASE "{wanted}_half"')
            _migrate(f"{wanted}_half")
            cursor.execute(f'ALTER DATABASE "{wanted}_half" RENAME TO "{wanted}"')  # only a whole one bears the name
    return wanted


def _migrate(name: str) -> None:
    before = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = name
    try:
        call_command("migrate", verbosity=0)
    finally:
        connection.close()
        connection.settings_dict["NAME"] = before

"""Find PostgreSQL's own programs for the version of the server in use, and tell them where the server is."""

import os
import re
import shutil
import subprocess
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import psycopg
from django.conf import settings
from django.db import connection
from psycopg.conninfo import make_conninfo

from school import embedded
from school.errors import Refusal

DEBIAN_PROGRAMS = Path("/usr/lib/postgresql")  # where Debian keeps them, a folder for each version


def find_program(name: str, major: int) -> Path:
    """Return pg_dump or another program of this version or the next newer one. Refuses where there is none."""
    found: dict[int, Path] = {}
    for folder in _program_folders():
        if (path := folder / name).is_file():
            found.setdefault(_major_version(path), path)
    # A newer pg_dump reads an older server; an older one refuses a newer server.
    fitting = [version for version in sorted(found) if version >= major]
    if not fitting:
        raise Refusal(
            f"The server is PostgreSQL {major} and there is no {name} of that version here or of a newer one: install"
            f" the programs of PostgreSQL {major}, or name their folder in POSTGRESQL_PROGRAMS."
        )
    return found[fitting[0]]


def connect() -> psycopg.Connection[tuple[Any, ...]]:
    """Open a connection to the database in use, beside Django's own."""
    return psycopg.connect(**_connection_parameters())


def connection_arguments() -> tuple[str, Mapping[str, str]]:
    """Return, for a program, what follows --dbname, and an environment with the password, if any."""
    known = _connection_parameters()
    # By the environment: every account of the machine can list the arguments of a program.
    secret = known.pop("password", None)
    environment = {"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8", "PGCONNECT_TIMEOUT": "30"}
    passed = {name: os.environ[name] for name in ("HOME", "PGPASSFILE") if name in os.environ}
    return make_conninfo("", **known), environment | passed | ({"PGPASSWORD": secret} if secret else {})


def is_database_empty() -> bool:
    """Return whether the database has no table, view or sequence but those of PostgreSQL."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT NOT EXISTS (SELECT 1 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace"
            " WHERE n.nspname <> 'information_schema' AND n.nspname NOT LIKE 'pg\\_%')"
        )
        return bool(cursor.fetchone()[0])


def server_version() -> tuple[int, str]:
    """Return the version of the server as a number and as text, such as (18, "18.4")."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_setting('server_version_num')::int, current_setting('server_version')")
        number, words = cursor.fetchone()
    return number // 10000, words.split()[0]


def grant_application_rights() -> None:
    """Give the application's role what it needs in tables that another role restored, and nothing more.

    Functions that run with the rights of their owner are for that role alone.
    """
    role = settings.DATABASE_APP_ROLE
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user = %s OR NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = %s)", [role] * 2)
        if cursor.fetchone()[0]:
            return
        quoted = connection.ops.quote_name(role)
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {quoted}")
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {quoted}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {quoted}")
        # PostgreSQL lets everybody call a new function: one that runs as its owner would lend the owner's rights to
        # all.
        cursor.execute(
            "SELECT oid::regprocedure::text FROM pg_proc"
            " WHERE prosecdef AND pronamespace = 'public'::regnamespace ORDER BY 1"
        )
        for (function,) in cursor.fetchall():
            cursor.execute(f"REVOKE ALL ON FUNCTION {function} FROM PUBLIC")
            cursor.execute(f"GRANT EXECUTE ON FUNCTION {function} TO {quoted}")


def _program_folders() -> Iterator[Path]:
    if settings.POSTGRESQL_PROGRAMS:
        yield Path(settings.POSTGRESQL_PROGRAMS)
        return
    yield embedded.programs() / "bin"
    if beside := shutil.which("pg_dump"):
        yield Path(beside).parent
    yield from sorted(DEBIAN_PROGRAMS.glob("*/bin"))


def _major_version(path: Path) -> int:
    """Return the version that a program prints. Debian's pg_dump in the path is a script that chooses one."""
    done = subprocess.run([str(path), "--version"], capture_output=True, text=True, check=False)
    found = re.search(r"\(PostgreSQL\) (\d+)", done.stdout)
    return int(found[1]) if found else 0


def _connection_parameters() -> dict[str, Any]:
    """Return what Django connects with, without what only Django and psycopg understand."""
    words = {option.keyword.decode() for option in psycopg.pq.Conninfo.get_defaults()} - {"client_encoding"}
    return {name: value for name, value in connection.get_connection_params().items() if name in words}

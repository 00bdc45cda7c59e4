"""Databases beside that of the suite, in its server, made by the file that makes them on a server."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.db import connection
from django.test import override_settings

from lessons import published_content
from school import embedded

ROLES_SQL = settings.BASE_DIR / ".deploy/roles.sql"
OLDER_VERSION_SQL = settings.BASE_DIR / "tests/project/older_version.sql"


@dataclass(frozen=True)
class Database:
    host: str
    name: str
    owner: str
    app: str

    def address(self, role: str) -> str:
        return f"postgres://{role}:@/{self.host}/{self.name}"

    def psql(self, role: str, *arguments: str) -> str:
        return psql(self.host, role, self.name, *arguments)


def psql(host: str, role: str, database: str, *arguments: str) -> str:
    command = [str(embedded.programs() / "bin/psql"), "-qXAt", "-v", "ON_ERROR_STOP=1", "-h", host, "-U", role]
    done = subprocess.run([*command, *arguments, database], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@contextmanager
def temporary_database(name: str, owner: str, app: str, host: str = "") -> Iterator[Database]:
    """An empty database with its two roles, gone afterwards."""
    found = Database(host or connection.settings_dict["HOST"], f"{name}_{os.getpid()}", owner, app)
    names = {"database": found.name, "owner": owner, "app": app}
    given = [word for key, value in names.items() for word in ("-v", f"{key}={value}")]
    psql(found.host, "postgres", "postgres", *given, "-f", str(ROLES_SQL))
    try:
        yield found
    finally:
        psql(found.host, "postgres", "postgres", "-c", f'DROP DATABASE "{found.name}" WITH (FORCE)')
        for role in {owner, app} - set(embedded.ROLES.values()):
            psql(found.host, "postgres", "postgres", "-c", f'DROP ROLE "{role}"')


@contextmanager
def connected_to(database: Database, role: str) -> Iterator[None]:
    """Whatever Django does here it does in that database, as that role."""
    clear_published_caches()  # the keys of one school are others in another
    before = {key: connection.settings_dict[key] for key in ("NAME", "USER", "HOST")}
    connection.close()
    connection.settings_dict |= {"NAME": database.name, "USER": role, "HOST": database.host}
    try:
        with override_settings(DATABASE_APP_ROLE=database.app):
            yield
    finally:
        connection.close()
        connection.settings_dict |= before
        clear_published_caches()


def clear_published_caches() -> None:
    """What the process keeps of the issues of a school."""
    for kept in vars(published_content).values():
        if hasattr(kept, "cache_clear"):
            kept.cache_clear()


def load_older_version(database: Database) -> None:
    """A school as an older version of the program left it."""
    database.psql(database.owner, "-1", "-o", "/dev/null", "-f", str(OLDER_VERSION_SQL))


def table_digests(database: Database) -> dict[str, str]:
    """Each table's rows as one digest, whatever order they lie in; without sessions and what backups wrote down."""
    left_out = {"school_journalentry": "what NOT LIKE 'backup %'", "django_session": "false"}
    tables = database.psql("postgres", "-c", "SELECT tablename FROM pg_tables WHERE schemaname = 'public'").split()
    asked = [
        f"SELECT '{table}', count(*), md5(coalesce(string_agg(t::text, '|' ORDER BY t::text), '')) FROM \"{table}\" t"
        f" WHERE {left_out.get(table, 'true')}"
        for table in sorted(tables)
    ]
    return dict(line.split("|", 1) for line in database.psql("postgres", "-c", " UNION ALL ".join(asked)).splitlines())

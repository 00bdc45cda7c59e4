"""Databases beside that of the suite, in its server, made by the file that makes them on a server."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.core.management.sql import emit_post_migrate_signal
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.test import override_settings

from lessons import published_content
from school import embedded

ROLES_SQL = settings.BASE_DIR / ".deploy/roles.sql"
OLDER_ROWS = settings.BASE_DIR / "tests/project/older_version.sql"
# The last migration of every app in that version; it had no others.
OLDER_MIGRATIONS = {
    "contenttypes": "0002_remove_content_type_name",
    "auth": "0012_alter_user_first_name_max_length",
    "sessions": "0001_initial",
    "procrastinate": "0041_post_retry_failed_job",
    "school": "0006_journal_what",
    "lessons": "0007_uids",
    "grading": "0008_record_subjects",
}
# Its signed rows are refused by their guards like any others, so the guards are off while they are inserted. Keys that
# point to other rows are checked, at the end of the transaction.
GUARDS = """
DO $$ BEGIN EXECUTE (
    SELECT string_agg(format('ALTER TABLE %I {} TRIGGER USER;', relname), '') FROM pg_class
    WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace
); END $$
"""


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
    published_content.clear()


def load_older_version(database: Database) -> None:
    """Make a school as an older version of the program left it, in an empty database.

    The tables are made by the migrations of that version. The rows are what that version itself wrote, in a check-out
    of it: `manage.py migrate` into an empty database, `cast = tests.factories.build_cast(date(2026, 6, 11))`, then
    `tests.factories.fly_lesson(cast, circuits=2, days_ago=day)` for the days 3 and 1, then `pg_dump --data-only`, of
    which only the COPY and setval of tables with rows are taken, without those that migrations fill. A code or a text
    of the fixtures that is renamed in place is renamed in the file too. If a seal has it, its digest is made again: the
    SHA-256 of the digest before, a line feed and the text; a check of the records says where one does not fit.
    """
    with connected_to(database, database.owner):
        executor = MigrationExecutor(connection)
        targets = list(OLDER_MIGRATIONS.items())
        executor.migrate(targets)
        executor.loader.build_graph()  # it knows now what was applied
        apps = executor.loader.project_state(targets).apps
        emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias, apps=apps, plan=[])
    off, on = GUARDS.format("DISABLE"), GUARDS.format("ENABLE")
    steps = ["-c", off, "-f", str(OLDER_ROWS), "-c", "SET CONSTRAINTS ALL IMMEDIATE", "-c", on]
    database.psql(database.owner, "-1", "-o", "/dev/null", *steps)


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

"""The tables of an empty database as SQL in a file: what 126 migrations make in 8 s, made in one.

The file holds the schema as pg_dump writes it, the names of the migrations that made it and a digest of their text.
It is used in an empty database only, and only while that digest is the one of the migrations at hand; in any other
case `manage.py migrate` makes the tables. A test compares the text with the tables that the migrations make.
"""

import hashlib
import inspect
import json
import lzma
import re
import subprocess
from functools import cache
from pathlib import Path

import django
from django.apps import apps
from django.conf import settings
from django.core.management.sql import emit_post_migrate_signal
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from school import postgres

STORED_TABLES = settings.BASE_DIR / "fixtures" / "demo" / "tables.json.xz"
# What differs from one run of pg_dump to the next: its version, and the words of psql around it.
PASSING_LINES = re.compile(r"^(-- Dumped .*|\\(un)?restrict .*)\n", re.MULTILINE)
# pg_dump sets a search path that finds nothing.
AFTER = "SELECT set_config('search_path', 'public', false)"


@cache
def migrations_digest() -> str:
    """Return a digest of every migration, of the SQL beside those of the project, and of what applies them."""
    files = {Path(inspect.getfile(type(one))) for one in MigrationLoader(None).disk_migrations.values()}
    files |= {sql for file in files for sql in (file.parent / "sql").glob("**/*") if sql.is_file()}
    digest = hashlib.sha256(django.get_version().encode())
    for app, name, file in sorted((file.parent.parent.name, file.name, file) for file in files):
        digest.update(f"\n{app} {name}\n".encode() + file.read_bytes())
    return digest.hexdigest()[:16]


def write_tables(path: Path) -> None:
    """Write the tables of this database, which its migrations have made, to a file."""
    stored = {"digest": migrations_digest(), "migrations": _applied(), "sql": dump_tables()}
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(lzma.compress(json.dumps(stored).encode(), preset=9))


def load_tables(path: Path) -> bool:
    """Make the tables in this database by the file and return True; False where it is not empty or the file is old.

    Needs the role of the owner.
    """
    stored = json.loads(lzma.decompress(path.read_bytes()))
    if stored["digest"] != migrations_digest() or not postgres.is_database_empty():
        return False
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(stored["sql"])
        cursor.execute(AFTER)
        recorder = MigrationRecorder(connection)
        recorder.migration_qs.bulk_create(
            [recorder.Migration(app=app, name=name) for app, name in stored["migrations"]]
        )
        # Content types and permissions, as after a migration.
        emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias, apps=apps, plan=[])
        postgres.grant_application_rights()
    return True


def dump_tables() -> str:
    """Return the schema of this database as SQL that any role can run, without rights and without owners."""
    database, environment = postgres.connection_arguments()
    program = str(postgres.find_program("pg_dump", postgres.server_version()[0]))
    how = ["--schema-only", "--no-owner", "--no-privileges", "--no-comments", "--no-password"]
    done = subprocess.run(
        [program, *how, f"--dbname={database}"], env=environment, capture_output=True, text=True, check=True
    )
    return PASSING_LINES.sub("", done.stdout)


def _applied() -> list[tuple[str, str]]:
    return [(row.app, row.name) for row in MigrationRecorder(connection).migration_qs.order_by("id")]

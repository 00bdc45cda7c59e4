"""The stored tables are those of the migrations, and an empty database gets all that a migration would have left."""

import json
import lzma
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import Permission
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from grading.simulation.demo import stored_tables
from grading.simulation.demo.stored_tables import STORED_TABLES, dump_tables, load_tables, migrations_digest
from school import embedded
from tests.databases import connected_to, temporary_database

# PostgreSQL writes a cast within a condition in another way once it has read what it wrote.
CASTS = re.compile(r"::character varying|::text|[()\[\]]")
RIGHTS = """
SELECT relname, relacl::text FROM pg_class WHERE relnamespace = 'public'::regnamespace
UNION ALL SELECT oid::regprocedure::text, proacl::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace
ORDER BY 1
"""


def stored() -> dict[str, Any]:
    read: dict[str, Any] = json.loads(lzma.decompress(STORED_TABLES.read_bytes()))
    return read


def left_behind() -> dict[str, Any]:
    with connection.cursor() as cursor:
        cursor.execute(RIGHTS)
        rights = cursor.fetchall()
    return {
        "tables": CASTS.sub("", dump_tables()),
        "rights": rights,
        "migrations": list(MigrationRecorder(connection).migration_qs.order_by("id").values_list("app", "name")),
        "permissions": set(Permission.objects.values_list("content_type__app_label", "codename")),
        "content types": set(ContentType.objects.values_list("app_label", "model")),
    }


@pytest.mark.django_db
def test_the_file_holds_the_tables_of_the_migrations() -> None:
    again = "Write the file anew: manage.py load_demo --rebuild in an empty database."
    assert stored()["digest"] == migrations_digest(), again
    assert stored()["sql"].splitlines() == dump_tables().splitlines(), again


def test_an_empty_database_gets_what_a_migration_leaves(django_db_setup: None, django_db_blocker: Any) -> None:
    with (
        django_db_blocker.unblock(),
        temporary_database("loaded", *embedded.ROLES.values()) as loaded,
        temporary_database("migrated", *embedded.ROLES.values()) as migrated,
    ):
        with connected_to(migrated, "record_owner"):
            call_command("migrate", verbosity=0)
            expected = left_behind()
            # It is not empty any more.
            assert load_tables(STORED_TABLES) is False
        with connected_to(loaded, "record_owner"):
            assert load_tables(STORED_TABLES) is True
            assert left_behind() == expected
            call_command("migrate", "--check", verbosity=0)  # it would exit with 1 if one were left


def test_a_file_of_other_migrations_is_left_alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(stored_tables, "migrations_digest", lambda: "of today")
    older = tmp_path / "tables.json.xz"
    older.write_bytes(lzma.compress(json.dumps(stored() | {"digest": "of yesterday"}).encode()))
    assert load_tables(older) is False

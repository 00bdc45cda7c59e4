"""The cast as rows: built once through the actions of the project, then copied into the tables it was built in."""

import copy
from datetime import date

from django.db import connection, transaction

from tests import factories
from tests.cast import Cast
from tests.databases import forget_published

FROM_MIGRATIONS = {"django_migrations", "django_content_type", "auth_permission"}  # no test changes them

GUARDED = """
SELECT DISTINCT relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid
WHERE NOT tgisinternal AND tgtype & 4 > 0 AND relname = ANY(%s)
"""  # 4: before or after an INSERT


class Kept:
    cast: Cast | None = None
    rows: dict[str, bytes] = {}


def filled_tables() -> list[str]:
    tables = sorted({*connection.introspection.table_names()} - FROM_MIGRATIONS)
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(f"SELECT '{table}' WHERE EXISTS (SELECT FROM {table})" for table in tables))
        return [table for (table,) in cursor.fetchall()]


def lay_cast(today: date) -> Cast:
    """Into empty tables. A cast of another day is built anew: its days hang on it."""
    if Kept.cast is None or Kept.cast.today != today:
        Kept.cast = factories.build_cast(today)
        Kept.rows = {table: _read(table) for table in filled_tables()}
    else:
        _put_back(Kept.rows)
        forget_published()  # the same keys as the last time, whatever a test did to their rows
    return copy.deepcopy(Kept.cast)


def _read(table: str) -> bytes:
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} TO STDOUT") as rows:
        return b"".join(bytes(row) for row in rows)


@transaction.atomic
def _put_back(kept: dict[str, bytes]) -> None:
    """The guards are off for that alone: they look at each row of what they have passed already."""
    with connection.cursor() as cursor:
        cursor.execute(GUARDED, [list(kept)])
        guarded = [table for (table,) in cursor.fetchall()]
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        for table, rows in kept.items():
            with cursor.copy(f"COPY {table} FROM STDIN") as put:
                put.write(rows)
        connection.check_constraints()
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")

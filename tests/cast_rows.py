"""The cast as rows: built once through the actions of the project, then copied into the tables it was built in.

So is what many tests build on it first, as long as nothing else stands there (`once`).
"""

import copy
from collections.abc import Callable
from datetime import date
from functools import wraps

from django.db import connection, transaction

from tests import factories
from tests.cast import Cast
from tests.databases import clear_published_caches

FILLED_BY_MIGRATIONS = {"django_migrations", "django_content_type", "auth_permission"}  # no test changes them

GUARDED_TABLES_SQL = """
SELECT DISTINCT relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid
WHERE NOT tgisinternal AND tgtype & 4 > 0 AND relname = ANY(%s)
"""  # 4: before or after an INSERT


# Who logged in and what is derived or counted is no ground to stand on.
TRANSIENT_TABLES = {"django_session", "school_cache", "usersessions_usersession"}
Rows = dict[str, list[bytes]]


class SavedRows:
    cast: Cast | None = None
    rows: Rows = {}
    built: dict[object, Rows | None] = {}  # by what was built: the rows it added, None where it changed others


def nonempty_tables() -> list[str]:
    tables = sorted({*connection.introspection.table_names()} - FILLED_BY_MIGRATIONS)
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(f"SELECT '{table}' WHERE EXISTS (SELECT FROM {table})" for table in tables))
        return [table for (table,) in cursor.fetchall()]


def current_rows() -> Rows:
    return {table: _read_rows(table) for table in nonempty_tables() if table not in TRANSIENT_TABLES}


def insert_cast(today: date) -> Cast:
    """Into empty tables. A cast of another day is built anew: its days hang on it."""
    if SavedRows.cast is None or SavedRows.cast.today != today:
        SavedRows.cast = factories.build_cast(today)
        SavedRows.rows, SavedRows.built = current_rows(), {}
    else:
        _restore_rows(SavedRows.rows)
        clear_published_caches()  # the same keys as the last time, whatever a test did to their rows
    return copy.deepcopy(SavedRows.cast)


def build_once(build: Callable[..., None]) -> Callable[..., None]:
    """What is built of the cast and words alone: through the actions the first time, and where more stands already."""

    @wraps(build)
    def lay(cast: Cast, **words: str) -> None:
        key = build.__name__, *sorted(words.items())
        if SavedRows.built.get(key, {}) is None or not _only_cast_exists():
            return build(cast, **words)
        if key in SavedRows.built:
            return _restore_rows(SavedRows.built[key])
        build(cast, **words)
        SavedRows.built[key] = _added_rows(current_rows())
        return None

    return lay


def _only_cast_exists() -> bool:
    """In whatever order the tables hold it."""
    return {table: sorted(rows) for table, rows in current_rows().items()} == {
        table: sorted(rows) for table, rows in SavedRows.rows.items()
    }


def _added_rows(now: Rows) -> Rows | None:
    """None where a row of the cast is not as it was."""
    before = {table: set(rows) for table, rows in SavedRows.rows.items()}
    if any(rows - set(now.get(table, ())) for table, rows in before.items()):
        return None
    added = {table: [row for row in rows if row not in before.get(table, ())] for table, rows in now.items()}
    return {table: rows for table, rows in added.items() if rows}


def _read_rows(table: str) -> list[bytes]:
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} TO STDOUT") as rows:
        return b"".join(bytes(part) for part in rows).splitlines(keepends=True)


@transaction.atomic
def _restore_rows(kept: Rows) -> None:
    """The guards are off for that alone: they look at each row of what they have passed already."""
    connection.check_constraints()
    with connection.cursor() as cursor:
        cursor.execute(GUARDED_TABLES_SQL, [list(kept)])
        guarded = [table for (table,) in cursor.fetchall()]
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        for table, rows in kept.items():
            with cursor.copy(f"COPY {table} FROM STDIN") as put:
                put.write(b"".join(rows))
        connection.check_constraints()
        for table in guarded:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")

"""What only the owner of the tables can do: the guards off for a moment."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection

from grading.evidence.audit import database_guards


def execute_sql(text: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(text, values or None)


@contextmanager
def guards_off() -> Iterator[None]:
    """What only the owner of the tables can do; the guards stand again afterwards, as if nothing had been."""
    execute_sql("SET CONSTRAINTS ALL IMMEDIATE")
    for table in database_guards.GUARDED_TABLES:
        execute_sql(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    yield
    execute_sql("SET CONSTRAINTS ALL IMMEDIATE")
    for table in database_guards.GUARDED_TABLES:
        execute_sql(f"ALTER TABLE {table} ENABLE TRIGGER USER")

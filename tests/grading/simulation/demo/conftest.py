"""What the tests share that fill a database with the stored demo, which has ids of its own."""

from collections.abc import Iterator

import pytest
from django.db import connection


@pytest.fixture
def new_sequences(db: None) -> Iterator[None]:
    """Every id begins at 1. Afterwards none goes on below where it was: a sequence knows of no rollback."""
    setval = "SELECT setval(quote_ident(%s)::regclass, %s, %s)"
    with connection.cursor() as cursor:
        cursor.execute("SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public'")
        before = cursor.fetchall()
        cursor.executemany(setval, [(name, 1, False) for name, _ in before])
        yield
        cursor.executemany(setval, [(name, last, True) for name, last in before if last is not None])

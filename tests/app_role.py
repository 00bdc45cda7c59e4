"""The role under which the application runs, for tests of what the database refuses to it."""

from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
import pytest
from django.db import connection

APP_ROLE = "record_app"


@contextmanager
def app_role() -> Iterator[None]:
    """Within the transaction of a test, what follows is asked by record_app; a refusal ends it like any other."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET LOCAL ROLE {APP_ROLE}")
    try:
        yield
    finally:
        if not connection.needs_rollback and connection.connection.info.transaction_status.name != "INERROR":
            with connection.cursor() as cursor:
                cursor.execute("RESET ROLE")


@pytest.fixture
def app_role_rights(db: None) -> None:
    """The rights that the application's role has in a school's database, in that of the tests."""
    wanted = connection.get_connection_params()
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, pg_has_role(current_user, %s, 'SET')", [APP_ROLE])
        owner, member = cursor.fetchone()
    if not member:
        with psycopg.connect(host=wanted["host"], dbname=wanted["dbname"], user="postgres", autocommit=True) as chief:
            chief.execute("SELECT pg_advisory_lock(1)")  # several workers grant at the same time
            chief.execute(f"GRANT {APP_ROLE} TO {owner}")
    with connection.cursor() as cursor:
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {APP_ROLE}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {APP_ROLE}")
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {APP_ROLE}")

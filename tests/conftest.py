"""Fixtures of the whole suite: the cast (tests/cast.py), in the database."""

import gc
import time
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import OperationalError, connection, transaction
from django.test import TransactionTestCase
from django.utils import timezone
from hypothesis import HealthCheck, settings
from psycopg.errors import DeadlockDetected

from tests.cast import Cast
from tests.cast_rows import insert_cast, nonempty_tables
from tests.migrated_template import migrated_template
from tests.shared_state import SHARED_TRANSACTIONS, SharedTransactions, shared_state_of

# Hypothesis fails an example that takes over 200 ms, and a test that draws slowly: on a busy machine that says nothing
# of the program. How long something takes is a figure of tests/benchmarks, beside a floor of the same run.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")

# Those that take long come first; those with a browser follow each other, so that it is opened once.
FIRST_FILES = (
    "tests/journeys/test_accessibility.py",
    "tests/journeys/test_offline.py",
    "tests/journeys/",
    "tests/project/test_access_matrix.py",
    "tests/grading/actions/test_signing_concurrency.py",
    "tests/grading/simulation/demo/test_demo_school.py",
    "tests/project/test_embedded.py",
    "tests/project/test_embedded_usage.py",
    "tests/grading/operations/test_tasks.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first, so that no worker is left alone with one; in a file those on one ground follow each other."""
    files = {path: place for place, path in enumerate(dict.fromkeys(item.path for item in items))}

    def place(item: pytest.Item) -> tuple[int, int, bool, str]:
        first = next(
            (rank for rank, start in enumerate(FIRST_FILES) if item.nodeid.startswith(start)), len(FIRST_FILES)
        )
        stands, builder = shared_state_of(item)
        if stands and item.get_closest_marker("django_db"):
            raise pytest.UsageError(f"{item.nodeid}: the cast comes with its database, leave the mark away")
        return first, files[item.path], not stands, builder.__name__ if builder else ""

    items.sort(key=place)


def pytest_collection_finish(session: pytest.Session) -> None:
    """What was imported stays: it is not looked through for garbage again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


BUSY_CONNECTIONS_SQL = """
SELECT count(*) FROM pg_stat_activity
WHERE datname = current_database() AND pid <> pg_backend_pid() AND state <> 'idle' AND backend_type = 'client backend'
"""


def wait_for_busy_connections(seconds: float = 3.0) -> None:
    """What a browser that is closed asked last is still answered, and may hold what is to be emptied."""
    end = time.monotonic() + seconds
    with connection.cursor() as cursor:
        cursor.execute(BUSY_CONNECTIONS_SQL)
        while cursor.fetchone()[0] and time.monotonic() < end:
            time.sleep(0.01)
            cursor.execute(BUSY_CONNECTIONS_SQL)


def empty_tables(_: object = None) -> None:
    """Every table that has rows, in one transaction, its guards off for that alone.

    Django would TRUNCATE all tables, which the guards refuse, and make permissions and content types anew.
    """
    for again in (True, True, True, False):
        wait_for_busy_connections()
        try:
            return _empty_tables()
        except OperationalError as error:  # an answer that came in between held some of it: it ends, and so once more
            if not (again and isinstance(error.__cause__, DeadlockDetected)):
                raise


@transaction.atomic
def _empty_tables() -> None:
    with connection.cursor() as cursor:
        cursor.execute("LOCK TABLE lessons_enrolment")  # first, as whoever writes about a student does
        filled = nonempty_tables()
        for table in filled:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER; DELETE FROM {table}")
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in filled:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, django_db_blocker: Any
) -> Iterator[None]:
    """What pytest-django asks before it makes the database of a process."""
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch:
        patch.setitem(connection.settings_dict["TEST"], "TEMPLATE", migrated_template())
        yield


@pytest.fixture(scope="session", autouse=True)
def fast_table_cleaning() -> Iterator[None]:
    """After a test that commits."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_tables)
        yield


@pytest.fixture(scope="session")
def shared_transactions(django_db_setup: None, django_db_blocker: Any) -> Iterator[SharedTransactions]:
    SHARED_TRANSACTIONS.unblocked = django_db_blocker.unblock
    yield SHARED_TRANSACTIONS
    SHARED_TRANSACTIONS.clear()


@pytest.fixture(autouse=True)
def built_state(request: pytest.FixtureRequest) -> tuple[Cast, Any] | None:
    """Copies of what the test stands on, before its own transaction begins."""
    wants, builder = shared_state_of(request.node)
    return request.getfixturevalue("shared_transactions").state_for(builder) if wants else None


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Other tests find bare ground."""
    if not shared_state_of(item)[0]:
        SHARED_TRANSACTIONS.clear()


@pytest.fixture
def cast(built_state: tuple[Cast, Any], db: None) -> Cast:
    return built_state[0]


@pytest.fixture
def transactional_cast(transactional_db: None) -> Cast:
    return insert_cast(timezone.localdate())

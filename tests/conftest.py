"""Fixtures of the whole suite: the cast (tests/cast.py), in the database."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import TransactionTestCase
from django.utils import timezone

from tests import factories
from tests.cast import Cast

LONG = (
    "tests/journeys/test_access_rules.py",
    "tests/journeys/test_offline.py",
    "tests/grading/test_demo.py",
    "tests/grading/test_workers.py",
    "tests/grading/test_signing_at_once.py",
    "tests/journeys/",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files whose tests take long come first, so that no worker is left alone with one of them at the end."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONG))


def keep_tables(kept: bool) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE tgname LIKE '%_is_kept'")
        for table, name in cursor.fetchall():
            cursor.execute(f"ALTER TABLE {table} {'ENABLE' if kept else 'DISABLE'} TRIGGER {name}")


@pytest.fixture(scope="session", autouse=True)
def guards_let_the_cleaning_through() -> Iterator[None]:
    """Transactional tests are cleaned by TRUNCATE, which the guards refuse: off for that alone, then on again."""
    clean = TransactionTestCase._fixture_teardown

    def cleaned(case: TransactionTestCase) -> None:
        keep_tables(False)
        clean(case)
        keep_tables(True)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", cleaned)
        yield


@pytest.fixture
def cast(db: None) -> Cast:
    return factories.build_cast(timezone.localdate())


@pytest.fixture
def transactional_cast(transactional_db: None) -> Cast:
    cache.clear()  # its table belongs to no model, so nothing empties it between such tests
    return factories.build_cast(timezone.localdate())

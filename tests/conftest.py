"""The cast of the suite, and a school small enough to think about.

Amelia is the chief instructor, Bert the instructor of Dora, Cleo another instructor, Dora a student,
Emil another student who must never see Dora's things, Frida keeps the records.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

SECRET = "the-secret-of-the-cast"


@dataclass
class Cast:
    amelia: Any
    bert: Any
    cleo: Any
    dora: Any
    emil: Any
    frida: Any
    enrolment: Any
    other_enrolment: Any
    type: Any
    aircraft: Any
    runway: Any
    units: dict[int, Any]
    today: date

    def at(self, hour: int = 12, days_ago: int = 0) -> datetime:
        day = self.today - timedelta(days=days_ago)
        return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


@pytest.fixture
def cast(db: None) -> Cast:
    from tests.factories import build_cast

    return build_cast(timezone.localdate())


@pytest.fixture
def transactional_cast(transactional_db: None) -> Iterator[Cast]:
    from tests.factories import build_cast

    yield build_cast(timezone.localdate())
    # The guards refuse TRUNCATE, which is how these tests are cleaned up: take them off for that moment.
    with connection.cursor() as cursor:
        cursor.execute("SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE tgname LIKE '%_is_kept'")
        kept = cursor.fetchall()
        for table, name in kept:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER {name}")
        tables = ", ".join(connection.introspection.django_table_names(only_existing=True, include_views=False))
        cursor.execute(f"TRUNCATE {tables} CASCADE")
        for table, name in kept:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER {name}")


@pytest.fixture
def fixtures_folder() -> Any:
    return settings.BASE_DIR / "fixtures"

"""What is answered when the database cannot be reached, has no room, or two changes stood in each other's way.

Sources: SQLSTATE codes of the PostgreSQL documentation, appendix A; Retry-After: RFC 9110, section 10.2.3.
"""

from typing import Any

import psycopg
import pytest
from django.db import DataError, OperationalError, connection
from django.test import Client

from lessons.models import Lesson
from school.transient_errors import TransientError, find_transient_error
from tests.cast import Cast
from tests.factories import begin_lesson


@pytest.fixture
def failing_client(client: Client) -> Client:
    """A browser of a school whose database is gone."""
    client.raise_request_exception = False
    return client


def test_without_a_database_every_page_says_so_and_to_come_back(
    transactional_cast: Cast, failing_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = begin_lesson(transactional_cast)
    failing_client.force_login(transactional_cast.bert)
    connection.close()
    with monkeypatch.context() as patch:
        patch.setitem(connection.settings_dict, "HOST", "/nowhere")
        for page in ("/", "/lessons/", "/login/"):
            reply = failing_client.get(page)
            assert reply.status_code == 503
            assert int(reply.headers["Retry-After"]) > 0
            assert "cannot be reached" in reply.text
        taps = failing_client.post(f"/lessons/{lesson.uid}/entries/batch/", "{}", content_type="application/json")
        assert taps.status_code == 503  # the status on which a tablet keeps its taps (sender.js)
    assert failing_client.get("/lessons/").status_code == 200


@pytest.mark.parametrize(
    ("kind", "fault"),
    [
        (psycopg.errors.DiskFull, TransientError.FULL),
        (psycopg.errors.DeadlockDetected, TransientError.CONFLICT),
        (psycopg.errors.SerializationFailure, TransientError.CONFLICT),
        (psycopg.errors.AdminShutdown, TransientError.UNREACHABLE),
        (psycopg.errors.CannotConnectNow, TransientError.UNREACHABLE),
        (psycopg.errors.TooManyConnections, TransientError.UNREACHABLE),
    ],
)
def test_what_failed_is_told_by_its_code(kind: type[Exception], fault: TransientError) -> None:
    error = OperationalError("as Django gives it on")
    error.__cause__ = kind("as the driver raised it")
    assert find_transient_error(error) is fault


def test_a_failure_of_the_program_is_none_of_them(
    cast: Cast, failing_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert find_transient_error(DataError("value too long")) is None
    assert find_transient_error(OSError(28, "No space left on device")) is TransientError.FULL

    def fails(*args: Any, **kwargs: Any) -> None:
        raise ValueError("a fault of the program")

    monkeypatch.setattr(Lesson.objects.__class__, "for_pages", fails)
    failing_client.force_login(cast.bert)
    reply = failing_client.get("/lessons/")
    assert reply.status_code == 500
    assert "An error occurred on our side" in reply.text
    assert "Retry-After" not in reply.headers

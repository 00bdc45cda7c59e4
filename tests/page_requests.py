"""Requests as the browser of the project sends them."""

import uuid
from http.cookies import SimpleCookie
from typing import Any

from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from lessons.models import Lesson
from tests.access_matrix import ACCESS_MATRIX, PEOPLE
from tests.cast import Cast
from tests.page_targets import PageTargets
from tests.security_headers import CACHEABLE_PAGES, assert_security_headers

# The counters of the limits on guessing are written by whoever is refused, and by nothing else.
COUNTER_TABLES = {"school_cache"}
# A session is used; a verdict is derived when it is looked at, on a page that refuses as well.
WRITTEN_BY_ANY_REQUEST = {"django_session", "grading_storedverdict"}


def send_entry(client: Client, lesson: Lesson, field: str, value: str, **more: Any) -> dict[str, Any]:
    """Send one entry of its instructor's tablet, as sender.js does from the open page, and return the answer."""
    event = {"id": str(uuid.uuid4()), "kind": "entry", "seq": 1, "field": field, "value": value}
    body = {"person": lesson.instructor_id, "device": str(uuid.uuid4()), "show": "changed", "events": [event]} | more
    reply = client.post(f"/lessons/{lesson.uid}/entries/batch/", body, content_type="application/json")
    assert reply.status_code == 200
    answer: dict[str, Any] = reply.json()
    return answer


class PageRequests:
    """Asks for a page as one of the people. What an answer writes is undone, so that each call finds the same."""

    def __init__(self, cast: Cast, asked: PageTargets) -> None:
        self.asked, self.clients, self.calls, self.tables = asked, {}, 0, table_names()
        self.forged: set[tuple[str, str]] = set()  # once for a page and a method: what headers do hangs on its code
        people = {name: getattr(cast, name) for name in PEOPLE if hasattr(cast, name)} | {"hugo": asked.hugo}
        for name in PEOPLE:
            client = Client(raise_request_exception=False)
            if name in people:
                client.force_login(people[name])
            self.clients[name] = client, {key: morsel.value for key, morsel in client.cookies.items()}
        self.written = rows_written(list(self.tables))

    def wrote(self) -> set[str]:
        """The tables written in since this was asked last."""
        before, self.written = self.written, rows_written(list(self.tables))
        changed = {table for table, count in self.written.items() if count != before.get(table, 0)}
        return {self.tables[table] for table in changed} - COUNTER_TABLES

    def args(self, name: str, target: str) -> tuple[object, ...]:
        return self.asked.args[ACCESS_MATRIX[name].kind][target]

    def __call__(
        self, who: str, name: str, method: str, target: str, form: dict[str, str] | None = None, **headers: str
    ) -> HttpResponse:
        client, cookies = self.clients[who]
        client.cookies = SimpleCookie(cookies)
        address = reverse(name, args=self.args(name, target))
        self.calls += 1
        with transaction.atomic():
            if method == "POST":
                reply = client.post(address, form or {}, headers=headers)
            else:
                reply = client.generic(method, address, headers=headers)
            if reply.streaming:
                b"".join(reply.streaming_content)
            reply.wrote = self.wrote()
            kept = CACHEABLE_PAGES.get(name, "no-store") if reply.status_code == 200 else "no-store"
            assert_security_headers(dict(reply.items()), f"{method} {name} {target} by {who}", kept)
            transaction.set_rollback(True)
        return reply


def table_names() -> dict[int, str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relid, relname FROM pg_stat_user_tables WHERE relname <> ALL(%s)", [list(WRITTEN_BY_ANY_REQUEST)]
        )
        return dict(cursor.fetchall())


def rows_written(of: list[int]) -> dict[int, int]:
    """How many rows of each table were written in this transaction, those that were taken back as well.

    Tables without any are left out: a call writes in few of them, and there are thousands of calls.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT * FROM (SELECT oid, pg_stat_get_xact_tuples_inserted(oid) + pg_stat_get_xact_tuples_updated(oid)"
            " + pg_stat_get_xact_tuples_deleted(oid) AS rows FROM unnest(%s::oid[]) oid) counted WHERE rows > 0",
            [of],
        )
        return dict(cursor.fetchall())

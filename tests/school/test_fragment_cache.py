"""Parts of pages that are kept as drawn: drawn once for everything they rest on, and never anybody else's."""

import importlib
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from typing import Any

import pytest
from django.db import connection, transaction
from django.template import Context, Template
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.models import StoredVerdict
from grading.reading import verdict_cache
from grading.views import students
from lessons.models import Enrolment
from school.fragment_cache import CachedFragment, FragmentCache, digest, fragments
from school.templatetags.fragment_cache import CSRF_PLACEHOLDER
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson
from tests.journeys.devices import wait_until
from tests.ready_student import make_ready

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="(\w+)"')


def tables_queried(client: Client, page: str) -> set[str]:
    with CaptureQueriesContext(connection) as queries:
        assert client.get(page).status_code == 200
    return {table for query in queries.captured_queries for table in re.findall(r'FROM "(\w+)"', query["sql"])}


@pytest.mark.parametrize(("who", "page"), [("dora", "/me/"), ("amelia", "/students/{}/"), ("bert", "/students/{}/")])
def test_what_is_known_is_not_read_again(cast: Cast, who: str, page: str) -> None:
    make_ready(cast)
    client, page = Client(), page.format(cast.enrolment.uid)
    client.force_login(getattr(cast, who))
    assert {"grading_attempt", "lessons_circuit"} <= tables_queried(client, page)
    again = tables_queried(client, page)
    assert "grading_storedverdict" in again
    assert not again & {"grading_attempt", "grading_measure", "lessons_circuit", "grading_grade"}
    fly_lesson(cast)
    assert {"grading_attempt", "lessons_circuit"} <= tables_queried(client, page)


def test_each_reader_has_a_secret_of_their_own(cast: Cast) -> None:
    """The forms of a part that was drawn for somebody else carry this reader's token, and work with it."""
    make_ready(cast)
    page, tokens = f"/students/{cast.enrolment.uid}/", []
    for _ in range(2):
        client = Client(enforce_csrf_checks=True)
        client.force_login(cast.amelia)
        text = client.get(page).text
        assert CSRF_PLACEHOLDER not in text
        found = set(TOKEN.findall(text))
        assert len(found) == 1  # in what is kept and beside it alike
        tokens += found
        reply = client.post(f"{page}release/", {"csrfmiddlewaretoken": tokens[-1]})
        assert reply.status_code == 422, "refused for its content, not for its token"
    client.force_login(cast.dora)
    text = client.get("/me/").text
    assert CSRF_PLACEHOLDER not in text
    assert TOKEN.search(text)


def test_whoever_may_do_more_sees_more_and_nobody_else(cast: Cast) -> None:
    make_ready(cast)
    page, seen = f"/students/{cast.enrolment.uid}/", {}
    for who in ("amelia", "bert", "frida", "amelia", "bert", "frida"):
        client = Client()
        client.force_login(getattr(cast, who))
        text = client.get(page).text
        seen.setdefault(who, set()).add(("End of training" in text, "Record a written test" in text))
    assert seen == {"amelia": {(True, True)}, "bert": {(False, True)}, "frida": {(False, False)}}


def test_what_is_written_while_a_part_is_drawn_shows_at_the_next_look(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worst moment: after the verdict was read and before what is drawn from it is kept."""
    make_ready(cast)
    client, real, late = Client(), students.own_progress_context, []
    client.force_login(cast.dora)

    def slow(*given: Any) -> dict[str, Any]:
        drawn = real(*given)
        late.append(fly_lesson(cast))
        return drawn

    monkeypatch.setattr(students, "own_progress_context", slow)
    before = client.get("/me/").text
    monkeypatch.setattr(students, "own_progress_context", real)
    assert f"/lessons/{late[0].uid}/" not in before
    assert f"/lessons/{late[0].uid}/" in client.get("/me/").text


def test_a_part_without_a_stamp_is_drawn_each_time() -> None:
    drawn = []

    def fill() -> dict[str, Any]:
        drawn.append(1)
        return {"many": len(drawn)}

    template = Template("{% load fragment_cache %}{% fragment part %}{{ many }}<{{ typed }}>{% endfragment %}")
    texts = [template.render(Context({"part": CachedFragment("", fill), "typed": "a<b"})) for _ in range(2)]
    assert texts == ["1<a&lt;b>", "2<a&lt;b>"]
    kept = [template.render(Context({"part": CachedFragment("test-of-kept", fill), "typed": "a<b"})) for _ in range(2)]
    assert kept == ["3<a&lt;b>"] * 2
    fragments.clear()


def test_a_board_longer_than_the_cache_still_finds_rows_in_it() -> None:
    rows, rendered = [("row", place) for place in range(1000)], []
    cache = FragmentCache(800 * 10)
    looks = []
    for _ in range(4):
        rendered.clear()
        for row in rows:
            assert cache.get_or_render(row, lambda row=row: rendered.append(row) or f"{row[1]:010}") == f"{row[1]:010}"
        looks.append(len(rendered))
    assert looks[0] == 1000
    assert all(look < 700 for look in looks[1:]), looks


def test_the_cache_is_bounded_by_its_characters() -> None:
    cache = FragmentCache(100)
    for place in range(50):
        cache.get_or_render(place, lambda: "x" * 30)
    assert cache._texts.currsize <= 100
    assert cache.get_or_render("long", lambda: "y" * 101) == "y" * 101  # rendered, and pushes nothing out
    assert cache._texts.currsize == 90


def test_a_value_is_known_by_everything_in_it() -> None:
    """In whatever order a database gives the keys; a change anywhere is another value."""
    value = {"b": [1, {"x": None, "y": date(2026, 1, 2)}], "a": "text"}
    assert digest(value) == digest(dict(reversed(value.items())))
    others = [value | {"a": "Text"}, value | {"b": [1, {"x": 0, "y": date(2026, 1, 2)}]}, ("board row", value)]
    assert len({digest(each) for each in [value, *others]}) == 4


def test_many_threads_read_and_write_it_at_once() -> None:
    cache = FragmentCache(500)

    def read(start: int) -> bool:
        return all(
            cache.get_or_render(place % 97, lambda place=place: f"{place % 97:010}") == f"{place % 97:010}"
            for place in range(start, start + 3000)
        )

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(read, range(8)))
    assert cache._texts.currsize == sum(map(len, cache._texts.values())) <= 500


def test_no_two_students_share_a_stamp(cast: Cast) -> None:
    """Nor after the upgrade: a new column gets its default once for all rows."""
    enrolments = [cast.enrolment, cast.other_enrolment]
    verdict_cache.derive_and_store(enrolments, cast.today)
    StoredVerdict.objects.update(stamp="00000000-0000-4000-8000-000000000000")
    upgrade = importlib.import_module("grading.migrations.0015_verdicts_have_stamps").Migration
    with connection.cursor() as cursor:
        cursor.execute(upgrade.operations[-1].sql)
    assert len(set(StoredVerdict.objects.values_list("stamp", flat=True))) == 2
    assert len({row.name for row in StoredVerdict.objects.all()}) == 2
    before = set(StoredVerdict.objects.values_list("stamp", flat=True))
    verdict_cache.derive_and_store(enrolments, cast.today)
    assert not before & set(StoredVerdict.objects.values_list("stamp", flat=True))


WAITS = "SELECT count(*) FROM pg_locks WHERE NOT granted AND pg_backend_pid() = ANY(pg_blocking_pids(pid))"


def test_a_page_that_waits_for_a_student_keeps_nobody_else_waiting(transactional_cast: Cast) -> None:
    """One reader waits for the lock of a student, and whoever holds that lock opens the same page meanwhile."""
    cast, lesson = transactional_cast, begin_lesson(transactional_cast)
    one, other = Client(), Client()
    for client in (one, other):
        client.force_login(cast.bert)

    def look() -> int:
        with connection.cursor() as cursor:
            cursor.execute("SET lock_timeout = '5s'")  # so that the worst is a failure and not a stop
        try:
            return other.get(f"/lessons/{lesson.uid}/").status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic(), connection.cursor() as cursor:
            list(Enrolment.objects.select_for_update().filter(pk=cast.enrolment.pk))
            waiting = pool.submit(look)
            wait_until(lambda: (cursor.execute(WAITS), cursor.fetchone())[1][0] == 1)
            assert one.get(f"/lessons/{lesson.uid}/").status_code == 200
        assert waiting.result() == 200

"""The school's week: every lesson by day, what is unsigned, unanswered or late, and the student's own lessons."""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.pages.week import monday_of
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson


def day_of_this_week(cast: Cast, back: int) -> str:
    return (cast.today - timedelta(days=back)).isoformat()


def test_a_week_begins_on_monday(cast: Cast) -> None:
    """ISO 8601 counts the days of a week from Monday (from memory)."""
    assert {monday_of(cast.today - timedelta(days=back)).isoweekday() for back in range(7)} == {1}


def test_the_week_marks_what_is_to_be_done_and_links_the_neighbours(cast: Cast, client: Client) -> None:
    first, last = fly_lesson(cast, days_ago=4), fly_lesson(cast, days_ago=3)
    open_one = begin_lesson(cast, days_ago=3)
    client.force_login(cast.amelia)
    page = BeautifulSoup(client.get(f"/lessons/week/?on={day_of_this_week(cast, 3)}").content, "html.parser")
    line = next(row for row in page.select(".lines li") if row.select(f'a[href="/lessons/{last.uid}/"] b'))
    targets = {link["href"] for link in line.select("a")}
    assert targets == {
        f"/lessons/{last.uid}/", f"/lessons/{last.uid}/debrief/", f"/students/{cast.enrolment.uid}/",
        f"/lessons/{first.uid}/", f"/lessons/{open_one.uid}/", f"/instructors/{cast.bert.pk}/",
    }  # fmt: skip
    assert "not acknowledged by the student" in line.get_text()
    unsigned = next(row for row in page.select(".lines li") if row.select(f'a[href="/lessons/{open_one.uid}/"] b'))
    assert "not signed, late" in unsigned.get_text()
    assert not unsigned.select('a[href$="/debrief/"]')


def test_the_week_narrows_and_leads_to_the_weeks_beside_it(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast, days_ago=7)
    client.force_login(cast.amelia)
    this = client.get("/lessons/week/")
    assert str(lesson.uid) not in this.text
    before = BeautifulSoup(this.content, "html.parser").select_one('a[rel="prev"]')
    assert before is not None
    page = client.get(f"/lessons/week/{before['href']}").text
    assert str(lesson.uid) in page
    on = day_of_this_week(cast, 7)
    assert str(lesson.uid) not in client.get(f"/lessons/week/?on={on}&instructor={cast.cleo.pk}").text
    assert str(lesson.uid) in client.get(f"/lessons/week/?on={on}&instructor={cast.bert.pk}&q=dora").text
    assert "No lesson matches in this week" in " ".join(client.get(f"/lessons/week/?on={on}&q=nobody").text.split())
    assert client.get("/lessons/week/?on=9999-99-99&aircraft=x").status_code == 200


def test_the_counts_of_the_week_narrow_it(cast: Cast, client: Client) -> None:
    waiting, open_one = fly_lesson(cast, days_ago=4), begin_lesson(cast, days_ago=4)
    client.force_login(cast.amelia)
    on = day_of_this_week(cast, 4)
    page = BeautifulSoup(client.get(f"/lessons/week/?on={on}&instructor={cast.bert.pk}").content, "html.parser")
    links = {link.get_text(): str(link["href"]) for link in page.select(".meta a")}
    assert set(links) == {"1 not signed", "1 not acknowledged by the student", "1 late"}
    for words, lesson, other in (
        ("1 not signed", open_one, waiting), ("1 late", open_one, waiting),
        ("1 not acknowledged by the student", waiting, open_one),
    ):  # fmt: skip
        narrowed = client.get(f"/lessons/week/{links[words]}")
        rows = BeautifulSoup(narrowed.content, "html.parser").select(".lines li b")
        assert len(rows) == 1
        assert f'href="/lessons/{lesson.uid}/"><b>' in "".join(narrowed.text.split("\n"))
        assert f'href="/lessons/{other.uid}/"><b>' not in narrowed.text
        assert "2 lessons from" in " ".join(narrowed.text.split())  # the counts stay those of the week


@pytest.mark.parametrize("lessons", [1, 4])
def test_the_queries_do_not_grow_with_the_lessons(cast: Cast, client: Client, lessons: int) -> None:
    for _ in range(lessons):
        fly_lesson(cast)
    for who, page, queries in ((cast.amelia, "/lessons/week/", 7), (cast.dora, "/me/lessons/", 6)):
        client.force_login(who)
        client.get(page)
        with CaptureQueriesContext(connection) as asked:
            reply = client.get(page)
        assert reply.text.count("<b>") >= lessons
        assert len(asked) == queries, "\n".join(query["sql"][:150] for query in asked.captured_queries)


def test_students_reach_all_their_signed_lessons_and_no_others(cast: Cast, client: Client) -> None:
    signed, other = fly_lesson(cast, days_ago=2), fly_lesson(cast, enrolment=cast.other_enrolment)
    writing = begin_lesson(cast)
    client.force_login(cast.dora)
    page = client.get("/me/lessons/").text
    assert f"/lessons/{signed.uid}/debrief/" in page
    assert str(other.uid) not in page
    assert str(writing.uid) not in page
    assert 'href="/me/lessons/" aria-current="page"' in page

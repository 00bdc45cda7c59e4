"""An instructor's page: who reaches it, what was given in 24 hours, what waits, what is compared."""

from datetime import datetime, timedelta

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from grading.pages import instructor as page_of_instructor
from grading.pages.instructor import instructor_context
from lessons.models import Lesson
from lessons.queries import training_given
from school import actions as school_actions
from school.current import school_day
from school.models import Paper, School
from tests.cast import Cast
from tests.factories import add_students, begin_lesson, fly_lesson


def give_training(cast: Cast, hours: int, ends: datetime) -> Lesson:
    """A flight of so many hours of training that ends at this moment."""
    lesson = begin_lesson(cast)
    lesson.off_blocks, lesson.on_blocks, lesson.dual_minutes = ends - timedelta(hours=hours), ends, hours * 60
    lesson.on = school_day(ends)
    lesson.save()
    return lesson


def read(client: Client, cast: Cast) -> str:
    page = BeautifulSoup(client.get(f"/instructors/{cast.bert.pk}/").content, "html.parser")
    return " ".join(page.get_text(" ").split())


def test_the_24_hours_roll_and_the_seven_days_are_the_schools(cast: Cast) -> None:
    """14 CFR 61.195(a): “In any 24-consecutive-hour period” (eCFR text, read in a copy); so not by the calendar."""
    now = cast.at(12)
    give_training(cast, 2, now - timedelta(hours=1))
    give_training(cast, 4, now - timedelta(hours=22))  # half of it lies before the 24 hours
    give_training(cast, 3, now - timedelta(days=3))
    give_training(cast, 5, now - timedelta(days=7))
    untimed = begin_lesson(cast)
    Lesson.objects.filter(pk=untimed.pk).update(dual_minutes=60, ground_minutes=30)
    given = training_given(cast.bert, now)
    assert given.last_24_hours == 4 * 60
    assert (given.flight, given.ground, given.lessons, given.untimed) == ((2 + 4 + 3 + 1) * 60, 30, 4, 1)
    assert [day.on for day in given.days] == [school_day(now) - timedelta(days=back) for back in range(7)]


def test_more_than_eight_hours_are_named_under_the_rules_that_limit_them(cast: Cast, client: Client) -> None:
    now = timezone.now()
    give_training(cast, 5, now - timedelta(hours=2))
    give_training(cast, 4, now - timedelta(hours=8))
    client.force_login(cast.bert)
    text = read(client, cast)
    assert "More than 8 h in 24 consecutive hours: 9.0 h" in text
    assert "14 CFR 61.195(a)" in text
    School.objects.update(rule_set=School.RuleSet.EU)
    text = read(client, cast)
    assert "CFR" not in text
    assert "24 consecutive hours" not in text
    assert "Flight training, last 24 hours 9.0 h" in text


def test_the_page_says_where_the_students_are_and_what_waits(cast: Cast, client: Client) -> None:
    signed = fly_lesson(cast, days_ago=3)
    waiting = begin_lesson(cast, days_ago=4)
    theirs = begin_lesson(cast, instructor=cast.cleo, enrolment=cast.other_enrolment)
    client.force_login(cast.amelia)
    text = read(client, cast)
    assert "Bert Example: 2 students, 1 lesson not signed" in text
    page = BeautifulSoup(client.get(f"/instructors/{cast.bert.pk}/").content, "html.parser")
    assert page.select_one(f'#students a[href="/students/{cast.enrolment.uid}/"]')
    assert page.select_one(f'#unsigned a[href="/lessons/{waiting.uid}/"]')
    assert page.select_one(f'#lessons a[href="/lessons/{signed.uid}/"]')
    assert str(theirs.uid) not in str(page)
    assert "not signed, late" in text
    assert page.select_one(f'#findings a[href="/findings/?instructor={cast.bert.pk}&kind=unsigned"]')
    assert "recent experience until" in text
    assert "Too few levels to compare" in text


def test_a_certificate_that_is_missing_or_past_is_said(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    held, kind = Paper.objects.get(person=cast.bert), Paper.Kind.INSTRUCTOR_CERTIFICATE
    later = school_actions.record_paper(
        person=cast.bert, kind=kind, number="C-22", issued=cast.today - timedelta(days=9),
        expires=cast.today - timedelta(days=1), by=cast.frida, at=cast.at(),
    )  # fmt: skip
    assert "which is past: no signature can name it" in read(client, cast)
    for paper in (held, later):
        school_actions.void_paper(paper=paper, reason="Typed wrongly.", by=cast.frida, at=cast.at())
    assert "No certificate is on record" in read(client, cast)


def test_habits_of_grading_are_compared_where_there_are_enough(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page_of_instructor, "FEWEST_LEVELS", 4)
    fly_lesson(cast)
    fly_lesson(cast, enrolment=cast.other_enrolment, instructor=cast.cleo)
    habits = instructor_context(cast.bert, cast.bert, cast.at())["habits"]
    assert (habits.own, habits.others) == (4, 4)
    assert [(share.own, share.others) for share in habits.shares] == [(0, 0), (0, 0)]


def test_the_page_is_linked_where_an_instructor_is_named(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    link = f'href="/instructors/{cast.bert.pk}/"'
    pages = ("/lessons/week/", f"/students/{cast.enrolment.uid}/", "/settings/", "/search/?q=bert")
    for who in (cast.amelia, cast.frida):
        client.force_login(who)
        assert [page for page in pages if link not in client.get(page).text] == []
    assert link in client.get("/people/").text
    client.force_login(cast.cleo)  # who may not open it is not led there
    for page in pages[:2]:
        assert str(lesson.enrolment.student) in (text := client.get(page).text)
        assert link not in text
    client.force_login(cast.bert)
    assert link in client.get("/lessons/").text


@pytest.mark.parametrize("students", [0, 5])
def test_the_queries_do_not_grow(cast: Cast, client: Client, students: int) -> None:
    add_students(cast, students)
    for _ in range(1 + students):
        fly_lesson(cast)
    client.force_login(cast.amelia)
    page = f"/instructors/{cast.bert.pk}/"
    client.get(page)
    with CaptureQueriesContext(connection) as asked:
        reply = client.get(page)
    assert reply.text.count("/students/") > students
    assert len(asked) == 26, "\n".join(query["sql"][:150] for query in asked.captured_queries)

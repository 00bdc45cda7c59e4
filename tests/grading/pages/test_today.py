"""An instructor's first page: own students first by the name shown first, what is open, everybody else by search."""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.actions import signing
from grading.models import StoredVerdict
from grading.reading import verdict_cache
from lessons import actions as lesson_actions
from lessons.models import Enrolment
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import add_students, begin_lesson, fly_lesson
from tests.shared_state import shared_state

# Session, person, school, both lists of lessons and the students, with what is stored of them.
QUERIES, QUERIES_OF_A_SEARCH = 8, 9


def page_of(client: Client, query: str = "") -> BeautifulSoup:
    return BeautifulSoup(client.get("/lessons/", {"q": query} if query else {}).content, "html.parser")


def names(page: BeautifulSoup, place: str) -> list[str]:
    return [row.text for row in page.select(f"{place} a.over-line")]


def assign(cast: Cast, enrolment: Enrolment, instructor: Person) -> None:
    lesson_actions.change_instructor(enrolment=enrolment, instructor=instructor, by=cast.frida, at=cast.at(8))


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


def test_own_students_come_first_by_the_name_that_is_shown_first(cast: Cast, bert: Client) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(given_name="Zora", family_name="Abel")
    Person.objects.filter(pk=cast.emil.pk).update(given_name="Emil", family_name="Zuber")
    assert names(page_of(bert), "section") == ["Emil Zuber", "Zora Abel"]
    assign(cast, cast.other_enrolment, cast.cleo)
    assert names(page_of(bert), "section") == ["Zora Abel"]
    fly_lesson(cast, enrolment=cast.other_enrolment, days_ago=29)
    page = page_of(bert)
    # Flown with lately, and still after the own ones, with the instructor they are assigned to.
    assert names(page, "section") == ["Zora Abel", "Emil Zuber"]
    assert "assigned to Cleo Example" in " ".join(page.text.split())


def test_a_student_of_another_who_flew_long_ago_is_behind_the_search(cast: Cast, bert: Client) -> None:
    assign(cast, cast.other_enrolment, cast.cleo)
    fly_lesson(cast, enrolment=cast.other_enrolment, days_ago=31)
    assert names(page_of(bert), "section") == ["Dora Example"]
    assert names(page_of(bert), "#found") == []
    assert names(page_of(bert, "emil"), "#found") == ["Emil Example"]
    assert names(page_of(bert, "t-5"), "#found") == ["Emil Example"]
    assert "No student in training matches “nobody”" in page_of(bert, "nobody").find(id="found").text


def test_lessons_being_written_and_waiting_for_the_student(cast: Cast, bert: Client) -> None:
    assert page_of(bert).h1.text == "Every lesson is signed."
    signed = fly_lesson(cast, days_ago=1)
    begin_lesson(cast)
    page = page_of(bert)
    assert page.h1.text == "1 lesson is being written; 1 awaits the student’s signature."
    assert [row.text for row in page.select("#writing b")] == ["Dora Example, lesson 2"]
    assert [row.text for row in page.select("#waiting a")] == ["Dora Example, lesson 1"]
    signing.acknowledge_lesson(lesson=signed, secret=SECRET, by=cast.dora, at=cast.at(12), remark="No.", refuse=True)
    assert page_of(bert).h1.text == "1 lesson is being written."
    assert page_of(bert).find(id="waiting") is None


def test_staff_who_do_not_teach_see_every_lesson_and_begin_none(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=1)
    begin_lesson(cast, instructor=cast.cleo)
    client.force_login(cast.frida)
    page = page_of(client)
    assert page.h1.text == "1 lesson is being written; 1 awaits the student’s signature."
    assert page.find(id="q") is None
    assert "Begin" not in page.main.text


def school_of(cast: Cast, students: int) -> None:
    """As many students, each with a lesson that waits and one that is being written, half of them of another."""
    add_students(cast, students - 2)
    for place, enrolment in enumerate(Enrolment.objects.for_pages()):
        if place % 2:
            assign(cast, enrolment, cast.cleo)
        if place < students // 4:
            fly_lesson(cast, days_ago=2, enrolment=enrolment)
            begin_lesson(cast, enrolment=enrolment)
    verdict_cache.get_or_derive(list(Enrolment.objects.for_pages()), cast.today - timedelta(days=1))


@shared_state
def twelve(cast: Cast) -> Cast:
    school_of(cast, 12)
    return cast


@shared_state
def eighty(cast: Cast) -> Cast:
    school_of(cast, 80)
    return cast


def count_queries(client: Client, cast: Cast, query: str) -> int:
    client.force_login(cast.bert)
    page_of(client, query)
    with CaptureQueriesContext(connection) as asked:
        page_of(client, query)
    return len(asked)


def test_queries_with_twelve_students(twelve: Cast, client: Client) -> None:
    assert Enrolment.objects.count() == StoredVerdict.objects.count() == 12
    assert count_queries(client, twelve, "") == QUERIES
    assert count_queries(client, twelve, "example") == QUERIES_OF_A_SEARCH


def test_queries_with_eighty_students(eighty: Cast, client: Client) -> None:
    assert Enrolment.objects.count() == StoredVerdict.objects.count() == 80
    assert count_queries(client, eighty, "") == QUERIES
    assert count_queries(client, eighty, "example") == QUERIES_OF_A_SEARCH
    found = page_of(client, "example").find(id="found")
    assert len(found.select("a.over-line")) == 20
    assert "More than 20 match" in found.text

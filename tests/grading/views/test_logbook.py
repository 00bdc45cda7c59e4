"""The page where logbook lines are chosen and printed."""

from typing import Any

import pytest
from django.test import Client

from grading.models import Sheet
from lessons.models import Enrolment
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson


def address(enrolment: Enrolment) -> str:
    return f"/records/{enrolment.uid}/logbook/"


@pytest.mark.parametrize("who", ["dora", "bert", "amelia", "frida"])
def test_student_instructor_and_office_print(cast: Cast, client: Client, who: str) -> None:
    for days_ago in (3, 2, 1):
        fly_lesson(cast, days_ago=days_ago)
    client.force_login(getattr(cast, who))
    wanted = {"first": "2", "last": "3", "form": "strips", "paper": "Letter"}
    answer = client.post(address(cast.enrolment), wanted)
    made = Sheet.objects.get(kind=Sheet.Kind.LOGBOOK)
    assert answer["Location"] == f"/sheets/{made.uid}.pdf"
    assert [row["number"] for row in made.content["lessons"]] == [2, 3]
    assert (made.content["form"], made.paper, made.printed_by.pk) == ("strips", "Letter", getattr(cast, who).pk)
    assert client.get(answer["Location"]).status_code == 200


def test_a_range_from_back_to_front_is_named_at_its_field(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=2)
    fly_lesson(cast, days_ago=1)
    client.force_login(cast.dora)
    answer = client.post(address(cast.enrolment), {"first": "2", "last": "1", "form": "page", "paper": "A4"})
    assert answer.status_code == 422
    assert "The last lesson is before the first" in answer.text
    assert not Sheet.objects.exists()


def test_an_unsigned_lesson_cannot_be_chosen(cast: Cast, client: Client) -> None:
    begin_lesson(cast)
    client.force_login(cast.bert)
    assert "No lesson is signed yet" in client.get(address(cast.enrolment)).text
    answer = client.post(address(cast.enrolment), {"first": "1", "last": "1", "form": "page", "paper": "A4"})
    assert answer.status_code == 422
    assert not Sheet.objects.exists()


def test_another_student_reads_and_prints_nothing(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    client.force_login(cast.emil)
    assert client.get(address(cast.enrolment)).status_code == 404
    answer = client.post(address(cast.enrolment), {"first": "1", "last": "1", "form": "page", "paper": "A4"})
    assert answer.status_code == 404
    assert not Sheet.objects.exists()


@pytest.mark.parametrize("lessons", [1, 6])
def test_the_queries_of_the_page_do_not_grow(
    cast: Cast, client: Client, django_assert_num_queries: Any, lessons: int
) -> None:
    for number in range(lessons):
        fly_lesson(cast, days_ago=number)
    client.force_login(cast.frida)
    client.get(address(cast.enrolment))
    with django_assert_num_queries(QUERIES):
        client.get(address(cast.enrolment))


QUERIES = 6

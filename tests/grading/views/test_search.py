"""Anything by its name, for the staff."""

from collections.abc import Callable

import pytest
from django.test import Client

from lessons import actions as lesson_actions
from lessons.models import Enrolment
from school.models import Role
from tests.cast import Cast
from tests.factories import add_person, fly_lesson


@pytest.mark.parametrize(
    ("asked", "found", "not_found"),
    [
        ("dora", ["<b>Dora Example</b>", "Documents and sheets"], ["Emil"]),
        ("exam dor", ["<b>Dora Example</b>"], ["Emil"]),
        ("t-2", ["<b>Bert Example</b>"], ["Dora"]),
        ("qq-xx", ["<b>QQ-XXA</b>", "gates of the"], ["Dora"]),
        ("dora 1", ["Dora Example, lesson 1"], ["Emil"]),
        ("first solo", ["To first solo"], ["Dora Example"]),
        ("zeppelin", ["Nothing matches “zeppelin”"], ["Dora"]),
        ("<b>", ["Nothing matches “&lt;b&gt;”"], []),
    ],
)
def test_what_is_found(cast: Cast, client: Client, asked: str, found: list[str], not_found: list[str]) -> None:
    fly_lesson(cast)
    client.force_login(cast.frida)
    main = client.get("/search/", {"q": asked}).text.split("<main", 1)[1]
    assert [words for words in found if words not in main] == []
    assert [words for words in not_found if words in main.replace(asked, "")] == []


def test_whoever_is_in_training_comes_before_whose_training_ended(cast: Cast, client: Client) -> None:
    """The latest to end first: a name that many had is of use only so."""
    for days_ago in (500, 20):
        person = add_person(f"Exa{days_ago}", f"E-{days_ago}", Role.STUDENT, at=cast.at(8, 600))
        enrolment = lesson_actions.enrol(
            student=person, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
            on=cast.at(8, 600).date(), by=cast.frida, at=cast.at(8, 600),
        )  # fmt: skip
        Enrolment.objects.filter(pk=enrolment.pk).update(ended_on=cast.at(8, days_ago).date(), end="terminated")
    client.force_login(cast.frida)
    rows = client.get("/search/", {"q": "example"}).context["results"]["students"]
    assert [row.student.given_name for row in rows] == ["Dora", "Emil", "Exa20", "Exa500"]


@pytest.mark.parametrize("lessons", [1, 3])
def test_its_queries_do_not_grow(cast: Cast, client: Client, django_assert_num_queries: Callable, lessons: int) -> None:
    for day in range(lessons):
        fly_lesson(cast, days_ago=day)
    client.force_login(cast.amelia)
    client.get("/search/")
    with django_assert_num_queries(8):
        client.get("/search/", {"q": "example 1"})

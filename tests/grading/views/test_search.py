"""Anything by its name, for the staff."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.cast import Cast
from tests.factories import fly_lesson


@pytest.mark.parametrize(
    ("asked", "found", "not_found"),
    [
        ("dora", ["<b>Dora Example</b>", "Papers and sheets"], ["Emil"]),
        ("exam dor", ["<b>Dora Example</b>"], ["Emil"]),
        ("t-2", ["<b>Bert Example</b>"], ["Dora"]),
        ("qq-xx", ["<b>QQ-XXA</b>", "gates of the"], ["Dora"]),
        ("dora 1", ["Dora Example, lesson 1"], ["Emil"]),
        ("first solo", ["To first solo"], ["Dora Example"]),
        ("zeppelin", ["Nothing is like “zeppelin”"], ["Dora"]),
        ("<b>", ["Nothing is like “&lt;b&gt;”"], []),
    ],
)
def test_what_is_found(cast: Cast, client: Client, asked: str, found: list[str], not_found: list[str]) -> None:
    fly_lesson(cast)
    client.force_login(cast.frida)
    main = client.get("/find/", {"q": asked}).text.split("<main", 1)[1]
    assert [words for words in found if words not in main] == []
    assert [words for words in not_found if words in main.replace(asked, "")] == []


@pytest.mark.parametrize("lessons", [1, 3])
def test_its_queries_do_not_grow(cast: Cast, client: Client, django_assert_num_queries: Callable, lessons: int) -> None:
    for day in range(lessons):
        fly_lesson(cast, days_ago=day)
    client.force_login(cast.amelia)
    client.get("/find/")
    with django_assert_num_queries(8):
        client.get("/find/", {"q": "example 1"})

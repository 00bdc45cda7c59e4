"""The demo, whose password is printed, comes into no database but an empty one of this machine."""

from typing import Any

import pytest
from django.core.management import CommandError, call_command

from grading.management.commands import load_demo
from grading.simulation.demo.demo_people import STAFF
from school.models import Person
from tests.cast import Cast


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch, settings: Any) -> list[object]:
    made: list[object] = []

    class Demo:
        def __init__(self, *given: object) -> None:
            self.given = given

        def build(self) -> None:
            made.append(self.given[0])

    monkeypatch.setattr(load_demo, "DemoSchool", Demo)
    settings.ON_THIS_MACHINE = True
    return made


def test_another_school_is_refused(cast: Cast, built: list[object]) -> None:
    people = Person.objects.count()
    with pytest.raises(CommandError, match="another school"):
        call_command("load_demo")
    assert (Person.objects.count(), built) == (people, [])


def test_people_without_a_school_are_refused(db: None, built: list[object]) -> None:
    Person.objects.create(username="somebody", given_name="Some", family_name="Body", reference="X-1")
    with pytest.raises(CommandError, match="another school"):
        call_command("load_demo")
    assert built == []


def test_a_server_is_refused_even_if_empty(db: None, built: list[object], settings: Any) -> None:
    settings.ON_THIS_MACHINE = False
    with pytest.raises(CommandError, match="DATABASE_URL"):
        call_command("load_demo")
    assert built == []


def test_an_empty_database_is_filled_and_the_demos_left(db: None, built: list[object]) -> None:
    call_command("load_demo")
    assert len(built) == 1
    for place, row in enumerate(STAFF):
        Person.objects.create(username=row.username, given_name="A", family_name="B", reference=f"Y-{place}")
    call_command("load_demo")
    assert len(built) == 1

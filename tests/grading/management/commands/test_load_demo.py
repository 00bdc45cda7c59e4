"""The demo, whose password is printed, comes into no database but an empty one of this machine."""

import json
import lzma
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from grading.management.commands import load_demo
from grading.simulation.demo.demo_people import STAFF
from grading.simulation.demo.stored_school import StoredSchoolUnfit
from school.models import Person
from tests.cast import Cast


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch, settings: Any) -> list[object]:
    made: list[object] = []

    monkeypatch.setattr(load_demo, "load_school", lambda path, today: made.append(today))
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


def test_a_rebuilt_demo_is_written_to_the_file(
    db: None, built: list[object], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Demo:
        def __init__(self, today: date, report: object) -> None:
            self.today = today

        def build(self) -> None:
            Person.objects.create(username="ruth", given_name="Ruth", family_name="R", reference="Z-1")

    monkeypatch.setattr(load_demo, "DemoSchool", Demo)
    monkeypatch.setattr(load_demo, "STORED_SCHOOL", tmp_path / "demo" / "school.json.xz")
    monkeypatch.setattr(load_demo, "STORED_TABLES", tmp_path / "demo" / "tables.json.xz")
    call_command("load_demo", "--rebuild")
    stored = json.loads(lzma.decompress((tmp_path / "demo" / "school.json.xz").read_bytes()))
    assert stored["built_on"] == timezone.localdate().isoformat()
    assert "\tRuth\tR\tZ-1\t" in stored["tables"]["school_person"]["rows"]
    assert b"CREATE TABLE public.school_person" in lzma.decompress((tmp_path / "demo" / "tables.json.xz").read_bytes())
    assert built == []


def test_a_file_of_other_tables_is_said_in_a_sentence(
    db: None, built: list[object], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, today: date) -> None:
        raise StoredSchoolUnfit("The stored demo school was written before the table x changed.")

    monkeypatch.setattr(load_demo, "load_school", refuse)
    with pytest.raises(CommandError, match="before the table x changed"):
        call_command("load_demo")

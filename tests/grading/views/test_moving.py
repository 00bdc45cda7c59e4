"""All students of an issue move to the next by one mapping: what each gains and loses is shown first, all or none."""

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from grading.reading.course_progress import courses_by_enrolment
from lessons import moving, publishing
from lessons.models import Enrolment, Syllabus, SyllabusMove, Unit
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import add_students, begin_lesson, fly_lesson


def next_issue(cast: Cast) -> Syllabus:
    """Unit 1 is split off, so that the numbers shift and the titles do not."""
    draft = publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())
    content = draft.content
    for stage in content["stages"]:
        for unit in stage["units"]:
            unit["number"] += 1
    first = content["stages"][0]["units"]
    first.insert(0, first[0] | {"number": 1, "title": "Before the first flight"})
    publishing.save_draft(draft=draft, content=content, read=draft.edited_at.isoformat(), by=cast.amelia, at=cast.at())
    return publishing.publish_draft(draft=draft, reason="Unit 1 was two", by=cast.amelia, at=cast.at())


def words(page: str) -> str:
    return re.sub(r"\s+", " ", BeautifulSoup(page, "html.parser").get_text(" "))


def form_of(page: str) -> dict[str, Any]:
    form = BeautifulSoup(page, "html.parser").select_one("form.reassigning")
    assert form is not None
    ticked = [box["value"] for box in form.select("input[name=students][checked]")]
    chosen = {str(field["name"]): field.select("option[selected]") for field in form.select("select")}
    return {
        "students": ticked,
        "syllabus": form.select_one("input[name=syllabus]")["value"],  # type: ignore[index]
        "seen": form.select_one("input[name=seen]")["value"],  # type: ignore[index]
        **{name: row[0]["value"] if row else "none" for name, row in chosen.items()},
    }


def test_an_issue_moves_with_one_mapping_and_nothing_is_lost_in_silence(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=2)
    add_students(cast, 28)
    begin_lesson(cast, enrolment=cast.other_enrolment)
    second = next_issue(cast)
    client.force_login(cast.amelia)
    address = f"/syllabuses/{cast.enrolment.syllabus_id}/move-students/"
    assert address in client.get(f"/syllabuses/{cast.enrolment.syllabus_id}/").text
    with CaptureQueriesContext(connection) as asked:
        page = client.get(address).text
    assert len(asked) < 30
    assert "29 students to" in words(page)
    assert "Nobody loses a completed unit. 1 cannot move now." in words(page)
    assert "Does not move: a lesson is being written" in words(page)
    form = form_of(page)
    [unit] = [name for name in form if name.startswith("unit-")]
    assert Unit.objects.get(pk=form[unit]).title == "First circuits"

    # To nothing: the loss has a name before anybody confirms it, and what was not looked at is not done.
    lost = client.post(address, form | {unit: "none"}, headers={"HX-Request": "true"}).text
    assert "<html" not in lost
    assert "1 of them loses a completed unit." in words(lost)
    assert "Loses" in words(lost)
    assert client.post(address, form | {unit: "none", "act": "move", "reason": "So"}).status_code == 422
    assert client.post(address, form | {"act": "move", "reason": ""}).status_code == 422
    assert not SyllabusMove.objects.exists()

    done = client.post(address, form | {"act": "move", "reason": "Unit 1 was two"}, follow=True)
    assert "29 students are in" in words(done.text)
    assert Enrolment.objects.filter(syllabus=second).count() == 29
    entries = JournalEntry.objects.filter(what="moved to another syllabus")
    assert {row.after["reason"] for row in entries} == {"Unit 1 was two"}
    assert entries.count() == 29
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    course = courses_by_enrolment([enrolment], cast.today)[enrolment.pk]
    assert next(row for row in course.unit_progress if row.unit.number == 9).complete
    assert SyllabusMove.objects.get(enrolment=cast.enrolment).mappings.count() == 1
    assert SyllabusMove.objects.exclude(enrolment=cast.enrolment).filter(mappings__isnull=False).count() == 0


def test_one_who_cannot_move_holds_back_all(cast: Cast) -> None:
    begin_lesson(cast, enrolment=cast.other_enrolment)
    second = next_issue(cast)

    def refused(because: str, **other: Any) -> None:
        asked = {
            "students": [cast.enrolment.uid, cast.other_enrolment.uid], "before": cast.enrolment.syllabus,
            "after": second, "mapping": {}, "reason": "So", "by": cast.amelia, "at": cast.at(),
        }  # fmt: skip
        with pytest.raises(Refusal, match=because):
            moving.move_students(**asked | other)
        assert not SyllabusMove.objects.exists()

    refused("A lesson of Emil Example is being written")
    refused("Only the chief instructor", by=cast.frida)
    refused("Write why", reason=" ")
    refused("Choose at least one student", students=[])
    refused("Dora Example, Emil Example left this issue meanwhile", before=second)

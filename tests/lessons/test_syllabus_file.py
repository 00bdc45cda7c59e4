"""A syllabus as a file, as a draft, published, and a student moved to it. The project's own rules."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from grading.reading.course_progress import courses_by_enrolment
from lessons import moving, publishing
from lessons.loading import syllabus_form
from lessons.models import (
    Criterion,
    Enrolment,
    Fault,
    Lesson,
    Manoeuvre,
    Stage,
    Syllabus,
    SyllabusDraft,
    SyllabusMove,
    Unit,
    UnitManoeuvre,
    UnitMapping,
)
from lessons.syllabus_file import InvalidSyllabusFile, json_schema, parse_syllabus, to_content, to_json, to_yaml
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson

TEXT = (Path(__file__).resolve().parents[2] / "fixtures/syllabus/first-solo.json").read_text()
FORM = parse_syllabus(TEXT)
ISSUE = f'"issue": {FORM.issue}'


def line_number(text: str, words: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if words in line)


def test_yaml_and_json_say_the_same() -> None:
    assert parse_syllabus(to_yaml(FORM)) == parse_syllabus(to_json(FORM)) == FORM
    assert to_json(FORM).count("\n") > 1000  # readable, not one line


@pytest.mark.parametrize(
    ("right", "wrong", "field", "sentence"),
    [
        ("kind: dual", "kind: duel", "stages[0].units[1].kind", "Invalid enum value 'duel'"),
        ("critical: true", "critical: perhaps", "faults[0].critical", "Expected `bool`, got `str`"),
        ("expected: describe", "expected: excel", "stages[0].units[0].manoeuvres[0].expected", "excel"),
        ("number: 2\n  title: Circuits", "number: 1\n  title: Circuits", "stages[1]", "“1” is used 2 times"),
    ],
)
def test_a_broken_file_is_named_by_line_and_field(right: str, wrong: str, field: str, sentence: str) -> None:
    text = to_yaml(FORM)
    assert right in text
    broken = text.replace(right, wrong, 1)
    with pytest.raises(InvalidSyllabusFile) as caught:
        parse_syllabus(broken)
    problem = caught.value.problems[0]
    assert problem.field == field
    assert sentence in problem.sentence
    assert problem.line is not None
    around = "\n".join(broken.splitlines()[problem.line - 2 : problem.line + 3])
    assert wrong.split("\n")[-1].split(":")[0].strip() in around


def test_every_code_that_is_named_and_not_there_is_listed() -> None:
    content = to_content(FORM)
    content["faults"][0]["manoeuvres"] = ["takeof"]
    content["stages"][0]["units"][1]["manoeuvres"][0]["code"] = "flight_preparatio"
    content["manoeuvres"][0]["items"] = ["61.87(d)(99)"]
    with pytest.raises(InvalidSyllabusFile) as caught:
        parse_syllabus(json.dumps(content, indent=1))
    assert [problem.sentence for problem in caught.value.problems] == [
        "There is no item “61.87(d)(99)”.",
        "There is no manoeuvre “takeof”.",
        "There is no manoeuvre “flight_preparatio”.",
    ]
    lines = json.dumps(content, indent=1)
    assert [problem.line for problem in caught.value.problems] == [
        line_number(lines, word) for word in ('"61.87(d)(99)"', '"takeof"', '"flight_preparatio"')
    ]


def test_what_is_no_file_at_all_says_where_it_stops_making_sense() -> None:
    with pytest.raises(InvalidSyllabusFile) as caught:
        parse_syllabus('{"code": "x",\n "title": }')
    assert caught.value.problems[0].line == 2
    with pytest.raises(InvalidSyllabusFile, match="Expected `object`"):
        parse_syllabus("just words")


def test_the_schema_knows_every_field_of_the_file() -> None:
    """JSON Schema 2020-12, as msgspec writes it."""
    found = json_schema()["$defs"]
    assert set(found["SyllabusForm"]["properties"]) == set(json.loads(TEXT))
    assert set(found["UnitForm"]["required"]) == {"number", "title", "kind", "aim"}
    assert found["SyllabusForm"]["additionalProperties"] is False


# Published


def test_a_published_issue_is_given_out_as_it_was_taken_in(cast: Cast, client: Client) -> None:
    assert syllabus_form(cast.enrolment.syllabus) == FORM
    client.force_login(cast.bert)
    reply = client.get(f"/syllabuses/{cast.enrolment.syllabus_id}/file.yaml")
    assert parse_syllabus(reply.text) == FORM
    assert f"first-solo-{FORM.issue}.yaml" in reply["Content-Disposition"]


def test_a_published_issue_is_final_for_the_database_too(cast: Cast) -> None:
    syllabus = cast.enrolment.syllabus
    unit, landing = cast.units[8], Manoeuvre.objects.get(syllabus=syllabus, code="landing")
    attempts = [
        lambda: Syllabus.objects.filter(pk=syllabus.pk).update(title="Another"),
        lambda: Unit.objects.filter(pk=unit.pk).update(aim="Less."),
        lambda: UnitManoeuvre.objects.filter(unit=unit).update(expected="describe"),
        lambda: UnitManoeuvre.objects.filter(unit=unit).delete(),
        lambda: Criterion.objects.create(manoeuvre=landing, code="x", order=99, text="X", kind="observed"),
        lambda: Fault.objects.filter(syllabus=syllabus).update(critical=False),
        lambda: landing.faults.clear(),
        lambda: Stage.objects.create(syllabus=syllabus, number=9, title="Ninth"),
    ]
    for attempt in attempts:
        with pytest.raises(DatabaseError, match=r"final|published"), transaction.atomic():
            attempt()


# Drafts


@pytest.fixture
def draft(cast: Cast) -> SyllabusDraft:
    return publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())


def test_the_chief_drafts_and_publishes_the_next_issue(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    begun = client.post(f"/syllabuses/{cast.enrolment.syllabus_id}/draft/")
    draft = SyllabusDraft.objects.get()
    assert begun["Location"] == f"/drafts/{draft.pk}/"
    assert "there is nothing to publish" in client.get(f"/drafts/{draft.pk}/").text
    same = client.post(f"/drafts/{draft.pk}/publish/", {"reason": "So"})
    assert (same.status_code, f"Nothing differs from issue {FORM.issue}." in same.text) == (422, True)
    page = client.get(f"/drafts/{draft.pk}/units/7/")
    sent = form_inputs(page.context["form"]) | {"aim": "Fly the first circuits.", "expected-landing": "practice"}
    reply = client.post(f"/drafts/{draft.pk}/units/7/", sent | {"act": "keep"})
    assert reply.status_code == 302, reply.context["form"].errors
    fault = form_inputs(client.get(f"/drafts/{draft.pk}/faults/0/").context["form"]) | {"name": "Looked at nothing"}
    assert client.post(f"/drafts/{draft.pk}/faults/0/", fault | {"act": "keep"}).status_code == 302
    landing = next(at for at, row in enumerate(draft.content["manoeuvres"]) if row["code"] == "landing")
    values = form_inputs(client.get(f"/drafts/{draft.pk}/manoeuvres/{landing}/").context["form"])
    spare = len(draft.content["manoeuvres"][landing]["criteria"])
    values |= {f"criterion-{spare}-text": "Clears the runway", f"criterion-{spare}-code": "clear"}
    assert client.post(f"/drafts/{draft.pk}/manoeuvres/{landing}/", values | {"act": "keep"}).status_code == 302
    preview = client.get(f"/drafts/{draft.pk}/").text
    assert "Unit 8, First circuits: aim, manoeuvres changed." in preview
    assert "2 students in training follow this syllabus" in " ".join(preview.split())
    without = client.post(f"/drafts/{draft.pk}/publish/")
    assert (without.status_code, "Write why the syllabus changes" in without.text) == (422, True)
    assert client.post(f"/drafts/{draft.pk}/publish/", {"reason": "A clearer aim"}).status_code == 302
    assert (
        JournalEntry.objects.get(what="syllabus published", person_id=cast.amelia.pk).after["reason"] == "A clearer aim"
    )
    second = Syllabus.objects.get(issue=FORM.issue + 1)
    form = syllabus_form(second)
    unit = next(unit for stage in form.stages for unit in stage.units if unit.number == 8)
    assert unit.aim == "Fly the first circuits."
    assert {row.code: row.expected for row in unit.manoeuvres}["landing"] == "practice"
    assert form.faults[0].name == "Looked at nothing"
    assert form.manoeuvres[landing].criteria[-1].code == "clear"
    assert len(form.manoeuvres) == len(FORM.manoeuvres)
    assert syllabus_form(cast.enrolment.syllabus) == FORM


def form_inputs(form: Any) -> dict[str, Any]:
    """What a browser would send for a form as it is shown."""
    sent: dict[str, Any] = {}
    for bound in form:
        value = bound.value()
        if value not in (None, "", False):
            sent[bound.name] = "on" if value is True else value
    return sent


def test_a_part_taken_out_leaves_the_rest(cast: Cast, client: Client, draft: SyllabusDraft) -> None:
    client.force_login(cast.amelia)
    assert client.post(f"/drafts/{draft.pk}/units/17/", {"act": "remove"}).status_code == 302
    draft.refresh_from_db()
    assert [unit["number"] for stage in draft.content["stages"] for unit in stage["units"]] == list(range(1, 18))
    client.post(f"/drafts/{draft.pk}/manoeuvres/0/", {"act": "remove"})
    page = client.get(f"/drafts/{draft.pk}/").text
    assert "There is no manoeuvre “flight_preparation”." in page
    assert client.post(f"/drafts/{draft.pk}/publish/").status_code == 422
    assert not Syllabus.objects.filter(issue=FORM.issue + 1).exists()


def test_a_wrong_part_says_so_and_keeps_what_was_typed(cast: Cast, client: Client, draft: SyllabusDraft) -> None:
    client.force_login(cast.amelia)
    sent = form_inputs(client.get(f"/drafts/{draft.pk}/units/7/").context["form"]) | {"number": "0", "aim": "Kept."}
    reply = client.post(f"/drafts/{draft.pk}/units/7/", sent | {"act": "keep"})
    assert reply.status_code == 422
    assert "Kept." in reply.text


def test_what_another_changed_since_the_form_was_shown_is_not_lost(
    cast: Cast, client: Client, draft: SyllabusDraft
) -> None:
    client.force_login(cast.amelia)
    address = f"/drafts/{draft.pk}/units/7/"
    shown = client.get(address)
    assert f'name="edited_at" value="{draft.edited_at.isoformat()}"' in shown.text
    sent = form_inputs(shown.context["form"]) | {"edited_at": draft.edited_at.isoformat(), "act": "keep"}
    assert client.post(address, sent | {"aim": "Of the first."}).status_code == 302
    for _ in range(2):  # sending it once more changes nothing about it
        late = client.post(address, sent | {"aim": "Of the second."})
        assert late.status_code == 422
        assert "Somebody has since changed this draft." in late.text
        assert "Of the second." in late.text
        assert f'name="edited_at" value="{draft.edited_at.isoformat()}"' in late.text
    draft.refresh_from_db()
    units = [unit for stage in draft.content["stages"] for unit in stage["units"]]
    assert units[7]["aim"] == "Of the first."


def test_a_file_is_taken_in_as_a_draft_or_refused_whole(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    broken = client.post("/syllabuses/import/", {"text": TEXT.replace(ISSUE, '"issue": "two"')})
    assert broken.status_code == 422
    assert "line 4, issue: Expected `int`, got `str`." in broken.text
    assert "To first solo" in broken.text  # the text stays in its field
    assert not SyllabusDraft.objects.exists()
    again = client.post("/syllabuses/import/", {"text": TEXT})
    assert "is already published" in again.text
    taken = client.post("/syllabuses/import/", {"text": TEXT.replace(ISSUE, f'"issue": {FORM.issue + 1}', 1)})
    assert taken.status_code == 302
    assert SyllabusDraft.objects.get().issue == FORM.issue + 1


# Moving


def second_issue(cast: Cast, draft: SyllabusDraft) -> Syllabus:
    """Unit 1 split off, so that the numbers no longer agree: the titles do."""
    content = draft.content
    for stage in content["stages"]:
        for unit in stage["units"]:
            unit["number"] += 1
    first = content["stages"][0]["units"]
    first.insert(0, first[0] | {"number": 1, "title": "Before the first flight"})
    read = draft.edited_at.isoformat()
    publishing.save_draft(draft=draft, content=content, read=read, by=cast.amelia, at=cast.at())
    return publishing.publish_draft(draft=draft, reason="Unit 1 was two", by=cast.amelia, at=cast.at())


def test_a_student_is_moved_with_each_unit_and_nothing_is_lost(
    cast: Cast, client: Client, draft: SyllabusDraft
) -> None:
    lesson = fly_lesson(cast, days_ago=2)
    second = second_issue(cast, draft)
    client.force_login(cast.amelia)
    page = f"/records/{cast.enrolment.uid}/move/"
    shown = client.get(page, {"syllabus": second.pk})
    old, same = shown.context["rows"][0]
    assert (old.number, same.number, same.title) == (8, 9, "First circuits")
    refused = client.post(page, {"syllabus": second.pk})
    assert refused.status_code == 422
    assert "Choose what these count as" in refused.text
    done = client.post(page, {"syllabus": second.pk, f"unit-{old.pk}": same.pk})
    assert done.status_code == 302
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    course = courses_by_enrolment([enrolment], cast.today)[enrolment.pk]
    standing = next(row for row in course.unit_progress if row.unit.number == 9)
    assert standing.complete  # flown as unit 8 of the first issue, its levels reached there
    lesson.refresh_from_db()
    assert (lesson.unit.number, lesson.is_signed) == (8, True)
    for change in (SyllabusMove.objects.all(), UnitMapping.objects.all()):
        with pytest.raises(DatabaseError, match="final"), transaction.atomic():
            change.update(id=0)


def test_nobody_is_moved_in_the_middle_of_a_lesson(cast: Cast, draft: SyllabusDraft) -> None:
    begin_lesson(cast)
    second = second_issue(cast, draft)
    with pytest.raises(Refusal, match="sign or discard it first"):
        moving.move_enrolment(enrolment=cast.enrolment, syllabus=second, mapping={}, by=cast.amelia, at=cast.at())
    assert Lesson.objects.unsigned().count() == 1


def test_a_day_before_the_move_reads_the_same_lessons(cast: Cast, draft: SyllabusDraft) -> None:
    fly_lesson(cast, days_ago=2)
    second = second_issue(cast, draft)
    nothing = dict.fromkeys(moving.units_to_map(cast.enrolment))
    moving.move_enrolment(enrolment=cast.enrolment, syllabus=second, mapping=nothing, by=cast.amelia, at=cast.at())
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    course = courses_by_enrolment([enrolment], cast.today)[enrolment.pk]
    assert not any(row.flown for row in course.unit_progress)

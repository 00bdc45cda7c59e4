"""A role is taken from somebody whose training, lessons or students hang on it: ended or handed on first."""

import time
from functools import partial
from threading import Event
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from grading.actions import corrections, sheets, signing, training
from lessons import actions as lesson_actions
from lessons.models import Enrolment, Lesson
from school.accounts import actions
from school.actions import void_paper
from school.errors import Refusal
from school.formats import write_day
from school.models import JournalEntry, Paper, Person
from tests.cast import SECRET, Cast
from tests.concurrency import refusals, run_together
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries


def change_roles(cast: Cast, somebody: Person, *wanted: str) -> Person:
    return actions.change_roles(person=somebody, roles=wanted, by=cast.frida, at=cast.at())


def reassign(cast: Cast, enrolment: Enrolment, to: Person) -> Enrolment:
    return lesson_actions.change_instructor(enrolment=enrolment, instructor=to, by=cast.frida, at=cast.at())


# Student


def test_a_student_in_training_stays_a_student_until_it_has_ended(cast: Cast) -> None:
    with pytest.raises(Refusal, match=r"Dora Example is enrolled in .*: record the end of training first\."):
        change_roles(cast, cast.dora, "instructor")
    assert change_roles(cast, cast.dora, "student", "instructor").roles == ["student", "instructor"]
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    assert change_roles(cast, cast.dora, "instructor").roles == ["instructor"]
    with pytest.raises(Refusal, match="assign that role first"):
        lesson_actions.enrol(
            student=cast.dora, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
            on=cast.today, by=cast.frida, at=cast.at(),
        )  # fmt: skip


def test_the_record_of_who_was_a_student_stays_readable_for_the_same_people(cast: Cast) -> None:
    lesson = fly_lesson(cast, days_ago=3)
    sheet = sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at()
    )
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    uid = cast.enrolment.uid
    pages = (
        f"/lessons/{lesson.uid}/", f"/sheets/{sheet.uid}.pdf", f"/people/{cast.dora.pk}/earlier-training/",
        "/me/journal/", f"/students/{uid}/", f"/students/{uid}/end/", f"/records/{uid}/", "/me/",
    )  # fmt: skip
    people = (cast.dora, cast.emil, cast.bert, cast.amelia, cast.frida)

    def answers() -> list[list[int]]:
        clients = [Client() for _ in people]
        for client, person in zip(clients, people, strict=True):
            client.force_login(person)
        return [[client.get(page).status_code for client in clients] for page in pages]

    before = answers()
    # From now on she only teaches, which would show her all students; so her own pages are asked for as an outsider.
    Person.objects.filter(pk=cast.dora.pk).update(roles=[])
    assert answers() == before
    assert [200, 404, 200, 200, 200] in before


# Instructor


def test_an_instructor_signs_and_hands_over_before_the_role_is_taken(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.5"})
    record_circuit(cast, lesson, 1)
    with pytest.raises(Refusal) as refusal:
        change_roles(cast, cast.bert, "admin")
    said = str(refusal.value)
    assert f"Not signed yet: lessons of Dora Example on {write_day(cast.today)}. Only Bert Example can sign" in said
    assert "Bert Example is the assigned instructor of Dora Example, Emil Example: reassign them" in said
    assert said.endswith("Nothing was changed.")
    assert Person.objects.get(pk=cast.bert.pk).roles == ["instructor"]
    signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at())
    reassign(cast, cast.enrolment, cast.cleo)
    with pytest.raises(Refusal, match=r"instructor of Emil Example: reassign"):
        change_roles(cast, cast.bert, "admin")
    reassign(cast, cast.other_enrolment, cast.amelia)
    assert change_roles(cast, cast.bert, "admin").roles == ["admin"]
    for act in (
        lambda: begin_lesson(cast),
        lambda: reassign(cast, cast.enrolment, cast.bert),
        lambda: corrections.begin_correction(lesson=lesson, reason="Wind", by=cast.bert, at=cast.at()),
    ):
        with pytest.raises(Refusal, match="not on record as an instructor"):
            act()


def test_a_correction_that_was_begun_is_a_lesson_that_is_not_signed(cast: Cast) -> None:
    lesson = fly_lesson(cast, instructor=cast.cleo)
    corrections.begin_correction(lesson=lesson, reason="Wind", by=cast.cleo, at=cast.at())
    with pytest.raises(Refusal, match="Not signed yet: lessons of Dora Example"):
        change_roles(cast, cast.cleo, "student")


def test_of_many_the_number_is_told(cast: Cast) -> None:
    for day in (1, 2, 3, 4, 5):
        begin_lesson(cast, days_ago=day, instructor=cast.cleo)
    with pytest.raises(Refusal, match=r"and 2 more. Only Cleo Example"):
        change_roles(cast, cast.cleo, "student")


def test_access_is_taken_at_any_time_and_the_page_says_what_stays_open(cast: Cast, client: Client) -> None:
    begin_lesson(cast)
    client.force_login(cast.frida)
    page = f"/people/{cast.bert.pk}/"
    shown = client.get(page).text
    assert "Only Bert Example can sign or discard them" in shown
    assert "remains to be done" in shown
    assert "remains to be done" not in client.get(f"/people/{cast.cleo.pk}/").text
    refusal = client.post(page + "roles/", {"roles": ["admin"]})
    assert (refusal.status_code, "reassign them first" in refusal.text) == (422, True)
    assert client.post(page + "revoke-access/", {"reason": "left"}).status_code == 302


def test_a_student_is_handed_over_on_the_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = f"/records/{cast.enrolment.uid}/"
    form = client.get(page).context["instructor_form"]
    assert list(form.fields["instructor"].queryset) == [cast.amelia, cast.cleo]
    assert client.post(page + "instructor/", {"instructor": cast.bert.pk}).status_code == 422
    assert client.post(page + "instructor/", {"instructor": cast.dora.pk}).status_code == 422
    assert client.post(page + "instructor/", {"instructor": cast.cleo.pk}).status_code == 302
    told = JournalEntry.objects.get(what="instructor changed")
    assert told.before == {"instructor": "Bert Example", "number": cast.bert.reference}
    assert told.after == {"instructor": "Cleo Example", "number": cast.cleo.reference}
    assert "Cleo Example" in client.get(page).text
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    assert "Reassign student" not in client.get(page).text
    late = client.post(page + "instructor/", {"instructor": cast.bert.pk})
    assert (late.status_code, "cannot be reassigned any more" in late.text) == (422, True)
    with pytest.raises(Refusal, match="cannot be reassigned any more"):
        reassign(cast, cast.enrolment, cast.bert)


@pytest.mark.parametrize("act", ["begin", "hand over"])
def test_a_role_taken_while_somebody_is_given_work_in_it(transactional_cast: Cast, act: str) -> None:
    """Cleo is about to lose the role; whoever comes second is told."""
    cast = transactional_cast
    taken = Event()

    @transaction.atomic
    def take() -> None:
        change_roles(cast, cast.cleo, "student")
        taken.set()
        time.sleep(0.3)  # the other has come as far as it can

    def give() -> Any:
        taken.wait(10)
        if act == "begin":
            return begin_lesson(cast, instructor=Person.objects.get(pk=cast.cleo.pk))
        return reassign(cast, cast.enrolment, Person.objects.get(pk=cast.cleo.pk))

    assert refusals(run_together(take, give)) == ["Cleo Example is not on record as an instructor."]
    assert not Lesson.objects.filter(instructor=cast.cleo).exists()
    assert Enrolment.objects.get(pk=cast.enrolment.pk).instructor_id == cast.bert.pk


# Certificates


def test_a_certificate_entered_wrongly_is_voided_with_its_reason(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=1)
    client.force_login(cast.frida)
    paper = cast.bert.papers.get()
    page, void = f"/people/{cast.bert.pk}/", f"/people/certificates/{paper.pk}/void/"
    assert "Entered by mistake: void it" in client.get(page).text
    empty = client.post(void, {"reason": " "})
    assert (empty.status_code, "Write why this entry is wrong" in empty.text) == (422, True)
    assert client.post(void, {"reason": "Another number on the card."}).status_code == 302
    shown = client.get(page).text
    assert "Another number on the card." in shown
    assert "Entered wrongly" not in shown
    again = client.post(void, {"reason": "Once more."})
    assert (again.status_code, "already voided" in again.text) == (422, True)
    assert JournalEntry.objects.get(what="paper voided").after == {"reason": "Another number on the card."}
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.5"})
    record_circuit(cast, lesson, 1)
    with pytest.raises(Refusal, match="certificate in force on that day is not on record"):
        signing.sign_lesson(lesson=lesson, secret=SECRET, by=cast.bert, at=cast.at())


def test_a_paper_of_a_student_is_not_voided_as_a_certificate(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    paper = Paper.objects.create(
        person=cast.dora, kind="english", issued=cast.today, recorded_at=cast.at(), recorded_by=cast.frida
    )
    assert client.post(f"/people/certificates/{paper.pk}/void/", {"reason": "No."}).status_code == 404


def test_one_certificate_is_voided_once_by_two_at_once(transactional_cast: Cast) -> None:

    cast = transactional_cast
    paper = cast.bert.papers.get()
    act = partial(void_paper, paper=paper, reason="Wrong", by=cast.frida, at=cast.at())
    assert ["already voided" in one for one in refusals(run_together(act, act))] == [True]

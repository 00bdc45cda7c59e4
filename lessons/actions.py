"""Change enrolments and lessons. The grading app writes what is graded in a lesson."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Max, QuerySet

from lessons import participants
from lessons.models import DiscardedLesson, Endorsement, Enrolment, KnowledgeTest, Lesson, Syllabus, Unit
from lessons.rules.scale import UnitKind
from school import actions as school_actions
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Aerodrome, Aircraft, AircraftType, JournalEntry, Person, Role, Runway
from school.reasons import required_text

INSTRUCTOR_CHANGED = "instructor changed"


@transaction.atomic
def enrol(
    *,
    student: Person,
    syllabus: Syllabus,
    aircraft_type: AircraftType,
    instructor: Person,
    on: date,
    by: Person | None,
    at: datetime,
    for_lapl: bool = False,
) -> Enrolment:
    """Enrol a student in a syllabus on an aircraft type, with an instructor of their own."""
    # The lock on the student lets only one enrolment happen at a time, so that the check below stays true.
    student, instructor = participants.lock_people(student, instructor)
    if not student.is_student:
        raise Refusal(f"{student} is not on record as a student: assign that role first.")
    participants.refuse_unless_instructor(instructor)
    # One person may have both roles.
    participants.refuse_own_training(student.pk, instructor)
    # The constraint enrolment_one_at_a_time would refuse it too, but as an error and not in a sentence.
    if Enrolment.objects.filter(student=student, syllabus=syllabus, ended_on=None).exists():
        raise Refusal(f"{student} is already enrolled in {syllabus}.")
    enrolment = Enrolment.objects.create(
        student=student,
        syllabus=syllabus,
        aircraft_type=aircraft_type,
        instructor=instructor,
        enrolled_on=on,
        for_lapl=for_lapl,
    )
    after = {"syllabus": str(syllabus), "type": str(aircraft_type), "instructor": instructor.name, "on": on}
    journal.record(by=by, at=at, what="enrolled", subject=enrolment, after=after)
    return enrolment


@transaction.atomic
def enrol_new_student(
    *,
    given_name: str,
    family_name: str,
    reference: str,
    username: str,
    born: date,
    syllabus: Syllabus,
    aircraft_type: AircraftType,
    instructor: Person,
    on: date,
    by: Person,
    at: datetime,
    for_lapl: bool = False,
    email: str = "",
    papers: Sequence[dict[str, Any]] = (),
) -> Enrolment:
    """Add a student, enrol them and record their documents: all or nothing.

    `papers`: of each document what school.actions.record_paper() takes.
    """
    student = school_actions.add_person(
        username=username,
        given_name=given_name,
        family_name=family_name,
        reference=reference,
        email=email,
        roles=[Role.STUDENT],
        born=born,
        by=by,
        at=at,
    )
    for paper in papers:
        school_actions.record_paper(person=student, **paper, by=by, at=at)
    return enrol(
        student=student,
        syllabus=syllabus,
        aircraft_type=aircraft_type,
        instructor=instructor,
        on=on,
        by=by,
        at=at,
        for_lapl=for_lapl,
    )


@transaction.atomic
def change_instructor(*, enrolment: Enrolment, instructor: Person, by: Person, at: datetime) -> Enrolment:
    """Assign a student to another instructor."""
    # People are locked before enrolments everywhere (participants.lock_people), so that no two actions deadlock.
    instructor = participants.lock_instructor(instructor)
    # Only the row itself: the rows joined to it, such as the syllabus, are shared by many students.
    enrolment = Enrolment.objects.for_pages().select_for_update(of=("self",)).get(pk=enrolment.pk)
    participants.refuse_own_training(enrolment.student_id, instructor)
    if enrolment.ended_on:
        raise Refusal(
            f"This training ended on {write_day(enrolment.ended_on)}: the student cannot be reassigned any more."
        )
    if enrolment.instructor_id == instructor.pk:
        raise Refusal(f"{instructor} is already the assigned instructor.")
    write_instructor(enrolment, instructor, {}, by, at)
    return enrolment


def write_instructor(
    enrolment: Enrolment, instructor: Person, more: dict[str, str], by: Person, at: datetime
) -> JournalEntry:
    """Write the assigned instructor of a locked enrolment, and the entry of it; `more`: what else the entry tells."""
    # By the school number too: names may be equal, and an undo must find the person again.
    before = {"instructor": enrolment.instructor.name, "number": enrolment.instructor.reference}
    enrolment.instructor = instructor
    enrolment.save(update_fields=["instructor"])
    after = {"instructor": instructor.name, "number": instructor.reference, **more}
    return journal.record(by=by, at=at, what=INSTRUCTOR_CHANGED, subject=enrolment, before=before, after=after)


@transaction.atomic
def end_enrolment(*, enrolment: Enrolment, on: date, end: str, by: Person, at: datetime) -> Enrolment:
    """Record that the training was completed, terminated or transferred (14 CFR 141.101(a)(3))."""
    enrolment = Enrolment.objects.select_for_update(of=("self",)).get(pk=enrolment.pk)
    # Of two people who end it at once, the second waits for the lock, finds the end on record and is refused.
    if enrolment.ended_on:
        raise Refusal(f"This enrolment already ended on {write_day(enrolment.ended_on)}.")
    if on < enrolment.enrolled_on:
        raise Refusal("An enrolment cannot end before it began.")
    enrolment.ended_on, enrolment.end = on, end
    enrolment.save(update_fields=["ended_on", "end"])
    journal.record(by=by, at=at, what="enrolment ended", subject=enrolment, after={"on": on, "end": end})
    return enrolment


@transaction.atomic
def begin_lesson(
    *,
    enrolment: Enrolment,
    unit: Unit,
    on: date,
    instructor: Person,
    by: Person,
    at: datetime,
    aircraft: Aircraft | None = None,
    runway: Runway | None = None,
    uid: uuid.UUID | None = None,
) -> Lesson:
    """Open the record of a lesson. It is being written until its instructor signs it.

    `uid` names it where it was begun on a tablet without network.
    """
    instructor = participants.lock_instructor(instructor)
    # The lock makes lesson numbers unique, and the row is read again: the training may have ended meanwhile.
    enrolment = Enrolment.objects.select_for_update(of=("self",)).select_related("student").get(pk=enrolment.pk)
    participants.refuse_own_training(enrolment.student_id, instructor)
    _refuse_lesson(enrolment, unit, on, aircraft, instructor)
    # A discarded lesson keeps its number: a gap in the numbers would hide it, and a second lesson of that number too.
    numbers = [rows.aggregate(last=Max("number"))["last"] or 0 for rows in _numbered_lessons(enrolment)]
    lesson = Lesson.objects.create(
        enrolment=enrolment,
        number=max(numbers) + 1,
        unit=unit,
        on=on,
        instructor=instructor,
        aircraft=aircraft,
        runway=runway,
        begun_at=at,
        begun_by=by,
        **({"uid": uid} if uid else {}),
    )
    journal.record(by=by, at=at, what="lesson begun", subject=lesson, after={"unit": str(unit), "on": on})
    return lesson


def _numbered_lessons(enrolment: Enrolment) -> tuple[QuerySet[Lesson], QuerySet[DiscardedLesson]]:
    return Lesson.objects.filter(enrolment=enrolment), DiscardedLesson.objects.filter(enrolment=enrolment)


def _refuse_lesson(enrolment: Enrolment, unit: Unit, on: date, aircraft: Aircraft | None, instructor: Person) -> None:
    # The day of the lesson decides and not today: one flown before the end may still be written down.
    if enrolment.ended_on and on > enrolment.ended_on:
        raise Refusal(f"{enrolment.student} left this syllabus on {write_day(enrolment.ended_on)}.")
    if on < enrolment.enrolled_on:
        raise Refusal(f"{enrolment.student} was enrolled on {write_day(enrolment.enrolled_on)}, after that day.")
    if unit.stage.syllabus_id != enrolment.syllabus_id:
        raise Refusal(f"{unit} is not in the syllabus of {enrolment.student}.")
    # A stage check is a second opinion: the student's own instructor would check their own teaching.
    if unit.kind == UnitKind.STAGE_CHECK and instructor.pk == enrolment.instructor_id:
        raise Refusal(
            f"{unit} must be flown with an instructor other than {instructor}, who teaches {enrolment.student}."
        )
    # The form asks for it too, but a lesson that was begun on a tablet does not come through the form.
    if unit.kind != UnitKind.GROUND and aircraft is None:
        raise Refusal(f"{unit} is a flight: choose the aircraft.")


@transaction.atomic
def begin_correction(*, lesson: Lesson, reason: str, by: Person, at: datetime) -> Lesson:
    """Open a new version of a signed lesson. The signed one stays; the new one counts once it is signed."""
    # People are locked first, as in every action; somebody without the role corrects nothing.
    participants.lock_instructor(by)
    lesson = _lock_lesson(lesson)  # two corrections at one time would both become the next version
    if not lesson.is_signed:
        raise Refusal("This lesson is not signed yet: you can still change it.")
    if lesson.instructor_id != by.pk:
        raise Refusal(f"Only {lesson.instructor}, who signed this lesson, may correct it.")
    # 300 characters are the width of the column.
    reason = required_text(reason, "Write what was wrong: the reason is kept with the correction.", most=300)
    # A chain and no tree: with two corrections of one version it would be open which of them counts.
    if Lesson.objects.filter(supersedes=lesson).exists():
        raise Refusal("A correction of this lesson has already been begun.")
    # The new version is a copy of the row under a new key: Django inserts an instance whose key is None.
    version = Lesson.objects.get(pk=lesson.pk)
    # A uid of its own: it is unique, and the seal of a lesson names its subject by it.
    version.pk, version.uid = None, Lesson._meta.get_field("uid").get_default()
    version.version, version.supersedes = lesson.version + 1, lesson
    version.correction_reason = reason
    version.begun_at, version.begun_by, version.signed_at, version.signed_by = at, by, None, None
    version._state.adding = True
    version.save()
    journal.record(by=by, at=at, what="correction begun", subject=version, after={"reason": reason})
    return version


def _lock_lesson(lesson: Lesson) -> Lesson:
    """Lock a lesson and return it as it is now, so that signing and discarding wait for each other."""
    locked = Lesson.objects.select_for_update(of=("self",)).filter(pk=lesson.pk).first()
    if locked is None:
        raise Refusal("This lesson has since been discarded.")
    return locked


@transaction.atomic
def record_knowledge_test(
    *,
    enrolment: Enrolment,
    aircraft_type: AircraftType,
    taken_on: date,
    topics: list[str],
    questions: int,
    wrong: int,
    reviewed_on: date | None,
    given_by: Person,
    by: Person,
    at: datetime,
    title: str = "Pre-solo knowledge test",
    unit: Unit | None = None,
) -> KnowledgeTest:
    """Record a written test. With topics it is the pre-solo knowledge test (14 CFR 61.87(b))."""
    if wrong > questions:
        raise Refusal(f"{wrong} wrong answers to {questions} questions cannot be: check both numbers.")
    if reviewed_on and reviewed_on < taken_on:
        raise Refusal("The wrong answers cannot have been reviewed before the test was taken.")
    if unit is not None and unit.stage.syllabus_id != enrolment.syllabus_id:
        raise Refusal(f"{unit} is not in the syllabus of {enrolment.student}.")
    test = KnowledgeTest.objects.create(
        enrolment=enrolment,
        title=title,
        unit=unit,
        aircraft_type=aircraft_type,
        taken_on=taken_on,
        topics=topics,
        questions=questions,
        wrong=wrong,
        reviewed_on=reviewed_on,
        # A day without a person, or the other way round, is refused by the database.
        reviewed_by=by if reviewed_on else None,
        given_by=given_by,
        recorded_at=at,
        recorded_by=by,
    )
    after = {"title": title, "taken": taken_on, "topics": topics, "wrong": wrong, "reviewed": reviewed_on}
    journal.record(by=by, at=at, what="test recorded", subject=test, after=after)
    return test


@transaction.atomic
def review_test(*, test: KnowledgeTest, on: date, by: Person, at: datetime) -> KnowledgeTest:
    """Record that every wrong answer was reviewed with the student."""
    test = KnowledgeTest.objects.select_for_update(of=("self",)).get(pk=test.pk)
    # The database lets the review be written once: a second day would rewrite the record.
    if test.reviewed_on:
        raise Refusal(f"The wrong answers were reviewed on {write_day(test.reviewed_on)} already.")
    if on < test.taken_on:
        raise Refusal("The wrong answers cannot have been reviewed before the test was taken.")
    test.reviewed_on, test.reviewed_by = on, by
    test.save(update_fields=["reviewed_on", "reviewed_by"])
    journal.record(by=by, at=at, what="wrong answers reviewed", subject=test, after={"reviewed": on})
    return test


@transaction.atomic
def endorse(
    *,
    enrolment: Enrolment,
    kind: str,
    paragraph: str,
    aircraft_type: AircraftType,
    text: str,
    on: date,
    certificate_number: str,
    by: Person,
    at: datetime,
    limitations: str = "",
    aerodrome: Aerodrome | None = None,
) -> Endorsement:
    """Record an instructor's endorsement, with the paragraph of the rule that it is based on."""
    endorsement = Endorsement.objects.create(
        enrolment=enrolment,
        kind=kind,
        paragraph=paragraph,
        aircraft_type=aircraft_type,
        text=text,
        limitations=limitations,
        aerodrome=aerodrome,
        given_on=on,
        given_by=by,
        certificate_number=certificate_number,
        recorded_at=at,
        recorded_by=by,
    )
    journal.record(by=by, at=at, what="endorsed", subject=endorsement, after={"paragraph": paragraph, "on": on})
    return endorsement


@transaction.atomic
def withdraw_endorsement(*, endorsement: Endorsement, reason: str, by: Person, at: datetime) -> Endorsement:
    """End an endorsement, once; it stays readable with the reason."""
    endorsement = Endorsement.objects.select_for_update(of=("self",)).get(pk=endorsement.pk)
    # A withdrawal is never taken back: the database lets its columns be written once.
    if endorsement.withdrawn_at:
        raise Refusal(f"This endorsement was already withdrawn on {write_day(school_day(endorsement.withdrawn_at))}.")
    if school_day(at) < endorsement.given_on:
        raise Refusal(
            f"This endorsement was given on {write_day(endorsement.given_on)}: check the clock of the server."
        )
    reason = required_text(reason, "Write why the endorsement is withdrawn: the reason is kept with it.")
    endorsement.withdrawn_at, endorsement.withdrawn_by, endorsement.withdrawal_reason = at, by, reason
    endorsement.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    journal.record(by=by, at=at, what="endorsement withdrawn", subject=endorsement, after={"reason": reason})
    return endorsement

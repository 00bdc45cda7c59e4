"""This module gathers an instructor's first page: who flies with them, what is being written, what awaits a student."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q

from grading.models import Signature, StoredVerdict
from grading.reading.course_progress import courses_by_enrolment
from lessons.models import Enrolment, Lesson
from lessons.models.lesson import LessonQuerySet
from school.models import Person
from school.permissions import can_teach

# A student who flew with an instructor within these days is still among those who fly with them.
DAYS_SHOWN = 30
MOST_FOUND = 20
MOST_WAITING = 50


@dataclass(frozen=True)
class StudentLine:
    """One student to begin a lesson with. `unit`: the next one, in words."""

    enrolment: Enrolment
    unit: str
    is_own: bool


def today_context(person: Person, today: date, query: str) -> dict[str, Any]:
    """Return what the page shows a person. A fixed number of queries, one more for a search.

    Staff who do not teach see the lessons of all instructors, and nobody to begin a lesson with.
    """
    teaches = can_teach(person)
    rows = Lesson.objects.for_pages().newest_first()
    if teaches:
        rows = rows.filter(instructor=person)
    since = today - timedelta(days=DAYS_SHOWN)
    signed = list(rows.signed().filter(on__gte=since))
    writing, waiting = list(rows.unsigned()), _waiting_for_student(rows if teaches else rows.filter(on__gte=since))
    context = {
        "headline": _headline(len(writing), len(waiting)),
        "writing": writing,
        "waiting": waiting[:MOST_WAITING],
        "more_waiting": len(waiting) > MOST_WAITING,
        "signed": signed,
        "days": DAYS_SHOWN,
        "teaches": teaches,
        "query": query,
        "most_found": MOST_FOUND,
    }
    if teaches:
        flying = _flying_with(person, today, since)
        found = _found_by_name(query, today) if query else []
        lines = _student_lines([*flying, *found[:MOST_FOUND]], person, today)
        context |= {"flying": lines[: len(flying)], "found": lines[len(flying) :], "more": len(found) > MOST_FOUND}
    return context


# By the name that is shown first.
BY_NAME = ("student__given_name", "student__family_name", "pk")


def _flying_with(person: Person, today: date, since: date) -> list[Enrolment]:
    """Return the instructor's own students by name, then others who flew with them lately."""
    lately = Lesson.objects.filter(instructor=person, on__gte=since).values("enrolment")
    rows = Enrolment.objects.active(today).for_pages().filter(Q(instructor=person) | Q(pk__in=lately))
    # The sort is stable: both groups stay in the order of names.
    return sorted(rows.order_by(*BY_NAME), key=lambda enrolment: enrolment.instructor_id != person.pk)


def _found_by_name(query: str, today: date) -> list[Enrolment]:
    """Return the students in training that a search means, one more than are shown."""
    rows = Enrolment.objects.active(today).for_pages().search(query)
    return list(rows.order_by(*BY_NAME)[: MOST_FOUND + 1])


def _student_lines(enrolments: Sequence[Enrolment], person: Person, today: date) -> list[StudentLine]:
    """Return a line for each enrolment in its place, with the next unit as it is stored where that is fresh."""
    # Whatever the day it was derived for: only an entry moves the next unit, and an entry makes the row stale.
    stored = StoredVerdict.objects.filter(enrolment__in=enrolments, stale=False).values_list("enrolment", "row__here")
    units: dict[int, str] = dict(stored)
    courses = courses_by_enrolment([row for row in enrolments if row.pk not in units], today)
    units |= {pk: str(course.current_unit) for pk, course in courses.items()}
    return [StudentLine(row, units[row.pk], row.instructor_id == person.pk) for row in enrolments]


def _waiting_for_student(rows: LessonQuerySet) -> list[Lesson]:
    """Return signed lessons that their student has neither signed nor declined to, one more than are shown."""
    answered = Signature.objects.filter(lesson=OuterRef("pk"), capacity=Signature.Capacity.STUDENT)
    return list(rows.signed().current().filter(~Exists(answered))[: MOST_WAITING + 1])


def _headline(writing: int, waiting: int) -> str:
    """Return '1 lesson is being written; 2 await the student’s signature.' and the like."""
    parts = []
    if writing:
        parts.append(f"{writing} lesson{'s are' if writing > 1 else ' is'} being written")
    if waiting:
        count = f"more than {MOST_WAITING}" if waiting > MOST_WAITING else str(waiting)
        noun = "" if writing else " lesson" if waiting == 1 else " lessons"
        parts.append(f"{count}{noun} await{'s' if waiting == 1 else ''} the student’s signature")
    sentence = "; ".join(parts)
    return f"{sentence[:1].upper()}{sentence[1:]}." if parts else "Every lesson is signed."

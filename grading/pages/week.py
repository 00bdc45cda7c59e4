"""The lessons of everybody in one week by day, and all lessons of one student: what is unsigned, unanswered or late."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from grading.models import Signature
from grading.reading.facts import standard_in_force
from grading.rules.readiness import StandardSpec
from lessons.models import Lesson
from lessons.models.lesson import LessonQuerySet
from school.current import get_school, school_zone
from school.days import end_of
from school.models import Aircraft, Person, Role

DAYS = 7
MOST_LESSONS = 500  # of one week on one page
LESSONS_PER_PAGE = 50


class WeekRequest(NamedTuple):
    """What a reader asked for, as typed. An instructor or aircraft that is no number selects as an empty one does."""

    instructor: str = ""
    aircraft: str = ""
    q: str = ""
    show: str = ""


UNANSWERED = "not acknowledged by the student"
# What the week can be narrowed to, by the marks of a line.
SHOWN: dict[str, Callable[["LessonLine"], bool]] = {
    "unsigned": lambda line: not line.lesson.is_signed,
    "unanswered": lambda line: UNANSWERED in line.marks,
    "late": lambda line: any("late" in mark for mark in line.marks),
}


@dataclass(frozen=True)
class LessonLine:
    """One lesson. `marks`: what is to be done or was late, in words; before, after: the student's neighbouring ones."""

    lesson: Lesson
    marks: tuple[str, ...]
    before: UUID | None
    after: UUID | None


def with_neighbours(rows: LessonQuerySet, students: QuerySet[Lesson]) -> LessonQuerySet:
    """Attach the student's lesson before and after, among `students`, and whether the student has answered."""
    own = students.filter(enrolment=OuterRef("enrolment")).order_by()
    earlier = Q(on__lt=OuterRef("on")) | Q(on=OuterRef("on"), number__lt=OuterRef("number"))
    later = Q(on__gt=OuterRef("on")) | Q(on=OuterRef("on"), number__gt=OuterRef("number"))
    answered = Signature.objects.filter(lesson=OuterRef("pk"), capacity=Signature.Capacity.STUDENT)
    return rows.annotate(
        before_uid=Subquery(own.filter(earlier).order_by("-on", "-number", "-version").values("uid")[:1]),
        after_uid=Subquery(own.filter(later).order_by("on", "number", "-version").values("uid")[:1]),
        answered=Exists(answered),
    )


def lesson_lines(lessons: Sequence[Any], standard: StandardSpec, today: date) -> list[LessonLine]:
    """Return a line for each lesson; late is what the limits of the standard call late. No query."""
    hours = timedelta(hours=standard.policy.hours_to_sign)
    zone = school_zone()
    lines = []
    for lesson in lessons:
        marks = []
        limit = end_of(lesson.on, zone) + hours
        if not lesson.is_signed:
            marks.append("not signed, late" if end_of(today, zone) > limit else "not signed")
        else:
            if lesson.signed_at > limit:
                marks.append("signed late")
            if not lesson.answered:
                marks.append(UNANSWERED)
        lines.append(LessonLine(lesson, tuple(marks), lesson.before_uid, lesson.after_uid))
    return lines


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def week_context(asked: WeekRequest, day: date, today: date) -> dict[str, Any]:
    """Return the lessons of the week of a day, by day. A fixed number of queries."""
    monday = monday_of(day)
    days = [monday + timedelta(days=place) for place in range(DAYS)]
    rows = Lesson.objects.current().filter(on__range=(days[0], days[-1])).for_pages().in_order()
    if asked.instructor.isdecimal():
        rows = rows.filter(instructor=int(asked.instructor))
    if asked.aircraft.isdecimal():
        rows = rows.filter(aircraft=int(asked.aircraft))
    for word in asked.q.split():
        student = "enrolment__student__"
        rows = rows.filter(
            Q(**{f"{student}family_name__icontains": word})
            | Q(**{f"{student}given_name__icontains": word})
            | Q(**{f"{student}reference__icontains": word})
        )
    found = list(with_neighbours(rows, Lesson.objects.current())[: MOST_LESSONS + 1])
    lines = lesson_lines(found[:MOST_LESSONS], standard_in_force(get_school(), today), today)
    counts = {name: sum(map(belongs, lines)) for name, belongs in SHOWN.items()}
    shown = [line for line in lines if asked.show not in SHOWN or SHOWN[asked.show](line)]
    flown = Lesson.objects.filter(on__range=(days[0], days[-1])).order_by()
    teachers = Person.objects.filter(Q(roles__contains=[Role.INSTRUCTOR]) | Q(pk__in=flown.values("instructor")))
    return {
        "days": [(day, rows) for day, rows in _by_day(shown, days) if rows or (day <= today and shown == lines)],
        "count": len(lines),
        "shown": len(shown),
        "counts": counts,
        "more": len(found) > MOST_LESSONS,
        "first": days[0],
        "last": days[-1],
        "week_before": monday - timedelta(days=DAYS),
        "week_after": monday + timedelta(days=DAYS),
        "is_current": monday == monday_of(today),
        "instructors": teachers.order_by("family_name", "given_name", "pk"),
        "fleet": Aircraft.objects.filter(Q(in_service=True) | Q(pk__in=flown.values("aircraft"))).order_by(
            "registration"
        ),
        "asked": asked,
        "today": today,
    }


def _by_day(lines: Sequence[LessonLine], days: Sequence[date]) -> list[tuple[date, list[LessonLine]]]:
    return [(day, [line for line in lines if line.lesson.on == day]) for day in days]


def own_lesson_rows(person: Person) -> LessonQuerySet:
    """Return the signed lessons of a student, of every enrolment, the newest first."""
    own = Lesson.objects.signed().filter(enrolment__student=person)
    # A correction replaces its lesson once it is signed; one that is still being written is not the student's yet.
    current = own.filter(Q(superseded_by=None) | Q(superseded_by__signed_at=None))
    return with_neighbours(
        current.for_pages(), own.filter(Q(superseded_by=None) | Q(superseded_by__signed_at=None))
    ).order_by(F("on").desc(), "-number", "-version")

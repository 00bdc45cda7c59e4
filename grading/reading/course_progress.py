"""This module reads how far each student is in the syllabus: units flown, and the best level of each manoeuvre."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from django.db.models import Q

from grading.models import Grade
from lessons.models import Enrolment
from lessons.queries import Course, FlownUnits, load_courses
from lessons.rules.scale import Level
from school.current import end_of_school_day


def best_levels(enrolments: Iterable[Enrolment], on: date) -> dict[int, dict[str, Level]]:
    """Return the best level given in a signed lesson, by enrolment and code of the manoeuvre. One query."""
    # A join and not NOT EXISTS, as in LessonQuerySet.current(): an unsigned correction replaces nothing yet.
    current = Q(lesson__superseded_by=None) | Q(lesson__superseded_by__signed_at=None)
    rows = Grade.objects.filter(current, lesson__enrolment__in=enrolments, lesson__signed_at__lt=end_of_school_day(on))
    best: dict[int, dict[str, Level]] = defaultdict(dict)
    # DISTINCT, because most lessons repeat a level that was given before: few rows travel for a long course.
    for enrolment, code, given in rows.values_list("lesson__enrolment", "manoeuvre__code", "given").distinct():
        level = Level(given)
        if level.observed and level.rank > best[enrolment].get(code, Level.NOT_OBSERVED).rank:
            best[enrolment][code] = level
    return best


def courses_by_enrolment(
    enrolments: Iterable[Enrolment], on: date, flown: FlownUnits | None = None
) -> dict[int, Course]:
    """Return the course of each enrolment as signed by a day, by its primary key.

    Four queries; three with `flown`.
    """
    enrolments = list(enrolments)
    return load_courses(enrolments, on, best_levels(enrolments, on), flown)

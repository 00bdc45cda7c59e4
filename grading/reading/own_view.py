"""This module reads the student's own view of a lesson, and the parts of it that a level is given for."""

from grading.models import Attempt, OwnView
from lessons.models import Lesson
from lessons.rules.scale import Level, Part


def own_view_of(lesson: Lesson) -> OwnView | None:
    """Return what the student wrote of any version of this lesson: a correction asks nobody a second time."""
    views = OwnView.objects.filter(lesson__enrolment=lesson.enrolment_id, lesson__number=lesson.number)
    return views.order_by("pk").first()


def parts_flown(lesson: Lesson) -> list[Part]:
    """Return the parts of the circuit that somebody saw the student fly, in the order flown."""
    rows = Attempt.objects.filter(lesson=lesson, circuit__shown=False, level__isnull=False)
    rows = rows.exclude(level=Level.NOT_OBSERVED)
    flown = set(rows.values_list("part", flat=True).distinct())
    return [part for part in Part if part.value in flown]

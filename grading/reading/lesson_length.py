"""Read how many circuits a lesson of this school usually has."""

from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median_low

from django.db.models import Count

from lessons.models import Lesson

DAYS_LOOKED_AT = 365
# The project's own choices: with fewer lessons the median is chance, and four circuits a lesson are common practice.
LEAST_LESSONS = 12
COMMON_CIRCUITS = 4
# A lesson of more circuits is a slip of the hand; each more is a lesson's end less to be asked at.
MOST_CIRCUITS = 20


@dataclass(frozen=True)
class LessonLength:
    """Circuits of a usual lesson; `lessons`: how many it was read from, 0 where the common number is taken."""

    circuits: int
    lessons: int


def usual_lesson_length(on: date) -> LessonLength:
    """Return the median of circuits over the signed lessons with circuits of the last 12 months. One query."""
    flown = (
        Lesson.objects.signed()
        .current()
        .filter(on__gt=on - timedelta(days=DAYS_LOOKED_AT), on__lte=on, circuits__isnull=False)
        .values("pk")
        .annotate(count=Count("circuits"))
        .order_by()
        .values_list("count", flat=True)
    )
    counts = list(flown)
    if len(counts) < LEAST_LESSONS:
        return LessonLength(COMMON_CIRCUITS, 0)
    return LessonLength(min(median_low(counts), MOST_CIRCUITS), len(counts))

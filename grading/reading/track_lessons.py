"""This module finds the lesson that a flight track is of, by its times and its place."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from django.db.models import Q

from grading.models import Tap
from lessons.models import Lesson
from school.current import school_zone
from school.models import Person
from school.permissions import can_decide, can_manage_records

SLACK = timedelta(minutes=15)
MOST_LESSONS = 200  # of the days of a person's files


def lessons_on(person: Person, days: Iterable[date]) -> list[Lesson]:
    """Return the lessons with an aircraft on some days with which a person may keep a track. One query."""
    rows = Lesson.objects.filter(on__in=set(days), aircraft__isnull=False, superseded_by=None).for_pages()
    if not (can_decide(person) or can_manage_records(person)):
        rows = rows.filter(instructor=person)
    return list(rows.order_by("on", "off_blocks", "begun_at", "pk")[:MOST_LESSONS])


def days_of(first: datetime, last: datetime) -> set[date]:
    """Return the days of the school on which a track begins and ends."""
    zone = school_zone()
    return {first.astimezone(zone).date(), last.astimezone(zone).date()}


def lessons_that_fit(
    lessons: Sequence[Lesson], first: datetime, last: datetime, aerodrome_id: int | None
) -> list[Lesson]:
    """Return the lessons that a track may be of: one where it is clear, several where it is not. One query at most.

    By the block times; without them by the taps in the time of the track; never one of another aerodrome.
    """
    here = [row for row in lessons if row.runway is None or aerodrome_id in (None, row.runway.aerodrome_id)]
    timed = [row for row in here if row.off_blocks and row.on_blocks and _overlap(row, first, last) > timedelta()]
    if timed:
        most = max(_overlap(row, first, last) for row in timed)
        # What lies in the track for nearly as long may be it as well: a person says which.
        return [row for row in timed if _overlap(row, first, last) > most / 2]
    open_ended = [row for row in here if not (row.off_blocks and row.on_blocks)]
    if len(open_ended) < 2:
        return open_ended
    tapped = set(
        Tap.objects.filter(lesson__in=open_ended, at__range=(first, last + SLACK), field__startswith="circuit.")
        .filter(Q(undoes=None))
        .values_list("lesson_id", flat=True)
    )
    return [row for row in open_ended if row.pk in tapped] or open_ended


def _overlap(lesson: Lesson, first: datetime, last: datetime) -> timedelta:
    assert lesson.off_blocks is not None
    assert lesson.on_blocks is not None
    return min(lesson.on_blocks + SLACK, last) - max(lesson.off_blocks - SLACK, first)

"""Refuse decisions in one's own training and in training that has ended."""

from datetime import date

from lessons import participants
from lessons.models import Enrolment
from school.errors import Refusal
from school.formats import write_day
from school.models import Person


def refuse_own_training(enrolment: Enrolment, *people: Person) -> None:
    """Refuse a person who acts in their own training: staff may be students too, but not their own instructors."""
    for person in people:
        participants.refuse_own_training(enrolment.student_id, person)


def refuse_ended_training(enrolment: Enrolment, on: date | None = None) -> None:
    """Refuse where the training has ended; call it after the enrolment is locked, so that the answer stays true.

    `on`: something dated before the end may be recorded later.
    """
    # Read from the database: the caller's instance may be older than the lock.
    ended = Enrolment.objects.values_list("ended_on", flat=True).get(pk=enrolment.pk)
    if ended and (on is None or on > ended):
        raise Refusal(f"This training ended on {write_day(ended)}: nothing is decided about it any more.")

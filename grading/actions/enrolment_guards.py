"""Whose training, and whether it still runs: asked before anything in it is decided or signed."""

from datetime import date

from lessons import participants
from lessons.models import Enrolment
from school.errors import Refusal
from school.models import Person


def refuse_own_training(enrolment: Enrolment, *people: Person) -> None:
    """Who teaches or decides may be a student too, and then is nobody's instructor or chief but others'."""
    for person in people:
        participants.refuse_own_training(enrolment.student_id, person)


def refuse_ended_training(enrolment: Enrolment, on: date | None = None) -> None:
    """Once the student's turn is taken: as it stands now. `on`: what is dated by the end may come later."""
    ended = Enrolment.objects.values_list("ended_on", flat=True).get(pk=enrolment.pk)
    if ended and (on is None or on > ended):
        raise Refusal(f"This training ended on {ended:%d %B %Y}: nothing is decided about it any more.")

"""Discard a lesson that was never signed: it counts no more, and stays on record with every entry and the reason."""

from datetime import datetime

from django.db import connection, transaction

from grading.evidence import chain
from grading.evidence.training_payloads import build_discarded_lesson_payload
from grading.models import FlightTrack, Seal
from lessons.models import DiscardedLesson, Lesson
from school import journal
from school.errors import Refusal
from school.models import Person
from school.reasons import required_text


@transaction.atomic
def discard_lesson(*, lesson: Lesson, reason: str, by: Person, at: datetime) -> DiscardedLesson:
    """Take an unsigned lesson out of the lessons; what was entered in it is sealed and stays readable."""
    # The lesson before the enrolments and the chain, as whoever signs it does: the two wait and do not deadlock.
    locked = Lesson.objects.select_for_update(of=("self",)).filter(pk=lesson.pk).first()
    if locked is None:
        raise Refusal("This lesson has since been discarded.")
    if locked.is_signed:
        raise Refusal("A signed lesson is final and cannot be discarded.")
    if locked.instructor_id != by.pk:
        raise Refusal("Only the instructor who gives this lesson may discard it.")
    # The limit is the width of the column.
    reason = required_text(reason, "Write why this lesson is discarded: the reason is kept with what was entered.", 300)
    chain.lock_for_sealing(locked.enrolment)
    # A track is no entry of the lesson and has nothing to lie beside any more.
    FlightTrack.objects.filter(lesson=locked).delete()
    # A function of the database: only inside it do the triggers let an entry of a lesson go, and it keeps each.
    with connection.cursor() as cursor:
        cursor.execute("SELECT discard_lesson(%s, %s, %s, %s)", [locked.pk, reason, by.pk, at])
        (key,) = cursor.fetchone()
    discarded = DiscardedLesson.objects.select_related("enrolment__student", "unit", "instructor", "discarded_by").get(
        pk=key
    )
    record = build_discarded_lesson_payload(discarded)
    chain.seal(kind=Seal.Kind.DISCARDED, subject=discarded.uid, record=record, at=at)
    after = {"on": discarded.on, "entries": len(discarded.entries), "reason": reason}
    journal.record(by=by, at=at, what="lesson discarded", subject=discarded, after=after)
    return discarded

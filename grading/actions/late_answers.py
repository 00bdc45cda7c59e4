"""Decide between an entry that came late and the one on record, as the instructor of the lesson answers."""

import uuid as uuids
from datetime import datetime

from django.db import transaction

from grading.actions import recording
from grading.models import DeviceEvent
from grading.reading import late_entries
from grading.reading.late_entries import LateQuestion
from lessons.models import Lesson
from school.errors import Refusal
from school.models import Person


@transaction.atomic
def answer_late_entry(*, lesson: Lesson, event_uid: uuids.UUID, take_late: bool, by: Person, at: datetime) -> None:
    """Write the entry that came late in the place of the other, or keep what is on record; both stay in the account."""
    lesson = recording.lock_lesson(lesson, by)
    question = next((row for row in late_entries.open_questions(lesson) if row.event.uid == event_uid), None)
    if question is None:
        raise Refusal("This question is answered already. Nothing was changed.")
    event = question.event
    if take_late:
        recording.apply_tap(lesson=lesson, field=event.field, value=event.value, by=by, at=at)
    # In both cases, so that the question is closed though nothing may have changed.
    _record_answer(question, take_late=take_late, by=by, at=at)


def _record_answer(question: LateQuestion, *, take_late: bool, by: Person, at: datetime) -> None:
    event, standing = question.event, question.standing
    DeviceEvent.objects.create(
        uid=uuids.uuid4(),
        lesson=event.lesson,
        person=by,
        # It answers the last word of that device on the field, and becomes the last itself.
        device=event.device,
        sequence=event.sequence,
        kind=DeviceEvent.Kind.KEEP,
        field=event.field,
        value=event.value if take_late or standing is None else standing.tap.after,
        outcome=DeviceEvent.Outcome.APPLIED,
        at=at,
    )

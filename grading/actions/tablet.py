"""Events of a tablet: taps made with or without network, each taken once, in the order in which they were made.

An event that cannot be taken is kept as refused, with the sentence its tablet is told; those behind it go on.
The school's clock dates everything. The clock of the tablet is kept beside it, as information.
"""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction

from grading.actions import recording
from grading.models import DeviceEvent
from lessons import actions as lesson_actions
from lessons import people
from lessons.models import Enrolment, Lesson, Unit
from school.errors import Refused
from school.models import Aircraft, Person
from school.permissions import can_teach

Kind = DeviceEvent.Kind
LONGEST_FIELD, LONGEST_VALUE = 120, 5000


@dataclass(frozen=True)
class Beginning:
    """What a lesson needs to be begun; `on` is the day by the tablet's clock."""

    enrolment: uuids.UUID
    unit: int
    on: date
    aircraft: int | None = None


@dataclass(frozen=True)
class Sent:
    """One event as it was sent. `of` names the tap that an undo takes back."""

    uid: uuids.UUID
    kind: str
    sequence: int
    device: uuids.UUID
    device_time: datetime | None = None
    field: str = ""
    value: str = ""
    of: uuids.UUID | None = None
    beginning: Beginning | None = None


@dataclass(frozen=True)
class Taken:
    """What became of an event; `known`: it had been taken before."""

    event: DeviceEvent
    known: bool


def take(*, lesson_uid: uuids.UUID, sent: Sequence[Sent], by: Person, at: datetime) -> list[Taken]:
    """Take events of one lesson, one after the other. Each stands or falls by itself."""
    taken, lesson = [], None
    for event in sent:
        lesson = lesson or Lesson.objects.only("instructor").filter(uid=lesson_uid).first()
        taken.append(_take_one(lesson_uid, lesson, event, by, at))
    return taken


def _take_one(lesson_uid: uuids.UUID, lesson: Lesson | None, sent: Sent, by: Person, at: datetime) -> Taken:
    if known := _known(sent, by):
        return Taken(known, True)
    try:
        with transaction.atomic():
            said = _apply(lesson_uid, lesson, sent, by, at)
            return Taken(_keep(sent, lesson, by, at, DeviceEvent.Outcome.APPLIED, said), False)
    except Refused as refusal:
        own = lesson if lesson and lesson.instructor_id == by.pk else None
        return Taken(_keep(sent, own, by, at, DeviceEvent.Outcome.REFUSED, str(refusal)), False)
    except IntegrityError:
        # Sent twice at the same time: the other one was first, and this one wrote nothing.
        if known := _known(sent, by):
            return Taken(known, True)
        raise


def _known(sent: Sent, by: Person) -> DeviceEvent | None:
    """The event as it was taken before. Of somebody else's event with the same id nothing is told."""
    known = DeviceEvent.objects.filter(uid=sent.uid).first()
    if known is None or known.person_id == by.pk:
        return known
    return DeviceEvent(
        uid=sent.uid, person=by, device=sent.device, sequence=sent.sequence, kind=sent.kind,
        field=sent.field[:LONGEST_FIELD], outcome=DeviceEvent.Outcome.REFUSED,
        said="Somebody else’s event bears this id. Nothing was written: enter it once more.",
    )  # fmt: skip


def _apply(lesson_uid: uuids.UUID, lesson: Lesson | None, sent: Sent, by: Person, at: datetime) -> str:
    """A sentence for the tablet, mostly none. Sent twice at once, the second waits for the lock of the lesson."""
    if not can_teach(by):
        raise Refused("Only an instructor gives lessons and writes in them.")
    if sent.kind == Kind.BEGIN:
        return _begin(lesson_uid, sent, by, at)
    if lesson is None:
        raise Refused("This lesson is not on record: it was discarded meanwhile, or could not be begun.")
    if len(sent.field) > LONGEST_FIELD or len(sent.value) > LONGEST_VALUE:
        raise Refused("That is longer than an entry can be: shorten it. Nothing was lost.")
    if sent.kind == Kind.UNDO:
        recording.undo(lesson=lesson, by=by, at=at, of=sent.of, uid=sent.uid)
    else:
        recording.tap(lesson=lesson, field=sent.field, value=sent.value, by=by, at=at, uid=sent.uid)
    return ""


def _begin(lesson_uid: uuids.UUID, sent: Sent, by: Person, at: datetime) -> str:
    asked = sent.beginning
    if asked is None:
        raise Refused("The student and the unit of this lesson are missing.")
    people.held(by)  # before the enrolment, as everywhere
    enrolments = Enrolment.objects.select_for_update(of=("self",)).select_related("student")
    enrolment = enrolments.filter(uid=asked.enrolment).first()
    unit = Unit.objects.filter(pk=asked.unit).select_related("stage").first()
    if enrolment is None or unit is None:
        raise Refused("The student or the unit of this lesson is not on record.")
    if Lesson.objects.filter(uid=lesson_uid).exists():
        return ""
    ahead = asked.on > at.date() + timedelta(days=1)  # a day ahead is a matter of where one lives
    lesson_actions.begin_lesson(
        enrolment=enrolment,
        unit=unit,
        on=at.date() if ahead else asked.on,
        instructor=by,
        by=by,
        at=at,
        aircraft=Aircraft.objects.filter(pk=asked.aircraft).first() if asked.aircraft else None,
        uid=lesson_uid,
    )
    if ahead:
        return f"The clock of the tablet said {asked.on:%d %B %Y}; the lesson is dated by the school’s clock."
    return ""


def _keep(sent: Sent, lesson: Lesson | None, by: Person, at: datetime, outcome: str, said: str) -> DeviceEvent:
    return DeviceEvent.objects.create(
        uid=sent.uid,
        lesson=None if sent.kind == Kind.BEGIN else lesson,
        person=by,
        device=sent.device,
        sequence=sent.sequence,
        kind=sent.kind,
        field=sent.field[:LONGEST_FIELD],
        value=sent.value[:LONGEST_VALUE],
        outcome=outcome,
        said=said,
        device_time=sent.device_time,
        at=at,
    )

"""Apply the events of a tablet: taps made with or without network, each once, in the order they were made.

An event that cannot be applied is stored as refused, with the sentence for its tablet; those behind it go on. One
that is older than another device's entry is stored as late and asked about. One that comes before the beginning of
its lesson waits on its tablet. The school's clock dates everything; that of the tablet is stored beside it.
"""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial

from django.db import IntegrityError, transaction

from grading.actions import beginning, recording
from grading.models import DeviceEvent
from grading.reading import late_entries
from grading.reading.late_entries import StandingTap
from grading.reading.release_limits import breaches_at_beginning
from grading.rules.late_entries import clock_was_set_back, may_replace, moment_at_school
from lessons import participants
from lessons.models import Enrolment, Lesson, Unit
from lessons.rules.scale import UnitKind
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Aircraft, Person
from school.permissions import can_teach

EventKind, Outcome = DeviceEvent.Kind, DeviceEvent.Outcome
# The field as long as its column in a tap; the value longer than the longest text of a lesson, 4,000 characters.
MAX_FIELD_LENGTH, MAX_VALUE_LENGTH = 120, 5000
# What a tablet is told of an event that it keeps and sends again; no stored event has it.
WAITS = "waits"
WAITS_SENTENCE = "The beginning of this lesson has not reached the school yet: the entry follows it."


class _OvertakenError(Exception):
    """A tap of another device, which this one had not seen, is newer."""

    def __init__(self, standing: StandingTap) -> None:
        super().__init__()
        self.standing = standing


@dataclass(frozen=True)
class LessonStart:
    """Describe what a lesson needs to begin; `on` is the day by the tablet's clock."""

    enrolment: uuids.UUID
    unit: int
    on: date
    aircraft: int | None = None
    outside_release: str = ""


@dataclass(frozen=True)
class IncomingEvent:
    """Describe one event as it was sent; `undoes` names the tap that an undo takes back.

    `sent_time`: the device's clock when it was sent; `seen`: the last tap that the device knew when it was made.
    """

    uid: uuids.UUID
    kind: str
    sequence: int
    device: uuids.UUID
    device_time: datetime | None = None
    field: str = ""
    value: str = ""
    undoes: uuids.UUID | None = None
    beginning: LessonStart | None = None
    sent_time: datetime | None = None
    seen: int = 0


@dataclass(frozen=True)
class EventResult:
    """Describe the outcome of an event; `known`: it had been applied or refused before."""

    event: DeviceEvent
    known: bool


def apply_events(
    *, lesson_uid: uuids.UUID, events: Sequence[IncomingEvent], by: Person, at: datetime
) -> list[EventResult]:
    """Apply events of one lesson, in the order of their device; a refusal of one does not touch the others."""
    # The device's own order, whatever its storage made of it; what begins the lesson comes before all else.
    events = sorted(events, key=lambda event: (event.kind != EventKind.BEGIN, event.sequence))
    if clock_was_set_back([event.device_time for event in events]):
        events = [replace(event, sent_time=None) for event in events]
    taken, lesson = [], None
    for event in events:
        # Looked for until it exists: the first event of a batch may be the one that begins the lesson.
        lesson = lesson or Lesson.objects.only("instructor").filter(uid=lesson_uid).first()
        taken.append(_apply_once(lesson_uid, lesson, event, by, at))
    return taken


def _apply_once(
    lesson_uid: uuids.UUID, lesson: Lesson | None, sent: IncomingEvent, by: Person, at: datetime
) -> EventResult:
    # An event comes twice where its answer was lost: it gets the outcome of the first time, also if that was a refusal.
    if known := _find_earlier(sent, by):
        return EventResult(known, True)
    if lesson is None and sent.kind != EventKind.BEGIN and can_teach(by) and late_entries.may_still_begin(lesson_uid):
        return EventResult(_waiting_event(sent, by), False)
    try:
        # One savepoint for the event and its row: either both are written or neither.
        with transaction.atomic():
            sentence = _apply_event(lesson_uid, lesson, sent, by, at)
            return EventResult(_store_event(sent, lesson_uid, lesson, by, at, Outcome.APPLIED, sentence), False)
    except _OvertakenError as overtaken:
        sentence = late_entries.describe_late(sent.field, sent.value, overtaken.standing)
        return EventResult(_store_event(sent, lesson_uid, lesson, by, at, Outcome.LATE, sentence), False)
    except Refusal as refusal:
        # A refused event is stored too, but never under the lesson of another instructor.
        own = lesson if lesson and lesson.instructor_id == by.pk else None
        return EventResult(_store_event(sent, lesson_uid, own, by, at, Outcome.REFUSED, str(refusal)), False)
    except IntegrityError:
        # Sent twice at the same time: the other one was first, and this one wrote nothing.
        if known := _find_earlier(sent, by):
            return EventResult(known, True)
        raise


def _find_earlier(sent: IncomingEvent, by: Person) -> DeviceEvent | None:
    """Return the event as it was stored before. Nothing of another person's event with the same id is disclosed."""
    known = DeviceEvent.objects.filter(uid=sent.uid).first()
    if known is None or known.person_id == by.pk:
        return known
    return DeviceEvent(
        uid=sent.uid,
        person=by,
        device=sent.device,
        sequence=sent.sequence,
        kind=sent.kind,
        field=sent.field[:MAX_FIELD_LENGTH],
        outcome=Outcome.REFUSED,
        said="An entry of somebody else has this id. Nothing was saved: enter it again.",
    )


def _waiting_event(sent: IncomingEvent, by: Person) -> DeviceEvent:
    """Return the answer to an event whose lesson has not begun: nothing is stored, and its tablet sends it again."""
    return DeviceEvent(
        uid=sent.uid,
        person=by,
        device=sent.device,
        sequence=sent.sequence,
        kind=sent.kind,
        field=sent.field[:MAX_FIELD_LENGTH],
        outcome=WAITS,
        said=WAITS_SENTENCE,
    )


def _refuse_overtaken(sent: IncomingEvent, at: datetime, lesson: Lesson) -> None:
    standing = late_entries.find_unseen(lesson, sent.field, seen=sent.seen, device=sent.device)
    if standing and standing.tap.after != sent.value and not may_replace(_tap_time(sent, at), standing.moment):
        raise _OvertakenError(standing)


def _tap_time(sent: IncomingEvent, at: datetime) -> datetime | None:
    return moment_at_school(received=at, sent=sent.sent_time, tapped=sent.device_time)


def _apply_event(lesson_uid: uuids.UUID, lesson: Lesson | None, sent: IncomingEvent, by: Person, at: datetime) -> str:
    """Apply one event and return a sentence for the tablet, empty in most cases."""
    # Asked inside the savepoint of each event, so that this refusal is stored and answered like any other.
    if not can_teach(by):
        raise Refusal("Only an instructor may give lessons and write in them.")
    if sent.kind == EventKind.BEGIN:
        return _begin_lesson(lesson_uid, sent, by, at)
    if lesson is None:
        raise Refusal("This lesson does not exist: it has since been discarded, or could not be begun.")
    if len(sent.field) > MAX_FIELD_LENGTH or len(sent.value) > MAX_VALUE_LENGTH:
        raise Refusal("That is longer than an entry can be: shorten it. Nothing was lost.")
    if sent.kind == EventKind.UNDO:
        recording.undo_tap(lesson=lesson, by=by, at=at, tap_uid=sent.undoes, uid=sent.uid)
    else:
        check = partial(_refuse_overtaken, sent, at)
        recording.apply_tap(lesson=lesson, field=sent.field, value=sent.value, by=by, at=at, uid=sent.uid, check=check)
    return ""


def _begin_lesson(lesson_uid: uuids.UUID, sent: IncomingEvent, by: Person, at: datetime) -> str:
    start = sent.beginning
    if start is None:
        raise Refusal("The student and the unit of this lesson are missing.")
    participants.lock_people(by)  # before the enrolment, as everywhere
    enrolments = Enrolment.objects.select_for_update(of=("self",)).select_related("student")
    enrolment = enrolments.filter(uid=start.enrolment).first()
    unit = Unit.objects.filter(pk=start.unit).select_related("stage").first()
    if enrolment is None or unit is None:
        raise Refusal("The student or the unit of this lesson is not on record.")
    # Asked under the lock of the enrolment, so that two batches cannot both begin it.
    if Lesson.objects.filter(uid=lesson_uid).exists():
        return ""
    today = school_day(at)
    # A tablet in another zone may be a day ahead of the school, and a lesson of a day to come could not be signed.
    ahead = start.on > today
    lesson = beginning.begin_lesson(
        enrolment=enrolment,
        unit=unit,
        on=today if ahead else start.on,
        instructor=by,
        by=by,
        at=at,
        aircraft=Aircraft.objects.filter(pk=start.aircraft).first() if start.aircraft else None,
        uid=lesson_uid,
        outside_release=start.outside_release,
        # A release may have been withdrawn while the tablet was away: the flight has happened and is not lost.
        flown_already=True,
    )
    told = []
    if ahead:
        told.append(f"The clock of the tablet said {write_day(start.on)}; the lesson is dated by the school’s clock.")
    if not lesson.outside_release and unit.kind == UnitKind.SOLO and (outside := breaches_at_beginning(lesson)):
        told += [breach.sentence for breach in outside]
        told.append("Write under Hours why it was flown anyway; the lesson cannot be signed without it.")
    return " ".join(told)


def _store_event(
    sent: IncomingEvent,
    lesson_uid: uuids.UUID,
    lesson: Lesson | None,
    by: Person,
    at: datetime,
    outcome: str,
    said: str,
) -> DeviceEvent:
    return DeviceEvent.objects.create(
        uid=sent.uid,
        # Discarding a lesson deletes its events. The one that began it stays, so that sent again it begins nothing.
        lesson=None if sent.kind == EventKind.BEGIN else lesson,
        person=by,
        device=sent.device,
        sequence=sent.sequence,
        kind=sent.kind,
        # Cut, because an event refused as too long is stored as well.
        field=sent.field[:MAX_FIELD_LENGTH],
        value=sent.value[:MAX_VALUE_LENGTH],
        outcome=outcome,
        said=said,
        device_time=sent.device_time,
        at=at,
        tap_time=_tap_time(sent, at),
        lesson_uid=lesson_uid if sent.kind == EventKind.BEGIN else None,
    )

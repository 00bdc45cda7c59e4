"""Write in a lesson, one tap at a time.

Every entry of the lesson page has a dotted field name, which is also the name of its input:

    circuit.5.landing.level          a step of the syllabus's scale, empty, or "to_standard" (by the closing key)
    circuit.5.landing.help           one of Help
    circuit.5.landing.kept           why the tapped level stands, or empty
    circuit.5.landing.fault.bounced  "on" or empty
    circuit.5.landing.criterion.held  "done", "not_done" or empty
    circuit.5.approach.measure.final.speed   a number in the school's unit, "126 km/h", or empty
    circuit.5.ending                 one of Ending; undo adds the help of parts: "full_stop,landing.prompted"
    circuit.5.took_control           the part in which the instructor took control: ending and help in one entry
    circuit.5.landing_kind           one of LandingKind, or empty
    circuit.5.shown                  "on" or empty: flown by the instructor to show it
    circuit.5.closed                 "on", empty, or "to_standard": what was not tapped gets the solo step
    manoeuvre.stalls.level …         the same for a manoeuvre flown by itself
    grade.landing                    the step given in place of the one proposed, or empty
    lesson.dual_minutes …            hours, wind, times, remarks (grading/actions/lesson_details.py)

A tap is applied once (its uid says whether it has been), in order, and can be taken back by another.
"""

import uuid as uuids
from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from grading.actions import circuit_entries, lesson_entries
from grading.models import Tap
from lessons.models import Lesson
from school.errors import Refusal
from school.models import Person


class EntryRefused(Refusal):
    """One of several entries was refused. `field`: its name, so that the page can say it at its input."""

    def __init__(self, sentence: str, field: str) -> None:
        super().__init__(sentence)
        self.field = field


# A tap is the most frequent act, so it has no savepoint; a caller that goes on after a refusal has one (device_events).
@transaction.atomic(savepoint=False)
def apply_tap(
    *,
    lesson: Lesson,
    field: str,
    value: str,
    by: Person,
    at: datetime,
    uid: uuids.UUID | None = None,
    check: Callable[[Lesson], None] | None = None,
) -> Tap | None:
    """Apply one entry and return its Tap: None when it changes nothing, the earlier one when applied already.

    A refusal undoes the whole transaction that this is part of. `check` is called under the lock of the lesson, and
    what it raises stops the entry.
    """
    locked = lock_lesson(lesson, by)
    if check:
        check(locked)
    return _apply_entry(locked, field, value, by, at, uid)


@transaction.atomic
def record_entries(*, lesson: Lesson, entries: dict[str, str], by: Person, at: datetime) -> list[Tap]:
    """Apply several entries together or none: what a page without JavaScript sends at once."""
    if not entries:
        return []
    lesson, taps = lock_lesson(lesson, by), []
    for field, value in entries.items():
        try:
            written = _apply_entry(lesson, field, value, by, at, None)
        except Refusal as refusal:
            raise EntryRefused(str(refusal), field) from refusal
        if written:
            taps.append(written)
    return taps


def _apply_entry(
    lesson: Lesson, field: str, value: str, by: Person, at: datetime, uid: uuids.UUID | None
) -> Tap | None:
    """Apply one entry to a lesson that is locked."""
    # Asked under the lock of the lesson: of one tap sent twice at a time, the second finds the first.
    if uid and (applied := Tap.objects.filter(uid=uid).first()):
        if applied.lesson_id != lesson.pk:
            raise Refusal("This entry has the id of an entry in another lesson. Reload the page; nothing was saved.")
        return applied
    written = lesson_entries.write_entry(lesson, field, value)
    # No row for what changed nothing: undo would take back nothing visible.
    if written.before == written.after:
        return None
    return Tap.objects.create(
        uid=uid or uuids.uuid4(), lesson=lesson, at=at, person=by, field=field, **written._asdict()
    )


@transaction.atomic
def undo_tap(
    *, lesson: Lesson, by: Person, at: datetime, tap_uid: uuids.UUID | None = None, uid: uuids.UUID | None = None
) -> Tap | None:
    """Undo the last tap that is still effective, or the one named; return None when there is nothing to undo.

    A tap that another has followed on the same field is not taken back: its value is no longer on record.
    """
    lesson = lock_lesson(lesson, by)
    taken = _effective_taps(lesson).filter(uid=tap_uid).first() if tap_uid else last_tap(lesson)
    if taken is None:
        return None
    # Taking it back would overwrite a later entry, perhaps one of another device, that nobody asked to lose.
    if later := _effective_taps(lesson).filter(field=taken.field, pk__gt=taken.pk).select_related("person").last():
        raise Refusal(f"{taken.words} was changed afterwards by {later.person} and cannot be undone.")
    lesson_entries.write_entry(lesson, taken.field, taken.before)
    circuit_entries.delete_empty_circuit(lesson)
    return Tap.objects.create(
        uid=uid or uuids.uuid4(),
        lesson=lesson,
        at=at,
        person=by,
        field=taken.field,
        before=taken.after,
        after=taken.before,
        undoes=taken,
    )


def last_tap(lesson: Lesson) -> Tap | None:
    """Return the tap that undo would take back, or None."""
    return _effective_taps(lesson).last()


def _effective_taps(lesson: Lesson) -> QuerySet[Tap]:
    """Select the taps that were not undone."""
    # NOT EXISTS and not a join: so the last of many taps is read from the end of its index.
    taken_back = Exists(Tap.objects.filter(undoes=OuterRef("pk")))
    return Tap.objects.filter(~taken_back, lesson=lesson, undoes=None).order_by("id")


def lock_lesson(lesson: Lesson, by: Person) -> Lesson:
    """Lock the lesson until the transaction ends and return it, if this person may write in it."""
    # Read again under the lock: what the caller holds may have been signed or discarded since.
    locked = Lesson.objects.for_entries().select_for_update(of=("self",)).filter(pk=lesson.pk).first()
    if locked is None:
        raise Refusal("This lesson has since been discarded.")
    if locked.is_signed:
        raise Refusal("This lesson was signed meanwhile and is final. Nothing was changed in it.")
    # The instructor signs that what is recorded is what they saw: an entry by anybody else would make that untrue.
    if locked.instructor_id != by.pk:
        raise Refusal("Only the instructor who gives this lesson may write in it.")
    return locked

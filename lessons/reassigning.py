"""Assign many students to another instructor in one act, and take such an act back: all of them or none.

The journal has one entry a student; those of one act share person and moment, and are found again by these two.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from lessons import participants
from lessons.actions import INSTRUCTOR_CHANGED, write_instructor
from lessons.models import Enrolment, Lesson
from school.errors import Refusal
from school.formats import write_list
from school.models import JournalEntry, Person
from school.permissions import can_reassign
from school.reasons import required_text

# So many are written in a few seconds, while somebody waits.
MOST_AT_ONCE = 200
# Later the move is no slip any more: lessons rest on it (the project's own choice).
UNDO_DAYS = 7
MAX_NAMED = 3  # further students are only counted


@dataclass(frozen=True)
class MovedStudent:
    """A student of one act as the journal has it; `to_undo`: nothing since then rests on the move."""

    entry: JournalEntry
    enrolment: Enrolment
    to_undo: bool


@transaction.atomic
def reassign_students(
    *, taught_by: Mapping[UUID, int], instructor: Person, reason: str, by: Person, at: datetime
) -> list[JournalEntry]:
    """Assign students to an instructor. `taught_by`: by enrolment, whose they were when the choice was made.

    Refused as a whole where one of them cannot move or has another instructor since.
    """
    if not can_reassign(by):
        raise Refusal("Only the chief instructor or the administrator reassigns students.")
    if not taught_by:
        raise Refusal("Choose at least one student.")
    if len(taught_by) > MOST_AT_ONCE:
        raise Refusal(f"{MOST_AT_ONCE} students are the most at once: choose fewer. Nobody was reassigned.")
    reason = required_text(reason, "Write why: the journal keeps the reason with each student.", most=300)
    # People before enrolments, as every action locks them.
    instructor = participants.lock_instructor(instructor)
    if not instructor.is_active:
        raise Refusal(f"{instructor} cannot log in any more: choose another instructor.")
    rows = _lock(Enrolment.objects.filter(uid__in=taught_by))
    if len(rows) < len(taught_by):
        raise Refusal("A student of this choice is no longer on record. Nobody was reassigned.")
    _refuse_changed([row for row in rows if row.instructor_id != taught_by[row.uid]])
    for row in rows:
        participants.refuse_own_training(row.student_id, instructor)
    _refuse([row for row in rows if row.ended_on], "The training of {} has ended")
    _refuse([row for row in rows if row.instructor_id == instructor.pk], f"{instructor} already has {{}}")
    return [write_instructor(row, instructor, {"reason": reason}, by, at) for row in rows]


def find_moved(entry: JournalEntry) -> list[MovedStudent]:
    """Return the students of the act that an entry belongs to, by name. Three queries."""
    entries = JournalEntry.objects.filter(what=INSTRUCTOR_CHANGED, person_id=entry.person_id, at=entry.at)
    by_enrolment = {row.subject_id: row for row in entries}
    enrolments = Enrolment.objects.for_pages().filter(pk__in=by_enrolment)
    begun = Lesson.objects.filter(enrolment__in=by_enrolment, begun_at__gt=entry.at)
    taught = set(begun.values_list("enrolment", "instructor"))
    return [
        MovedStudent(by_enrolment[row.pk], row, _is_as_moved(row, by_enrolment[row.pk], taught))
        for row in enrolments.order_by("student__family_name", "student__given_name", "pk")
    ]


def _is_as_moved(row: Enrolment, entry: JournalEntry, taught: Collection[tuple[int, int]]) -> bool:
    assigned = (entry.after or {}).get("number") == row.instructor.reference
    return assigned and row.ended_on is None and (row.pk, row.instructor_id) not in taught


@transaction.atomic
def undo_reassigning(*, entry: JournalEntry, by: Person, at: datetime) -> list[JournalEntry]:
    """Assign the students of one act to the instructors they had, where nothing since then rests on the move."""
    if not can_reassign(by):
        raise Refusal("Only the chief instructor or the administrator reassigns students.")
    if at - entry.at > timedelta(days=UNDO_DAYS):
        raise Refusal(f"This is more than {UNDO_DAYS} days ago: reassign the students again instead.")
    numbers = {(row.entry.before or {}).get("number", "") for row in find_moved(entry)}
    earlier = {row.reference: row for row in Person.objects.filter(reference__in=numbers)}
    locked = {row.reference: row for row in participants.lock_people(*earlier.values())}
    _lock(Enrolment.objects.filter(pk__in=[row.enrolment.pk for row in find_moved(entry)]))
    # Read again under the locks: a lesson may have begun meanwhile.
    moved = [row for row in find_moved(entry) if row.to_undo]
    if not moved:
        raise Refusal("Nothing is left to undo: each of these students has had a change or a lesson since.")
    done = []
    for row in moved:
        before, after = row.entry.before or {}, row.entry.after or {}
        teacher = locked.get(before.get("number", ""))
        if teacher is None or not (teacher.is_instructor and teacher.is_active):
            raise Refusal(f"{before.get('instructor')} is no longer an instructor here. Nobody was reassigned.")
        why = {"reason": f"Undone: {after.get('reason', '')}"[:300]}
        done.append(write_instructor(row.enrolment, teacher, why, by, at))
    return done


def _lock(rows: QuerySet[Enrolment]) -> list[Enrolment]:
    # Only the rows themselves: what is joined to them is shared by many students. In one order, so that none deadlocks.
    found: QuerySet[Enrolment] = Enrolment.objects.for_pages().filter(pk__in=rows.values("pk"))
    return list(found.select_for_update(of=("self",)).order_by("pk"))


def _refuse(rows: Sequence[Enrolment], words: str) -> None:
    if rows:
        raise Refusal(f"{words.format(join_students(rows))}. Nobody was reassigned: leave them out.")


def _refuse_changed(rows: Sequence[Enrolment]) -> None:
    if rows:
        raise Refusal(
            f"Meanwhile somebody reassigned {join_students(rows)}. Nobody was reassigned now: look at the choice again."
        )


def join_students(rows: Sequence[Enrolment]) -> str:
    """Return 'Ines Bakker, Dag Holm and 4 more'."""
    names = [row.student.name for row in rows]
    if len(names) > MAX_NAMED + 1:
        return f"{', '.join(names[:MAX_NAMED])} and {len(names) - MAX_NAMED} more"
    return write_list(names)

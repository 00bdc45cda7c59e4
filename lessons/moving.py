"""Move a student to another issue of the syllabus by a mapping of units, or many by one mapping: all or none."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from lessons.models import CreditDecision, CreditedUnit, Enrolment, Lesson, Syllabus, SyllabusMove, Unit, UnitMapping
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide
from school.reasons import required_text

# So many are written in a few seconds, while somebody waits.
MOST_AT_ONCE = 200
UnitsToMap = dict[int, set[int]]


def units_to_map(enrolment: Enrolment) -> list[Unit]:
    """Return units of the present syllabus that were flown or credited in it, or that earlier moves counted into it."""
    wanted = load_units_to_map([enrolment], enrolment.syllabus_id)[enrolment.pk]
    return list(Unit.objects.filter(pk__in=wanted).select_related("stage").order_by("stage__number", "number"))


def load_units_to_map(enrolments: Sequence[Enrolment], syllabus: int) -> UnitsToMap:
    """Return for each of many what units_to_map() returns for one, as keys. Four queries."""
    found: UnitsToMap = {row.pk: set() for row in enrolments}
    flown = Lesson.objects.filter(enrolment__in=found, unit__stage__syllabus=syllabus)
    # What an earlier move counted into this issue has no lesson in it and would be lost at the next move.
    moved = UnitMapping.objects.filter(move__enrolment__in=found, new__stage__syllabus=syllabus)
    newest = CreditDecision.objects.filter(enrolment__in=found).order_by("enrolment", "-decided_at", "-pk")
    last = list(newest.distinct("enrolment").values_list("pk", flat=True))
    credited = CreditedUnit.objects.filter(decision__in=last, unit__stage__syllabus=syllabus)
    for rows in (
        flown.values_list("enrolment", "unit").distinct(),
        moved.values_list("move__enrolment", "new"),
        credited.values_list("decision__enrolment", "unit"),
    ):
        for enrolment, unit in rows:
            found[enrolment].add(unit)
    return found


def reasons_against(enrolments: Sequence[Enrolment], after: Syllabus) -> dict[int, str]:
    """Return why students cannot move now, by enrolment. Two queries."""
    unsigned = set(Lesson.objects.unsigned().filter(enrolment__in=enrolments).values_list("enrolment", flat=True))
    students = [row.student_id for row in enrolments]
    there = Enrolment.objects.filter(student__in=students, syllabus=after, ended_on=None)
    twice = set(there.values_list("student", flat=True))
    return {
        row.pk: "a lesson is being written: sign or discard it first"
        if row.pk in unsigned
        else f"also enrolled in {after}: end that one first"
        for row in enrolments
        if row.pk in unsigned or row.student_id in twice
    }


def likely_unit(old: Unit, units: list[Unit]) -> Unit | None:
    """Return the unit that an old one most likely became, by its title or else its number."""
    # The title first: where a unit was split or inserted, all numbers after it shift and the titles do not.
    titled = [unit for unit in units if unit.title == old.title]
    return next(iter(titled or [unit for unit in units if unit.number == old.number]), None)


@transaction.atomic
def move_enrolment(
    *,
    enrolment: Enrolment,
    syllabus: Syllabus,
    mapping: Mapping[Unit, Unit | None],
    by: Person,
    at: datetime,
    reason: str = "",
) -> SyllabusMove:
    """Move a student to another issue. Every unit flown must be mapped, to a unit of the new one or to nothing.

    The lessons stay as they were signed, under the unit they were flown in. `reason`: of many who are moved at once.
    """
    enrolment = Enrolment.objects.select_for_update(of=("self",)).select_related("student").get(pk=enrolment.pk)
    if syllabus.pk == enrolment.syllabus_id:
        raise Refusal(f"{enrolment.student} is already in this issue.")
    # The database allows one open enrolment in a syllabus; refused here, the sentence says what to do.
    other = Enrolment.objects.filter(student=enrolment.student_id, syllabus=syllabus, ended_on=None)
    if other.exists():
        raise Refusal(f"{enrolment.student} has another enrolment in {syllabus}: end that one first.")
    _refuse_move(enrolment, syllabus, mapping)
    move = SyllabusMove.objects.create(
        enrolment=enrolment, before=enrolment.syllabus, after=syllabus, moved_at=at, moved_by=by
    )
    UnitMapping.objects.bulk_create(UnitMapping(move=move, old=old, new=new) for old, new in mapping.items())
    enrolment.syllabus = syllabus
    enrolment.save(update_fields=["syllabus"])
    before, after = {"syllabus": str(move.before)}, {"syllabus": str(syllabus)}
    after |= {"reason": reason} if reason else {}
    journal.record(by=by, at=at, what="moved to another syllabus", subject=enrolment, before=before, after=after)
    return move


def _refuse_move(enrolment: Enrolment, syllabus: Syllabus, mapping: Mapping[Unit, Unit | None]) -> None:
    # A lesson that is being written would be signed under an issue that the student has left.
    unsigned = Lesson.objects.filter(enrolment=enrolment).unsigned()
    if unsigned.exists():
        raise Refusal(f"A lesson of {enrolment.student} is being written: sign or discard it first.")
    # Nothing is dropped in silence: “counts as nothing” is an answer too, and somebody has to give it.
    unmapped = [unit for unit in units_to_map(enrolment) if unit not in mapping]
    if unmapped:
        raise Refusal(f"Choose what these count as in the new issue: {', '.join(str(unit) for unit in unmapped)}.")
    if any(new is not None and new.stage.syllabus_id != syllabus.pk for new in mapping.values()):
        raise Refusal("A completed unit can only count as a unit of the new issue.")


@transaction.atomic
def move_students(
    *,
    students: Collection[UUID],
    before: Syllabus,
    after: Syllabus,
    mapping: Mapping[Unit, Unit | None],
    reason: str,
    by: Person,
    at: datetime,
) -> list[Enrolment]:
    """Move students by enrolment from one issue to another. `mapping`: for all of them, each unit that any completed.

    Refused as a whole where one of them cannot move. The lessons stay as they were signed.
    """
    if not can_decide(by):
        raise Refusal("Only the chief instructor may move students to another issue.")
    if not students:
        raise Refusal("Choose at least one student.")
    if len(students) > MOST_AT_ONCE:
        raise Refusal(f"{MOST_AT_ONCE} students are the most at once: choose fewer. Nobody was moved.")
    reason = required_text(reason, "Write why: the journal keeps the reason with each student.", most=300)
    rows = Enrolment.objects.for_pages().select_for_update(of=("self",)).filter(uid__in=students)
    # In one order, so that two who move the same students wait for each other and do not deadlock.
    enrolments = list(rows.order_by("pk"))
    gone = [row.student.name for row in enrolments if row.syllabus_id != before.pk or row.ended_on]
    if gone or len(enrolments) < len(students):
        raise Refusal(f"{', '.join(gone[:3]) or 'A student'} left this issue meanwhile. Nobody was moved: look again.")
    wanted = load_units_to_map(enrolments, before.pk)
    for row in enrolments:
        # Each has the units of their own: a mapping of others would say that they were looked at too.
        own = {old: new for old, new in mapping.items() if old.pk in wanted[row.pk]}
        move_enrolment(enrolment=row, syllabus=after, mapping=own, by=by, at=at, reason=reason)
    return enrolments

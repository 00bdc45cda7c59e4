"""Correct a signed lesson: a new version begins as a copy and counts once it is signed."""

from datetime import datetime

from django.db import transaction

from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure
from lessons import actions as lesson_actions
from lessons.models import Circuit, Lesson
from school.models import Person


@transaction.atomic
def begin_correction(*, lesson: Lesson, reason: str, by: Person, at: datetime) -> Lesson:
    """Begin the new version as a copy of everything recorded. The signed version stays as it is."""
    version = lesson_actions.begin_correction(lesson=lesson, reason=reason, by=by, at=at)
    # The triggers refuse every change of a signed lesson, so nothing differs between the first row copied and the last.
    circuits: dict[int, Circuit] = {}
    for circuit in lesson.circuits.order_by("number"):
        circuits[circuit.pk] = Circuit.objects.create(
            lesson=version,
            number=circuit.number,
            ending=circuit.ending,
            closed=circuit.closed,
            landing_kind=circuit.landing_kind,
            shown=circuit.shown,
        )
    # In the order of the keys: attempts flown by themselves have no other order, and the copy has to retain it.
    for attempt in (
        Attempt.objects.filter(lesson=lesson)
        .order_by("pk")
        .prefetch_related("faults_seen", "criteria_seen", "measures")
    ):
        copy = Attempt.objects.create(
            lesson=version,
            circuit=circuits[attempt.circuit_id] if attempt.circuit_id else None,
            part=attempt.part,
            manoeuvre_id=attempt.manoeuvre_id,
            ordinal=attempt.ordinal,
            level=attempt.level,
            step=attempt.step,
            help=attempt.help,
            kept=attempt.kept,
            by_closing=attempt.by_closing,
        )
        FaultSeen.objects.bulk_create(
            FaultSeen(attempt=copy, fault_id=seen.fault_id) for seen in attempt.faults_seen.all()
        )
        CriterionSeen.objects.bulk_create(
            CriterionSeen(attempt=copy, criterion_id=row.criterion_id, done=row.done)
            for row in attempt.criteria_seen.all()
        )
        Measure.objects.bulk_create(
            Measure(attempt=copy, target_id=row.target_id, value=row.value, unit=row.unit, uncertainty=row.uncertainty)
            for row in attempt.measures.all()
        )
    _copy_changed_grades(lesson, version)
    return version


def _copy_changed_grades(lesson: Lesson, version: Lesson) -> None:
    """Carry over what the instructor decided against a proposal. Other grades follow what is corrected."""
    Grade.objects.bulk_create(
        Grade(lesson=version, manoeuvre_id=grade.manoeuvre_id, given=grade.given, given_step=grade.given_step)
        for grade in Grade.objects.filter(lesson=lesson)
        if grade.changed
    )

"""Map single rows to the facts that the readiness engine reads. Nothing is queried beyond the row."""

from collections.abc import Iterable, Sequence
from datetime import date, tzinfo
from typing import NamedTuple

from grading import models
from grading.rules.in_force import is_in_force
from grading.rules.marking import Deviation
from grading.rules.readiness import facts as fact
from lessons import models as lessons
from lessons.rules.scale import Ending, Part, UnitKind
from lessons.rules.units import convert
from school.days import day_of, day_of_optional
from school.models import Paper


def was_in_force(release: models.Release, on: date, zone: tzinfo) -> bool:
    """Return whether a release that is already loaded was in force at the end of a day; `zone`: the school's."""
    withdrawn = day_of_optional(release.withdrawn_at, zone)
    return is_in_force(release.valid_from, release.valid_until, withdrawn, on)


def held_for_flight(release: models.Release, lesson: lessons.Lesson, zone: tzinfo) -> bool:
    """Return whether a release was in force when a lesson was flown: one that is withdrawn later that day was.

    Where off blocks is not recorded, the day is judged at its end.
    """
    gone, begun = release.withdrawn_at, lesson.off_blocks
    if gone is not None and begun is not None and begun < gone and day_of(begun, zone) == lesson.on:
        return release.valid_from <= lesson.on <= release.valid_until
    return was_in_force(release, lesson.on, zone)


def map_facts(
    enrolment: lessons.Enrolment,
    papers: tuple[fact.PaperFact, ...],
    tests: Iterable[lessons.KnowledgeTest],
    endorsements: Iterable[lessons.Endorsement],
    flown: tuple[fact.LessonFact, ...],
    set_aside: Iterable[models.SetAside],
    zone: tzinfo,
    on: date,
    brought_forward: fact.BroughtForwardFact | None = None,
) -> fact.Facts:
    """Collect the facts of one enrolment as of a day. `set_aside`: what is in force on the day."""
    kind = enrolment.aircraft_type.on(on)
    return fact.Facts(
        student=fact.StudentFact(
            name=enrolment.student.name,
            born=enrolment.student.born,
            certificate="lapl" if enrolment.for_lapl else "",
        ),
        aircraft_type=fact.AircraftTypeFact(
            code=kind.code,
            name=kind.name,
            tailwheel=kind.tailwheel,
            retractable=kind.retractable,
            constant_speed_propeller=kind.constant_speed_propeller,
            flaps=kind.flaps,
            horsepower=kind.horsepower,
        ),
        # Who it is today says nothing about an earlier day: the engine takes the one who gave most lessons.
        own_instructor=None,
        papers=papers,
        # A written test without topics is another one.
        knowledge_tests=tuple(_map_knowledge_test(row) for row in tests if row.topics),
        endorsements=tuple(_map_endorsement(row, zone) for row in endorsements),
        lessons=flown,
        set_aside=tuple(_map_set_aside(row, zone) for row in set_aside),
        brought_forward=brought_forward,
    )


def map_paper(row: Paper, zone: tzinfo) -> fact.PaperFact:
    return fact.PaperFact(
        kind=row.kind,
        issued=row.issued,
        expires=row.expires,
        medical_class=row.medical_class or None,
        recorded=day_of(row.recorded_at, zone),
        void_from=day_of_optional(row.voided_at, zone),
    )


def _map_knowledge_test(row: lessons.KnowledgeTest) -> fact.KnowledgeTestFact:
    return fact.KnowledgeTestFact(
        on=row.taken_on,
        aircraft_type=row.aircraft_type.code,
        topics=tuple(row.topics),
        wrong=row.wrong,
        reviewed=row.reviewed_on,
        by=row.given_by.name,
    )


def _map_endorsement(row: lessons.Endorsement, zone: tzinfo) -> fact.EndorsementFact:
    return fact.EndorsementFact(
        kind=row.kind,
        on=row.given_on,
        by=row.given_by.name,
        aircraft_type=row.aircraft_type.code,
        withdrawn=day_of_optional(row.withdrawn_at, zone),
    )


def _map_set_aside(row: models.SetAside, zone: tzinfo) -> fact.SetAsideFact:
    return fact.SetAsideFact(
        requirement=row.requirement, on=day_of(row.decided_at, zone), by=row.decided_by.name, reason=row.reason
    )


def map_measure(measure: models.Measure, seen: Deviation, counts: bool) -> fact.GateNumberFact:
    if measure.uncertainty is None:
        return map_deviation(measure.target, seen, counts)
    uncertainty = float(convert(measure.uncertainty, measure.effective_unit, measure.target.unit))
    return map_deviation(measure.target, seen, counts, round(uncertainty, 6))


def map_deviation(
    target: lessons.GateTarget, seen: Deviation, counts: bool, uncertainty: float = 0.0
) -> fact.GateNumberFact:
    return fact.GateNumberFact(
        target.gate.code,
        target.quantity,
        # Facts are JSON, which has no fractions; six digits are far finer than any tolerance.
        round(float(seen.amount), 6),
        float(target.over),
        float(target.under),
        target.unit,
        counts,
        uncertainty,
    )


class PlacedAttempt(NamedTuple):
    """An attempt in its place in the lesson; `items`: the training items that its manoeuvre counts as."""

    circuit: int | None
    part: str
    items: list[str]
    attempt: fact.AttemptFact


def map_lesson(
    row: lessons.Lesson,
    circuits: Iterable[tuple[int, int, str, bool]],
    seen: Sequence[PlacedAttempt],
    zone: tzinfo,
) -> fact.LessonFact:
    """Map a lesson. `circuits`: key, number, ending, shown of each, by number; `seen`: every attempt in its place."""
    circuits = tuple(circuits)
    parts = {(s.circuit, s.part): s.attempt for s in seen if s.circuit}
    shown_by_instructor = {key for key, _, _, shown in circuits if shown}
    return fact.LessonFact(
        id=str(row.uid),
        number=row.number,
        on=row.on,
        signed=day_of_optional(row.signed_at, zone),
        instructor=row.instructor.name,
        aircraft_type=row.aircraft.type.code if row.aircraft else "",
        unit=f"{row.unit.number}: {row.unit.title}",
        kind=UnitKind(row.unit.kind),
        training=_training_items(row, (s for s in seen if s.circuit not in shown_by_instructor)),
        circuits=tuple(
            fact.CircuitFact(
                number=place,
                ending=Ending(ending),
                takeoff=parts.get((key, Part.TAKEOFF)),
                downwind=parts.get((key, Part.DOWNWIND)),
                approach=parts.get((key, Part.APPROACH)),
                landing=parts.get((key, Part.LANDING)),
                go_around=parts.get((key, Part.GO_AROUND)),
                shown=shown,
            )
            for key, place, ending, shown in circuits
        ),
        manoeuvres=tuple(s.attempt for s in seen if s.circuit is None),
        dual_minutes=row.dual_minutes,
        solo_minutes=row.solo_minutes,
    )


def _training_items(row: lessons.Lesson, seen: Iterable[PlacedAttempt]) -> tuple[str, ...]:
    """Return the items of training received: those of the manoeuvres an instructor taught and observed."""
    # A student alone practises and receives no training from an instructor.
    if row.unit.kind == UnitKind.SOLO:
        return ()
    # At any level: 14 CFR 61.87(d) asks for training that was received and logged, and other requirements ask for
    # proficiency.
    return tuple(sorted({item for s in seen if s.attempt.level and s.attempt.level.observed for item in s.items}))

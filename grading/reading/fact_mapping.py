"""One row as the fact that the readiness engine reads of it. Asks the database nothing beyond the row."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import NamedTuple

from grading import models
from grading.rules.marking import Deviation
from grading.rules.readiness import facts as fact
from lessons import models as lessons
from lessons.rules.scale import Ending, Part, UnitKind
from school.models import Paper


def day(at: datetime) -> date:
    return at.astimezone(UTC).date()


def facts(
    enrolment: lessons.Enrolment,
    papers: tuple[fact.Paper, ...],
    tests: Iterable[lessons.KnowledgeTest],
    endorsements: Iterable[lessons.Endorsement],
    flown: tuple[fact.Lesson, ...],
    set_aside: Iterable[models.SetAside],
) -> fact.Facts:
    """`set_aside`: what stands on the day."""
    kind = enrolment.aircraft_type
    return fact.Facts(
        student=fact.Student(name=enrolment.student.name, born=enrolment.student.born),
        aircraft_type=fact.AircraftType(code=kind.code, name=kind.name, tailwheel=kind.tailwheel),
        # Who it is today says nothing about an earlier day: the engine takes whoever gave most lessons.
        own_instructor=None,
        papers=papers,
        # A written test without topics is another one.
        knowledge_tests=tuple(_knowledge_test(row) for row in tests if row.topics),
        endorsements=tuple(map(_endorsement, endorsements)),
        lessons=flown,
        set_aside=tuple(map(_set_aside, set_aside)),
    )


def paper(row: Paper) -> fact.Paper:
    return fact.Paper(
        kind=row.kind,
        issued=row.issued,
        expires=row.expires,
        medical_class=row.medical_class or None,
        recorded=day(row.recorded_at),
        void_from=day(row.voided_at) if row.voided_at else None,
    )


def _knowledge_test(row: lessons.KnowledgeTest) -> fact.KnowledgeTest:
    return fact.KnowledgeTest(
        on=row.taken_on,
        aircraft_type=row.aircraft_type.code,
        topics=tuple(row.topics),
        wrong=row.wrong,
        reviewed=row.reviewed_on,
        by=row.given_by.name,
    )


def _endorsement(row: lessons.Endorsement) -> fact.Endorsement:
    return fact.Endorsement(
        kind=row.kind,
        on=row.given_on,
        by=row.given_by.name,
        aircraft_type=row.aircraft_type.code,
        withdrawn=day(row.withdrawn_at) if row.withdrawn_at else None,
    )


def _set_aside(row: models.SetAside) -> fact.SetAside:
    return fact.SetAside(requirement=row.requirement, on=day(row.decided_at), by=row.decided_by.name, reason=row.reason)


def number(target: lessons.GateTarget, seen: Deviation) -> fact.Number:
    return fact.Number(
        target.gate.code,
        target.quantity,
        round(float(seen.amount), 6),
        float(target.over),
        float(target.under),
        target.unit,
    )


class Seen(NamedTuple):
    """An attempt where it was flown; `items`: what its manoeuvre counts as training in."""

    circuit: int | None
    part: str
    items: list[str]
    attempt: fact.Attempt


def lesson(row: lessons.Lesson, circuits: Iterable[tuple[int, int, str]], seen: Sequence[Seen]) -> fact.Lesson:
    """`circuits`: key, number and ending of each, by number; `seen`: every attempt by its key."""
    parts = {(s.circuit, s.part): s.attempt for s in seen if s.circuit}
    return fact.Lesson(
        id=str(row.uid),
        number=row.number,
        on=row.on,
        signed=day(row.signed_at) if row.signed_at else None,
        instructor=row.instructor.name,
        aircraft_type=row.aircraft.type.code if row.aircraft else "",
        unit=f"{row.unit.number}: {row.unit.title}",
        kind=UnitKind(row.unit.kind),
        training=_training(row, seen),
        circuits=tuple(
            fact.Circuit(
                number=place,
                ending=Ending(ending),
                takeoff=parts.get((key, Part.TAKEOFF)),
                approach=parts.get((key, Part.APPROACH)),
                landing=parts.get((key, Part.LANDING)),
                go_around=parts.get((key, Part.GO_AROUND)),
            )
            for key, place, ending in circuits
        ),
        manoeuvres=tuple(s.attempt for s in seen if s.circuit is None),
        dual_minutes=row.dual_minutes,
        solo_minutes=row.solo_minutes,
    )


def _training(row: lessons.Lesson, seen: Iterable[Seen]) -> tuple[str, ...]:
    """Items of training received: those of the manoeuvres an instructor taught and observed."""
    if row.unit.kind == UnitKind.SOLO:
        return ()
    return tuple(sorted({item for s in seen if s.attempt.level and s.attempt.level.observed for item in s.items}))

"""The records that are sealed, as plain JSON values: what a signature is set under.

Dates and times are ISO 8601 text, times in UTC; measured values are text, so that no digit is lost.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from grading.models import Attempt, Grade, Release, Signature
from lessons.models import Circuit, Lesson
from school.models import Person

FORMAT = 2


@dataclass
class Seen:
    """What was seen in a lesson, in the order in which it is sealed."""

    circuits: list[Circuit] = field(default_factory=list)
    attempts: list[Attempt] = field(default_factory=list)
    grades: list[Grade] = field(default_factory=list)


def seen_in(lessons: Iterable[Lesson]) -> dict[int, Seen]:
    """By the primary key of each lesson, in six queries, however many."""
    seen: dict[int, Seen] = {lesson.pk: Seen() for lesson in lessons}
    for circuit in Circuit.objects.filter(lesson__in=seen).order_by("number"):
        seen[circuit.lesson_id].circuits.append(circuit)
    attempts = (
        Attempt.objects.filter(lesson__in=seen)
        .select_related("manoeuvre")
        .prefetch_related("faults_seen__fault", "criteria_seen__criterion", "measures__target__gate")
        .order_by("circuit__number", "pk")
    )
    for attempt in attempts:
        seen[attempt.lesson_id].attempts.append(attempt)
    grades = Grade.objects.filter(lesson__in=seen).select_related("manoeuvre").order_by("manoeuvre__order", "pk")
    for grade in grades:
        seen[grade.lesson_id].grades.append(grade)
    return seen


def lesson_record(lesson: Lesson, signature: Signature, seen: Seen | None = None) -> dict[str, Any]:
    """Everything a signed lesson says."""
    seen = seen or seen_in([lesson])[lesson.pk]
    attempts = _by_circuit(seen.attempts)
    return {
        "format": FORMAT,
        "record": "lesson",
        "id": str(lesson.uid),
        "number": lesson.number,
        "version": lesson.version,
        "replaces": str(lesson.supersedes.uid) if lesson.supersedes else None,
        "correction_reason": lesson.correction_reason,
        "student": person(lesson.enrolment.student),
        "enrolment": str(lesson.enrolment.uid),
        "unit": {"number": lesson.unit.number, "title": lesson.unit.title, "kind": lesson.unit.kind},
        "syllabus": str(lesson.unit.stage.syllabus),
        "scale": str(lesson.unit.stage.syllabus.scale),
        "date": lesson.on.isoformat(),
        "instructor": person(lesson.instructor),
        **_flight(lesson),
        "circuits": [_circuit(circuit, attempts[circuit.pk]) for circuit in seen.circuits],
        "manoeuvres": [_attempt(attempt) for attempt in attempts[None]],
        "grades": [_grade(grade) for grade in seen.grades],
        "outside_release": lesson.outside_release,
        "remarks": lesson.remarks,
        "next_time": lesson.next_time,
        "signature": signature_record(signature),
    }


def acknowledgement_record(signature: Signature) -> dict[str, Any]:
    assert signature.lesson is not None
    return {
        "format": FORMAT,
        "record": "acknowledgement",
        "lesson": str(signature.lesson.uid),
        "signature": signature_record(signature),
    }


def signature_record(signature: Signature) -> dict[str, Any]:
    """What was drawn stands in it only where something was."""
    drawn = {"drawn": signature.drawn} if signature.drawn else {}
    return drawn | {
        "id": str(signature.uid),
        "capacity": signature.capacity,
        "act": signature.act,
        "meaning": signature.meaning,
        "remark": signature.remark,
        "name": signature.name,
        "reference": signature.reference,
        "certificate_number": signature.certificate_number,
        "certificate_valid": signature.certificate_valid,
        "signed_at": moment(signature.signed_at),
    }


def release_record(release: Release, signature: Signature) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "release",
        "id": str(release.uid),
        "student": person(release.enrolment.student),
        "kind": release.kind,
        "endorsement": release.endorsement,
        "aircraft_type": release.aircraft_type.name,
        "aircraft_type_code": release.aircraft_type.code,
        "aerodrome": str(release.aerodrome),
        "aerodrome_code": release.aerodrome.ident,
        "limits": {
            "runways": release.runways,
            "max_wind_kt": release.max_wind_kt,
            "max_crosswind_kt": release.max_crosswind_kt,
            "min_visibility_sm": str(release.min_visibility_sm),
            "min_ceiling_ft": release.min_ceiling_ft,
        },
        "valid_from": release.valid_from.isoformat(),
        "valid_until": release.valid_until.isoformat(),
        "training_on": release.training_on.isoformat(),
        "endorsed_by": person(release.endorsed_by),
        "reason": release.reason,
        "verdict": release.verdict,
        "signature": signature_record(signature),
    }


def withdrawal_record(release: Release) -> dict[str, Any]:
    assert release.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "withdrawal",
        "release": str(release.uid),
        "reason": release.withdrawal_reason,
        "by": person(release.withdrawn_by),
        "at": moment(release.withdrawn_at),
    }


def person(somebody: Person) -> dict[str, str]:
    return {"name": somebody.name, "reference": somebody.reference}


def moment(at: datetime | None) -> str | None:
    return at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z") if at else None


def _flight(lesson: Lesson) -> dict[str, Any]:
    wind = lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt
    return {
        "aircraft": lesson.aircraft.registration if lesson.aircraft else None,
        "aircraft_type": lesson.aircraft.type.name if lesson.aircraft else None,
        "aircraft_type_code": lesson.aircraft.type.code if lesson.aircraft else None,
        "runway": str(lesson.runway) if lesson.runway else None,
        "off_blocks": moment(lesson.off_blocks),
        "on_blocks": moment(lesson.on_blocks),
        "minutes": {
            "dual": lesson.dual_minutes,
            "solo": lesson.solo_minutes,
            "night": lesson.night_minutes,
            "instrument": lesson.instrument_minutes,
            "ground": lesson.ground_minutes,
        },
        "takeoffs": lesson.takeoffs,
        "landings": lesson.landings,
        "wind": dict(zip(("from", "speed_kt", "gust_kt"), wind, strict=True)) | {"north": lesson.wind_reference},
        "weather_report": lesson.weather_report,
    }


def _by_circuit(attempts: list[Attempt]) -> dict[int | None, list[Attempt]]:
    grouped: dict[int | None, list[Attempt]] = defaultdict(list)
    for attempt in attempts:
        grouped[attempt.circuit_id].append(attempt)
    return grouped


def _circuit(circuit: Circuit, attempts: list[Attempt]) -> dict[str, Any]:
    return {"number": circuit.number, "ending": circuit.ending, **{a.part: _attempt(a) for a in attempts}}


def _attempt(attempt: Attempt) -> dict[str, Any]:
    return {
        "manoeuvre": attempt.manoeuvre.code,
        "level": attempt.level,
        "step": attempt.tapped or None,
        "help": attempt.help,
        "faults": sorted(seen.fault.code for seen in attempt.faults_seen.all()),
        "criteria": {row.criterion.code: row.done for row in attempt.criteria_seen.all()},
        "measures": sorted(
            (
                {
                    "gate": measure.target.gate.code,
                    "quantity": measure.target.quantity,
                    "value": str(measure.value),
                    "unit": measure.read_in,
                    "target": str(measure.target.value),
                    "target_unit": measure.target.unit,
                    "over": str(measure.target.over),
                    "under": str(measure.target.under),
                }
                for measure in attempt.measures.all()
            ),
            key=lambda measure: (measure["gate"], measure["quantity"]),
        ),
    }


def _grade(grade: Grade) -> dict[str, Any]:
    return {
        "manoeuvre": grade.manoeuvre.code,
        "title": grade.manoeuvre.title,
        "proposed": grade.proposed,
        "proposed_step": grade.proposed_step or grade.proposed,
        "explanation": grade.explanation,
        "given": grade.given,
        "given_step": grade.given_step or grade.given,
        "help": grade.help,
    }

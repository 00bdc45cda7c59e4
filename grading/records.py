"""The records that are sealed, as plain JSON values: what a signature is set under.

Dates and times are ISO 8601 text, times in UTC; measured values are text, so that no digit is lost.
"""

from datetime import UTC, datetime
from typing import Any

from grading.models import Attempt, Grade, Release, Signature
from grading.proposals import with_what_was_seen
from lessons.models import Circuit, Lesson
from school.models import Person

FORMAT = 2


def lesson_record(lesson: Lesson, signature: Signature) -> dict[str, Any]:
    """Everything a signed lesson says, in six queries."""
    attempts = (
        Attempt.objects.filter(lesson=lesson)
        .select_related("manoeuvre", "circuit")
        .prefetch_related(*with_what_was_seen())
        .order_by("circuit__number", "pk")
    )
    grades = Grade.objects.filter(lesson=lesson).select_related("manoeuvre").order_by("manoeuvre__order")
    return record_of(lesson, signature, list(lesson.circuits.order_by("number")), list(attempts), list(grades))


def record_of(
    lesson: Lesson, signature: Signature, circuits: list[Circuit], attempts: list[Attempt], grades: list[Grade]
) -> dict[str, Any]:
    """The same from what is at hand, in the order of the record: circuits, those flown alone after them."""
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
        "circuits": [_circuit(circuit, attempts) for circuit in circuits],
        "manoeuvres": [_attempt(attempt) for attempt in attempts if attempt.circuit_id is None],
        "grades": [_grade(grade) for grade in grades],
        "outside_release": lesson.outside_release,
        "remarks": lesson.remarks,
        "next_time": lesson.next_time,
        "signature": signature_record(signature),
    }


def signature_record(signature: Signature) -> dict[str, Any]:
    return {
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
        "aerodrome": str(release.aerodrome),
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


def person(somebody: Person) -> dict[str, str]:
    return {"name": somebody.name, "reference": somebody.reference}


def moment(at: datetime | None) -> str | None:
    return at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z") if at else None


def _flight(lesson: Lesson) -> dict[str, Any]:
    wind = lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt
    return {
        "aircraft": lesson.aircraft.registration if lesson.aircraft else None,
        "aircraft_type": lesson.aircraft.type.name if lesson.aircraft else None,
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


def _circuit(circuit: Circuit, attempts: list[Attempt]) -> dict[str, Any]:
    parts = {a.part: _attempt(a) for a in attempts if a.circuit_id == circuit.pk}
    return {"number": circuit.number, "ending": circuit.ending, **parts}


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

"""Build the records of lessons and releases that are sealed, as plain JSON values: what a signature covers.

Dates and times are ISO 8601 text, times in UTC; measured values are text, so that no digit is lost.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, NamedTuple

from grading.models import Attempt, CriterionSeen, FaultSeen, FlightTrack, Grade, Measure, Release, Signature
from lessons.models import Circuit, Lesson
from school.models import Person

# Format 1 had no steps, criteria, units, north reference or weather report. Its seals stay as they are;
# audit/comparison.py reads both.
FORMAT = 2


class AttemptRow(NamedTuple):
    """An attempt as it is sealed; `step` is empty where it has the name of its level."""

    pk: int
    lesson: int
    circuit: int | None
    part: str
    manoeuvre: str
    level: str | None
    step: str
    help: str
    kept: str
    by_closing: bool
    counted: str


class CircuitRow(NamedTuple):
    pk: int
    number: int
    ending: str
    landing_kind: str
    shown: bool


@dataclass
class LessonContents:
    """Everything seen in a lesson, in the order of sealing; what belongs to an attempt, by the key of the attempt."""

    circuits: list[CircuitRow] = field(default_factory=list)
    attempts: dict[int | None, list[AttemptRow]] = field(default_factory=lambda: defaultdict(list))  # by circuit
    grades: list[Grade] = field(default_factory=list)
    faults: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    criteria: dict[int, dict[str, bool]] = field(default_factory=lambda: defaultdict(dict))
    measures: dict[int, list[dict[str, str]]] = field(default_factory=lambda: defaultdict(list))
    tracks: list[dict[str, Any]] = field(default_factory=list)


def load_lesson_contents(lessons: Iterable[Lesson]) -> dict[int, LessonContents]:
    """Load contents by the primary key of each lesson, in seven queries for any number of lessons."""
    seen: dict[int, LessonContents] = {lesson.pk: LessonContents() for lesson in lessons}
    # Every list has a fixed order: the audit compares lists place by place, and another order would be a false alarm.
    circuits = Circuit.objects.filter(lesson__in=seen).order_by("number")
    for lesson, *row in circuits.values_list("lesson", *CircuitRow._fields):
        seen[lesson].circuits.append(CircuitRow(*row))
    attempts = Attempt.objects.filter(lesson__in=seen).order_by("circuit__number", "pk")
    # Columns and no instances: an audit loads the lessons of a whole batch of seals at once.
    columns = [name if name != "manoeuvre" else "manoeuvre__code" for name in AttemptRow._fields]
    for tried in map(AttemptRow._make, attempts.values_list(*columns)):
        seen[tried.lesson].attempts[tried.circuit].append(tried)
    for grade in Grade.objects.filter(lesson__in=seen).select_related("manoeuvre").order_by("manoeuvre__order", "pk"):
        seen[grade.lesson_id].grades.append(grade)
    _load_attempt_details(seen)
    _load_tracks(seen)
    return seen


def _load_tracks(seen: dict[int, LessonContents]) -> None:
    """Load which flight tracks were kept before a lesson was signed: the file by its hash, and never a position."""
    rows = FlightTrack.objects.filter(lesson__in=seen, after_signing=False).order_by("pk")
    for lesson, sha256, form, first_at, last_at, method in rows.values_list(
        "lesson", "sha256", "form", "first_at", "last_at", "method"
    ):
        track = {"file": sha256, "form": form, "method": method}
        track |= {"first_at": utc_timestamp(first_at), "last_at": utc_timestamp(last_at)}
        seen[lesson].tracks.append(track)


def _load_attempt_details(seen: dict[int, LessonContents]) -> None:
    within = {"attempt__lesson__in": seen}
    faults = FaultSeen.objects.filter(**within).order_by("fault__code")
    for lesson, attempt, code in faults.values_list("attempt__lesson", "attempt", "fault__code"):
        seen[lesson].faults[attempt].append(code)
    criteria = CriterionSeen.objects.filter(**within)
    for lesson, attempt, code, done in criteria.values_list("attempt__lesson", "attempt", "criterion__code", "done"):
        seen[lesson].criteria[attempt][code] = done
    measures = Measure.objects.filter(**within).values_list(
        "attempt__lesson",
        "attempt",
        "target__gate__code",
        "target__quantity",
        "value",
        "unit",
        "target__value",
        "target__unit",
        "target__over",
        "target__under",
        "uncertainty",
    )
    for lesson, attempt, gate, quantity, value, unit, target, target_unit, over, under, uncertainty in measures:
        measure = {
            "gate": gate,
            "quantity": quantity,
            # With the target and tolerance of that day: the number alone would not say whether it was inside.
            "value": str(value),
            "unit": unit or target_unit,
            "target": str(target),
            "target_unit": target_unit,
            "over": str(over),
            "under": str(under),
        }
        # Only where there is one: a number that was seen is sealed as it always was.
        measure |= {} if uncertainty is None else {"from_track": f"±{uncertainty}"}
        seen[lesson].measures[attempt].append(measure)


def build_lesson_payload(lesson: Lesson, signature: Signature, seen: LessonContents | None = None) -> dict[str, Any]:
    """Build everything that a signed lesson states."""
    seen = seen or load_lesson_contents([lesson])[lesson.pk]
    return {
        "format": FORMAT,
        "record": "lesson",
        "id": str(lesson.uid),
        "number": lesson.number,
        "version": lesson.version,
        "replaces": str(lesson.supersedes.uid) if lesson.supersedes else None,
        "correction_reason": lesson.correction_reason,
        # The name as it was at signing, and the school number, which still identifies the person after a change of
        # name.
        "student": person_reference(lesson.enrolment.student),
        "enrolment": str(lesson.enrolment.uid),
        "unit": {"number": lesson.unit.number, "title": lesson.unit.title, "kind": lesson.unit.kind},
        "syllabus": str(lesson.unit.stage.syllabus),
        "scale": str(lesson.unit.stage.syllabus.scale),
        "date": lesson.on.isoformat(),
        "instructor": person_reference(lesson.instructor),
        **_flight(lesson),
        "circuits": [
            {
                "number": circuit.number,
                "ending": circuit.ending,
                "landing_kind": circuit.landing_kind,
                "shown": circuit.shown,
                **{row.part: _attempt(row, seen) for row in seen.attempts[circuit.pk]},
            }
            for circuit in seen.circuits
        ],
        "manoeuvres": [_attempt(row, seen) for row in seen.attempts[None]],
        "grades": [_grade(grade) for grade in seen.grades],
        # Only where there are any: a lesson without is sealed as it always was.
        **({"tracks": seen.tracks} if seen.tracks else {}),
        "outside_release": lesson.outside_release,
        "remarks": lesson.remarks,
        "next_time": lesson.next_time,
        "signature": build_signature_payload(signature),
    }


def build_acknowledgement_payload(signature: Signature) -> dict[str, Any]:
    assert signature.lesson is not None
    return {
        "format": FORMAT,
        "record": "acknowledgement",
        "lesson": str(signature.lesson.uid),
        "signature": build_signature_payload(signature),
    }


def build_signature_payload(signature: Signature) -> dict[str, Any]:
    """Build the record of a signature; handwriting is in it only where there is some."""
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
        "signed_at": utc_timestamp(signature.signed_at),
    }


def build_release_payload(release: Release, signature: Signature) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "record": "release",
        "id": str(release.uid),
        "student": person_reference(release.enrolment.student),
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
        "endorsed_by": person_reference(release.endorsed_by),
        "reason": release.reason,
        # The verdict as the person who decided saw it: derived again, it would use facts that came later.
        "verdict": release.verdict,
        "signature": build_signature_payload(signature),
    }


def build_release_withdrawal_payload(release: Release) -> dict[str, Any]:
    assert release.withdrawn_by is not None
    return {
        "format": FORMAT,
        "record": "withdrawal",
        "release": str(release.uid),
        "reason": release.withdrawal_reason,
        "by": person_reference(release.withdrawn_by),
        "at": utc_timestamp(release.withdrawn_at),
    }


def build_withdrawal_confirmation_payload(release: Release) -> dict[str, Any]:
    alone = "" if release.kind == Release.Kind.DAY else f" {release.get_kind_display()}"
    return {
        "format": FORMAT,
        "record": "confirmation of a withdrawal",
        "release": str(release.uid),
        # Sealed and in no column: another wording would be another format.
        "meaning": f"I have read it: I do not fly solo{alone} until a new release.",
        "by": person_reference(release.enrolment.student),
        "at": utc_timestamp(release.withdrawal_read_at),
    }


def person_reference(somebody: Person) -> dict[str, str]:
    return {"name": somebody.name, "reference": somebody.reference}


def utc_timestamp(at: datetime | None) -> str | None:
    # One zone and whole seconds, so that the same moment is the same text in every record that is compared.
    return at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z") if at else None


def _flight(lesson: Lesson) -> dict[str, Any]:
    wind = lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt
    return {
        "aircraft": lesson.aircraft.registration if lesson.aircraft else None,
        "aircraft_type": lesson.aircraft.type.name if lesson.aircraft else None,
        "aircraft_type_code": lesson.aircraft.type.code if lesson.aircraft else None,
        "runway": str(lesson.runway) if lesson.runway else None,
        "off_blocks": utc_timestamp(lesson.off_blocks),
        "on_blocks": utc_timestamp(lesson.on_blocks),
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


def _attempt(row: AttemptRow, seen: LessonContents) -> dict[str, Any]:
    return {
        "manoeuvre": row.manoeuvre,
        "level": row.level,
        "step": row.step or row.level or None,
        "help": row.help,
        "kept": row.kept,
        "by_closing": row.by_closing,
        "counted": row.counted,
        "faults": sorted(seen.faults[row.pk]),
        "criteria": seen.criteria[row.pk],
        "measures": sorted(seen.measures[row.pk], key=lambda measure: (measure["gate"], measure["quantity"])),
    }


def _grade(grade: Grade) -> dict[str, Any]:
    return {
        "manoeuvre": grade.manoeuvre.code,
        "title": grade.manoeuvre.title,
        # What the app proposed is sealed beside what the instructor gave, so that a later reader sees who decided what.
        "proposed": grade.proposed,
        "proposed_step": grade.proposed_step or grade.proposed,
        "explanation": grade.explanation,
        "given": grade.given,
        "given_step": grade.given_step or grade.given,
        "help": grade.help,
    }

"""Build the content of a progress sheet as plain JSON values: what is sealed is what is printed."""

from collections import defaultdict
from datetime import date
from typing import Any

import msgspec

from grading.evidence.lesson_payload import build_signature_payload, person_reference, utc_timestamp
from grading.models import Grade, Release, Signature
from grading.reading.flown import last_flown
from grading.reading.grade_grid import read_grade_grid
from grading.reading.student_summary import summarise_students
from grading.rules.progress import build_progress
from grading.rules.readiness.json_format import verdict_to_json
from lessons.models import Enrolment, GateSet, Lesson
from lessons.rules.units import DisplayUnits
from school.current import end_of_school_day, get_school

APPROACHES_DRAWN, CIRCUITS_DRAWN = 6, 80


def school_and_student(enrolment: Enrolment, on: date) -> dict[str, Any]:
    """Return what every sheet of a student begins with."""
    school = get_school()
    born = enrolment.student.born
    return {
        "school": school.name,
        "aerodrome": str(school.aerodrome),
        "rules": school.get_rule_set_display(),
        "rule_set": school.rule_set,
        "student": person_reference(enrolment.student) | {"born": born.isoformat() if born else None},
        "on": on.isoformat(),
        "enrolment": {
            "id": str(enrolment.uid),
            "syllabus": str(enrolment.syllabus),
            "aircraft_type": enrolment.aircraft_type.name,
            "enrolled_on": enrolment.enrolled_on.isoformat(),
            "ended_on": enrolment.ended_on.isoformat() if enrolment.ended_on else None,
            "end": enrolment.end,
            "instructor": person_reference(enrolment.instructor),
        },
    }


def build_progress_content(enrolment: Enrolment, on: date) -> dict[str, Any]:
    """Return school, student, enrolment, course, hours, lessons, grades, readiness, release, numbers, signatures."""
    row = summarise_students([enrolment], on)[0]
    lessons = [
        lesson
        # Both days: a lesson of that day that was signed later was not yet in the record then.
        for lesson in Lesson.objects.filter(enrolment=enrolment, on__lte=on, signed_at__lt=end_of_school_day(on))
        .current()
        .for_pages()
        .in_order()
    ]
    signatures = _signatures(lessons)
    return {
        **school_and_student(enrolment, on),
        "course": [
            {
                "number": division["unit"].number,  # type: ignore[attr-defined]
                "title": division["unit"].title,  # type: ignore[attr-defined]
                "state": division["state"],
                "opens_stage": division["opens_stage"],
            }
            for division in row.course.band
        ],
        "hours": _hours(lessons),
        "lessons": [_lesson(lesson, signatures) for lesson in lessons],
        "grades": _grades(lessons),
        "verdict": verdict_to_json(row.verdict),
        "release": _release(row.release),
        "releases": _releases(enrolment, on),
        "units": {"speed": row.units.speed, "length": row.units.length},
        # The numbers of the pictures and not the pictures: what is sealed is what is drawn.
        "approaches": _approaches(lessons, row.units),
        "progress": _plain(build_progress(row.history, CIRCUITS_DRAWN)),
    }


def _approaches(lessons: list[Lesson], units: DisplayUnits) -> dict[str, Any] | None:
    """Return the last circuits in which a number was noted, with the gates and targets they are held against."""
    pattern, circuits = last_flown(lessons, units, APPROACHES_DRAWN)
    if not circuits:
        return None
    last = next(lesson for lesson in reversed(lessons) if lesson.number == circuits[-1].lesson)
    issues = GateSet.objects.in_force(last.on).filter(aircraft_type=last.aircraft.type) if last.aircraft else []
    return {
        "pattern": _plain(pattern),
        "circuits": _plain(circuits),
        "shape": next((issue.shape for issue in issues), ""),
        "last": {
            "date": last.on.isoformat(),
            "runway": str(last.runway) if last.runway else "",
            "wind": {
                "from": last.wind_direction,
                "speed_kt": last.wind_speed_kt,
                "gust_kt": last.wind_gust_kt,
                "north": last.wind_reference,
            },
        },
    }


def _plain(value: Any) -> Any:
    """Return dataclasses as JSON values, sets in order: the same record gives the same fingerprint."""
    return msgspec.json.decode(msgspec.json.encode(value, order="deterministic"))


def _signatures(lessons: list[Lesson]) -> dict[int, dict[str, Any]]:
    grouped: dict[int, dict[str, Any]] = defaultdict(dict)
    for row in Signature.objects.filter(lesson__in=lessons):
        assert row.lesson_id is not None
        grouped[row.lesson_id][row.capacity] = build_signature_payload(row)
    return grouped


def _hours(lessons: list[Lesson]) -> dict[str, int]:
    names = ("dual_minutes", "solo_minutes", "night_minutes", "instrument_minutes", "ground_minutes")
    counts = ("takeoffs", "landings")
    return {name: sum(getattr(lesson, name) for lesson in lessons) for name in (*names, *counts)}


def _lesson(lesson: Lesson, signatures: dict[int, dict[str, Any]]) -> dict[str, Any]:
    return {
        "number": lesson.number,
        "version": lesson.version,
        "date": lesson.on.isoformat(),
        "unit": f"{lesson.unit.number}: {lesson.unit.title}",
        "kind": lesson.unit.kind,
        "aircraft": lesson.aircraft.registration if lesson.aircraft else "",
        "instructor": lesson.instructor.name,
        "dual_minutes": lesson.dual_minutes,
        "solo_minutes": lesson.solo_minutes,
        "ground_minutes": lesson.ground_minutes,
        "landings": lesson.landings,
        "signatures": signatures.get(lesson.pk, {}),
    }


def _grades(lessons: list[Lesson]) -> dict[str, Any]:
    """Return grades over the last lessons: a row for each manoeuvre, a column for each lesson."""
    grid = read_grade_grid(lessons)
    return {
        "lessons": [{"number": lesson.number, "date": lesson.on.isoformat()} for lesson in grid.lessons],
        "rows": [{"title": title, "cells": [_cell(grade) for grade in cells]} for title, cells in grid.rows],
    }


def _cell(grade: Grade | None) -> dict[str, Any] | None:
    return {"level": grade.given, "help": grade.help, "changed": grade.changed} if grade else None


def _release(release: Any) -> dict[str, Any] | None:
    if release is None:
        return None
    signature = release.signatures.first()
    return _limits(release) | {"signature": build_signature_payload(signature) if signature else None}


def _limits(release: Release) -> dict[str, Any]:
    return {
        "runways": release.runways,
        "aerodrome": str(release.aerodrome),
        "max_wind_kt": release.max_wind_kt,
        "max_crosswind_kt": release.max_crosswind_kt,
        # As text, like in the sealed release, so that no digit of the decimal is lost in JSON.
        "min_visibility_sm": str(release.min_visibility_sm),
        "min_ceiling_ft": release.min_ceiling_ft,
        "valid_from": release.valid_from.isoformat(),
        "valid_until": release.valid_until.isoformat(),
        "reason": release.reason,
        "decided_at": utc_timestamp(release.decided_at),
    }


def _releases(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    """Return every release until that day, the oldest first, with its state then: in force, withdrawn, expired."""
    end = end_of_school_day(on)
    rows = Release.objects.filter(enrolment=enrolment, decided_at__lt=end).select_related(
        "aerodrome", "aircraft_type", "endorsed_by", "withdrawn_by"
    )
    signatures = {row.release_id: row for row in Signature.objects.filter(release__in=rows)}
    found = []
    for row in rows.order_by("decided_at", "pk"):
        withdrawn = row.withdrawn_at is not None and row.withdrawn_at < end
        state = "withdrawn" if withdrawn else "expired" if row.valid_until < on else "in_force"
        state = "ahead" if state == "in_force" and row.valid_from > on else state
        signature = signatures.get(row.pk)
        found.append(
            _limits(row)
            | {
                "state": state,
                "kind": row.kind,
                "aircraft_type": row.aircraft_type.name,
                "training_on": row.training_on.isoformat(),
                "endorsed_by": person_reference(row.endorsed_by),
                "signature": build_signature_payload(signature) if signature else None,
                "withdrawal": {
                    "at": utc_timestamp(row.withdrawn_at),
                    "by": person_reference(row.withdrawn_by),
                    "reason": row.withdrawal_reason,
                }
                if withdrawn and row.withdrawn_by
                else None,
            }
        )
    return found

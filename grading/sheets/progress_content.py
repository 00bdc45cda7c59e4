"""Build the content of a progress sheet as plain JSON values: what is sealed is what is printed."""

from collections import defaultdict
from datetime import date
from typing import Any

import msgspec

from grading.evidence.lesson_payload import build_signature_payload, person_reference, utc_timestamp
from grading.models import Grade, Signature
from grading.reading.flown import last_flown
from grading.reading.student_summary import summarise_students
from grading.rules.progress import build_progress
from grading.rules.readiness.json_format import verdict_to_json
from lessons.models import Enrolment, Lesson
from lessons.rules.units import DisplayUnits
from school.current import end_of_school_day, get_school

LESSONS_IN_GRID = 10
APPROACHES_DRAWN, CIRCUITS_DRAWN = 6, 40


def school_and_student(enrolment: Enrolment, on: date) -> dict[str, Any]:
    """Return what every sheet of a student begins with."""
    school = get_school()
    born = enrolment.student.born
    return {
        "school": school.name,
        "aerodrome": str(school.aerodrome),
        "rules": school.get_rule_set_display(),
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
        "units": {"speed": row.units.speed, "length": row.units.length},
        # The numbers of the pictures and not the pictures: what is sealed is what is drawn.
        "approaches": _approaches(lessons, row.units),
        "progress": _plain(build_progress(row.history, CIRCUITS_DRAWN)),
    }


def _approaches(lessons: list[Lesson], units: DisplayUnits) -> dict[str, Any] | None:
    """Return the last circuits in which a number was noted, with the gates and targets they are held against."""
    pattern, circuits = last_flown(lessons, units, APPROACHES_DRAWN)
    return {"pattern": _plain(pattern), "circuits": _plain(circuits)} if circuits else None


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
    shown = lessons[-LESSONS_IN_GRID:]
    column = {lesson.pk: place for place, lesson in enumerate(shown)}
    rows: dict[tuple[int, str], list[Any]] = {}
    for grade in Grade.objects.filter(lesson__in=shown).select_related("manoeuvre"):
        # By order and title and not by row: after a move to another issue the same manoeuvre is another row of the
        # table, and one line here.
        key = grade.manoeuvre.order, grade.manoeuvre.title
        cells = rows.setdefault(key, [None] * len(shown))
        cells[column[grade.lesson_id]] = {"level": grade.given, "help": grade.help, "changed": grade.changed}
    return {
        "lessons": [{"number": lesson.number, "date": lesson.on.isoformat()} for lesson in shown],
        "rows": [{"title": title, "cells": cells} for (_, title), cells in sorted(rows.items())],
    }


def _release(release: Any) -> dict[str, Any] | None:
    if release is None:
        return None
    signature = release.signatures.first()
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
        "signature": build_signature_payload(signature) if signature else None,
    }

"""Build a student's logbook lines from the sealed lessons: flight time and training as 14 CFR 61.51(b) and (h) ask."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from grading.models import LogbookForm, Seal
from grading.sheets.progress_content import school_and_student
from lessons.earlier_training import credit_decisions
from lessons.models import Enrolment, Lesson
from school.current import end_of_school_day, school_zone
from school.days import day_of

MINUTE_KINDS = ("dual", "solo", "night", "instrument", "ground")
COUNTS = ("takeoffs", "landings")
LESSON_KEYS = ("id", "number", "version", "date", "unit", "aircraft", "aircraft_type", "runway", "minutes",
               "takeoffs", "landings", "signature")  # fmt: skip


@dataclass(frozen=True)
class LessonRange:
    """Lessons by their numbers, both ends included; None is open."""

    first: int | None = None
    last: int | None = None


def build_logbook_content(enrolment: Enrolment, on: date, *, form: LogbookForm, lessons: LessonRange) -> dict[str, Any]:
    """Return the signed lessons of the range, newest version of each, and what is carried forward. Minutes.

    `credited`: earlier training as the chief instructor credited it, or None; `before`: the lessons of this record
    before the first one.
    """
    current = _current_lessons(enrolment, on)
    first = lessons.first if lessons.first is not None else min((row["number"] for row in current), default=1)
    last = lessons.last if lessons.last is not None else max((row["number"] for row in current), default=first)
    before = [row for row in current if row["number"] < first]
    return {
        **school_and_student(enrolment, on),
        "form": form.value,
        "first": first,
        "last": last,
        "lessons": [row for row in current if first <= row["number"] <= last],
        "before": {"lessons": len(before), **sum_amounts(map(amounts_of, before))},
        "credited": _credited(enrolment, on),
        "unsigned": Lesson.objects.unsigned().filter(enrolment=enrolment, on__lte=on).count(),
    }


def amounts_of(lesson: Mapping[str, Any]) -> dict[str, int]:
    """Return minutes by kind, takeoffs and landings of one sealed lesson."""
    return {**{kind: lesson["minutes"][kind] for kind in MINUTE_KINDS}, **{name: lesson[name] for name in COUNTS}}


def sum_amounts(rows: Iterable[Mapping[str, int]]) -> dict[str, int]:
    rows = list(rows)
    return {name: sum(row[name] for row in rows) for name in (*MINUTE_KINDS, *COUNTS)}


def _current_lessons(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    uids = Lesson.objects.filter(enrolment=enrolment).values("uid")
    seals = Seal.objects.filter(kind=Seal.Kind.LESSON, subject__in=uids, sealed_at__lt=end_of_school_day(on))
    # An erased text is empty. From the seals and not from the tables: what is printed is what was signed.
    sealed = [(seal, json.loads(seal.canonical)) for seal in seals.order_by("number") if seal.canonical]
    replaced = {row["replaces"] for _, row in sealed}
    rows = [
        {name: row[name] for name in LESSON_KEYS}
        | {"seal": seal.number, "digest": seal.digest, "training": _training(row)}
        for seal, row in sealed
        if row["id"] not in replaced and row["date"] <= on.isoformat()
    ]
    return sorted(rows, key=lambda row: (row["date"], row["number"]))


def _training(lesson: Mapping[str, Any]) -> list[str]:
    """Return the titles of what was graded, each once: the description of the training given."""
    return list(dict.fromkeys(grade["title"] for grade in lesson["grades"]))


def _credited(enrolment: Enrolment, on: date) -> dict[str, Any] | None:
    decided = credit_decisions([enrolment], on).get(enrolment.pk)
    if decided is None or not any(decided.counted.values()):
        return None
    counted = decided.counted
    return {
        "by": decided.decided_by.name,
        "on": day_of(decided.decided_at, school_zone()).isoformat(),
        **{kind: counted[f"{kind}_minutes"] for kind in MINUTE_KINDS},
        **{name: counted[name] for name in COUNTS},
    }

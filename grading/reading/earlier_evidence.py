"""Read which earlier lessons could count as evidence, and which the chief instructor decided to count."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Any

from grading.models import EarlierEvidence, ReceivedRecord
from grading.rules.readiness import facts as fact
from lessons.models import EarlierTraining, Enrolment, Manoeuvre
from lessons.rules.scale import Level
from school.days import day_of
from school.models import Aircraft


@dataclass(frozen=True)
class BroughtLesson:
    """One earlier lesson with the grades that were copied with it, by manoeuvre.

    obstacle: why it cannot count as evidence; empty where it can. titles: the manoeuvres in words.
    """

    lesson: EarlierTraining
    grades: dict[str, Level]
    titles: dict[str, str]
    obstacle: str

    @property
    def grade_words(self) -> str:
        return ", ".join(f"{self.titles.get(code, code)} {level.label}" for code, level in self.grades.items())

    def content(self, type_code: str) -> dict[str, Any]:
        """Return what a decision stores of it, and seals."""
        return {
            "fingerprint": self.lesson.fingerprint,
            "on": self.lesson.on.isoformat(),
            "instructor": self.lesson.instructor,
            "school": self.lesson.school,
            "aircraft": self.lesson.aircraft,
            "aircraft_type": type_code,
            "grades": {code: level.value for code, level in self.grades.items()},
        }


def brought_lessons(enrolment: Enrolment) -> list[BroughtLesson]:
    """Return every earlier lesson of a student, the newest first, with what keeps it from counting. Four queries."""
    rows = list(EarlierTraining.objects.filter(student=enrolment.student).current().order_by("-on", "-pk"))
    prints = [row.fingerprint for row in rows]
    copied = ReceivedRecord.objects.filter(fingerprint__in=prints, kind="paper_lesson")
    texts = dict(copied.values_list("fingerprint", "canonical"))
    types = dict(Aircraft.objects.values_list("registration", "type__code"))
    titles = dict(Manoeuvre.objects.filter(syllabus=enrolment.syllabus_id).values_list("code", "title"))
    found = []
    for row in rows:
        grades = read_grades(texts.get(row.fingerprint, "{}"))
        found.append(BroughtLesson(row, grades, titles, _obstacle(row, grades, types, enrolment.aircraft_type.code)))
    return found


def read_grades(canonical: str) -> dict[str, Level]:
    """Return the levels in the text of a lesson copied from paper, by manoeuvre; nothing for any other record."""
    content = json.loads(canonical)
    given = content.get("grades") if content.get("record") == "lesson on paper" else None
    # A record from elsewhere may hold anything: what is no level is no grade.
    levels = {level.value: level for level in Level if level.observed}
    pairs = given.items() if isinstance(given, dict) else ()
    grades = {code: levels[word] for code, word in pairs if isinstance(word, str) and word in levels}
    # In the order flown, then as they are written.
    return {part: grades[part] for part in fact.COUNTED_PARTS if part in grades} | grades


def _obstacle(lesson: EarlierTraining, grades: dict[str, Level], types: dict[str, str], needed: str) -> str:
    if not any(part in grades for part in fact.COUNTED_PARTS):
        return "no grade of a part of the circuit"
    if not lesson.dual_minutes and not lesson.solo_minutes:
        return "nothing was flown"
    if lesson.aircraft not in types:
        return "its aircraft is not on record here, so its type is not known"
    return "" if types[lesson.aircraft] == needed else "flown in another type"


def evidence_decisions(enrolments: Iterable[Enrolment], end: datetime) -> dict[int, EarlierEvidence]:
    """Return the decision in force before a moment, by the key of the enrolment. One query."""
    rows = EarlierEvidence.objects.filter(enrolment__in=enrolments, decided_at__lt=end)
    latest = rows.order_by("enrolment", "-decided_at", "-pk").distinct("enrolment")
    return {row.enrolment_id: row for row in latest.select_related("decided_by")}


def map_brought_forward(row: EarlierEvidence | None, zone: tzinfo) -> fact.BroughtForwardFact | None:
    """Return a decision as the engine reads it; None where no lesson counts."""
    if row is None or not row.lessons:
        return None
    return fact.BroughtForwardFact(
        on=day_of(row.decided_at, zone),
        by=row.decided_by.name,
        reason=row.reason,
        # Oldest first, as lessons are numbered.
        lessons=tuple(_map_lesson(number, given) for number, given in enumerate(reversed(row.lessons), start=1)),
    )


def _map_lesson(number: int, given: dict[str, Any]) -> fact.LessonFact:
    def attempt(part: str) -> fact.AttemptFact | None:
        level = given["grades"].get(part)
        return fact.AttemptFact(part, Level(level)) if level else None

    # One grade a lesson is one attempt: how many were flown the paper may not say.
    circuit = fact.CircuitFact(
        1,
        takeoff=attempt("takeoff"),
        downwind=attempt("downwind"),
        approach=attempt("approach"),
        landing=attempt("landing"),
    )
    return fact.LessonFact(
        number=number,
        on=date.fromisoformat(given["on"]),
        instructor=given["instructor"],
        aircraft_type=given["aircraft_type"],
        circuits=(circuit,),
    )

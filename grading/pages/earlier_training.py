"""This module shows what a student brought along: hours beside those flown here, lessons, records and their origin."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Sum

from grading.models import ReceivedBatch, ReceivedRecord, Seal
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.earlier_evidence import evidence_decisions, read_grades
from lessons.earlier_training import credit_carried_forward, credit_decisions
from lessons.models import AMOUNT_FIELDS, CreditDecision, CreditedUnit, EarlierTraining, Enrolment, Lesson
from school.current import end_of_school_day
from school.models import Person

HOURS_LABELS = ("Dual", "Solo", "Night", "Instrument", "Ground", "Takeoffs", "Landings")


@dataclass(frozen=True)
class HoursRow:
    """One quantity: brought forward, flown here, and both. It is a count where `minutes` is False."""

    label: str
    forward: int
    here: int
    minutes: bool

    @property
    def total(self) -> int:
        return self.forward + self.here


def hours_rows(enrolment: Enrolment, on: date) -> list[HoursRow]:
    """Return the hours brought forward beside those signed here by a day. Two queries."""
    # Flown and signed by that day, so that the hours of a past day do not change later.
    flown = Lesson.objects.filter(enrolment=enrolment, on__lte=on, signed_at__lt=end_of_school_day(on)).current()
    here = flown.aggregate(**{name: Sum(name, default=0) for name in AMOUNT_FIELDS})
    forward = credit_carried_forward(enrolment, on)
    return [
        HoursRow(label, forward[name], here[name], name.endswith("_minutes"))
        for name, label in zip(AMOUNT_FIELDS, HOURS_LABELS, strict=True)
    ]


def credited_rows(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    """Return each unit credited by the decision of a day, with its reason. One query."""
    standing = CreditDecision.objects.filter(enrolment=enrolment, decided_at__lt=end_of_school_day(on))
    # A decision replaces the one before it: units are not added up over decisions.
    last = standing.order_by("-decided_at", "-pk").values("pk")[:1]
    rows = CreditedUnit.objects.filter(decision__in=last).select_related("unit")
    return [{"unit": row.unit, "credited": row.reason} for row in rows.order_by("unit__stage__number", "unit__number")]


RECORD_KINDS = dict(Seal.Kind.choices) | {"paper_lesson": "lesson on paper"}


def earlier_training_context(student: Person, on: date) -> dict[str, Any]:
    """Return the context of the page, in a fixed number of queries."""
    enrolments = list(Enrolment.objects.for_pages().filter(student=student).order_by("-enrolled_on", "-pk"))
    courses, decisions = courses_by_enrolment(enrolments, on), credit_decisions(enrolments, on)
    batches = list(ReceivedBatch.objects.filter(student=student).select_related("received_by").order_by("-received_at"))
    seals = {row.subject: row for row in Seal.objects.filter(subject__in=[batch.uid for batch in batches])}
    # Grouped here and not read for each batch, so that the number of queries stays fixed.
    records: dict[int, list[ReceivedRecord]] = {batch.pk: [] for batch in batches}
    # The exact text of a record may be long and has an address of its own: it is read for the grades alone.
    grades: dict[str, str] = {}
    for row in ReceivedRecord.objects.filter(batch__in=batches).order_by("place"):
        given = read_grades(row.canonical) if row.kind == "paper_lesson" else {}
        grades[row.fingerprint] = ", ".join(f"{code.replace('_', '-')} {level.label}" for code, level in given.items())
        row.words = RECORD_KINDS.get(row.kind, row.kind.replace("_", " "))  # type: ignore[attr-defined] # for the template
        records[row.batch_id].append(row)
    lessons = EarlierTraining.objects.filter(student=student)
    # Without replaced versions: the hours of one flight must not be added twice.
    standing = lessons.current()
    shown = list(standing.order_by("on", "pk"))
    for lesson in shown:
        lesson.grade_words = grades.get(lesson.fingerprint, "")  # type: ignore[attr-defined] # for the template
    evidence = evidence_decisions(enrolments, end_of_school_day(on))
    return {
        "student": student,
        "lessons": shown,
        "totals": [
            HoursRow(label, total, 0, name.endswith("_minutes"))
            for (name, total), label in zip(standing.totals().items(), HOURS_LABELS, strict=True)
        ],
        "batches": [(batch, seals.get(batch.uid), records[batch.pk]) for batch in batches],
        "credits": [(row, decisions.get(row.pk), courses[row.pk].credited, evidence.get(row.pk)) for row in enrolments],
    }

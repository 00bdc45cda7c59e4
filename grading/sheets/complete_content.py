"""Build the complete record of a student: every sealed record in order, with its context. Plain JSON values."""

import json
from collections import defaultdict
from datetime import date
from typing import Any
from uuid import UUID

from grading.evidence.lesson_payload import person_reference
from grading.models import (
    CriterionSeen,
    EarlierEvidence,
    Measure,
    ReceivedRecord,
    Release,
    Seal,
    SetAside,
    Signature,
)
from grading.reading.earlier_evidence import read_grades
from grading.reading.grade_lines import GradingContext, measured_deviation
from grading.rules.marking import ToleranceBand
from grading.sheets.progress_content import school_and_student
from lessons.conditions import lesson_gusts
from lessons.models import (
    Criterion,
    EarlierTraining,
    Endorsement,
    Enrolment,
    Fault,
    Gate,
    KnowledgeTest,
    Lesson,
    Manoeuvre,
    SyllabusMove,
)
from school.current import end_of_school_day, school_zone
from school.days import day_of
from school.models import Attachment, Paper

MINUTE_KINDS = ("dual", "solo", "night", "instrument", "ground")
CONTENT_KEYS = {
    Seal.Kind.LESSON: "lessons",
    Seal.Kind.ACKNOWLEDGEMENT: "acknowledgements",
    Seal.Kind.RELEASE: "releases",
    Seal.Kind.WITHDRAWAL: "withdrawals",
    Seal.Kind.CONFIRMED: "withdrawals_confirmed",
    Seal.Kind.ENDORSEMENT: "endorsements",
    Seal.Kind.UNENDORSED: "endorsements_withdrawn",
    Seal.Kind.TEST: "tests",
    Seal.Kind.REVIEW: "reviews",
    Seal.Kind.SET_ASIDE: "set_aside",
    Seal.Kind.ASKED_AGAIN: "asked_again",
    Seal.Kind.END: "ends",
}


def build_complete_content(enrolment: Enrolment, on: date) -> dict[str, Any]:
    """Build the content; `sealed` has the records as signed, word for word, and the rest says where and how much."""
    seals, end = enrolment_seals(enrolment), end_of_school_day(on)
    sealed: dict[str, list[dict[str, Any]]] = {name: [] for name in CONTENT_KEYS.values()}
    for seal in seals:
        # An erased text is empty; what was sealed after the day of the sheet is no part of the record as of that day.
        if seal.canonical and seal.sealed_at < end:
            entry = {
                "seal": seal.number,
                "previous": seal.previous,
                "digest": seal.digest,
                **json.loads(seal.canonical),
            }
            sealed[CONTENT_KEYS[Seal.Kind(seal.kind)]].append(entry)
    standing = _current_versions(sealed["lessons"])
    for test in sealed["tests"]:
        # Rounded down, so that no mark is printed better than it was.
        test["mark_percent"] = (test["questions"] - test["wrong"]) * 100 // test["questions"]
    outside, gate_order = _measured(enrolment)
    for row in sealed["lessons"]:
        row["outside"] = outside.get(row["id"], [])
    content = {
        **school_and_student(enrolment, on),
        "papers": _papers(enrolment, on),
        "moves": _moves(enrolment, on),
        "earlier": _earlier(enrolment, on),
        "earlier_evidence": _earlier_evidence(enrolment, on),
        "totals": _totals(standing),
        "lessons": _ordered_lessons(sealed.pop("lessons"), sealed.pop("acknowledgements"), standing),
        **sealed,
        "criteria": _criteria(enrolment),
        "gate_order": gate_order,
        # Their number is printed, so that a reader knows that the sheet does not show them.
        "unsigned": Lesson.objects.unsigned().filter(enrolment=enrolment, on__lte=on).count(),
    }
    # Last, from the whole content: the codes in it mean nothing to a reader on paper.
    return content | {"names": _code_names(json.dumps(content))}


def enrolment_seals(enrolment: Enrolment) -> list[Seal]:
    """Return every seal about this enrolment, in the order of the chain. Seven queries."""
    lessons = Lesson.objects.filter(enrolment=enrolment).values_list("uid", flat=True)
    # By subjects in one query, on the index of seals, and not by the text of each seal. The end of training is sealed
    # under the enrolment itself.
    subjects: set[UUID] = {enrolment.uid, *lessons}
    subjects |= set(Signature.objects.filter(lesson__enrolment=enrolment).values_list("uid", flat=True))
    for model in (Release, Endorsement, KnowledgeTest, SetAside):
        subjects |= set(model.objects.filter(enrolment=enrolment).values_list("uid", flat=True))
    return list(Seal.objects.filter(subject__in=subjects, kind__in=CONTENT_KEYS).order_by("number"))


def _current_versions(lessons: list[dict[str, Any]]) -> set[str]:
    """Return the versions that count, which no other replaces."""
    # From the sealed records and not from the tables, so that the sheet agrees with its own text as of that day.
    return {row["id"] for row in lessons} - {row["replaces"] for row in lessons}


def _ordered_lessons(
    lessons: list[dict[str, Any]], acknowledged: list[dict[str, Any]], standing: set[str]
) -> list[dict[str, Any]]:
    answers: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in acknowledged:
        answers[row["lesson"]].append(row)
    for row in lessons:
        row["counts"] = row["id"] in standing
        row["flight_minutes"] = row["minutes"]["dual"] + row["minutes"]["solo"]
        row["acknowledgements"] = answers[row["id"]]
    return sorted(lessons, key=lambda row: (row["date"], row["number"], row["version"]))


def _measured(enrolment: Enrolment) -> tuple[dict[str, list[list[Any]]], list[str]]:
    """Return the numbers outside their tolerance by lesson, and the gates' codes in the order flown. Two queries.

    A number is its circuit (None outside one), gate and quantity. In the wind of the lesson, as they were judged: the
    sealed target alone has no allowance for gusts.
    """
    contexts = {
        lesson.pk: GradingContext(wind=lesson_gusts(lesson))
        for lesson in Lesson.objects.signed().filter(enrolment=enrolment)
    }
    rows = Measure.objects.filter(attempt__lesson__in=contexts).select_related(
        "target__gate", "attempt__circuit", "attempt__lesson"
    )
    found: dict[str, list[list[Any]]] = defaultdict(list)
    order: dict[str, int] = {}
    for row in rows.order_by("pk"):
        order[row.target.gate.code] = row.target.gate.order
        deviation = measured_deviation(row, contexts[row.attempt.lesson_id])
        if deviation.place is not ToleranceBand.INSIDE:
            number = row.attempt.circuit.number if row.attempt.circuit else None
            found[str(row.attempt.lesson.uid)].append([number, row.target.gate.code, row.target.quantity])
    return found, sorted(order, key=lambda code: (order[code], code))


def _criteria(enrolment: Enrolment) -> dict[str, dict[str, str]]:
    """Return the titles of the criteria that were seen, by manoeuvre and code."""
    titles: dict[str, dict[str, str]] = defaultdict(dict)
    seen = CriterionSeen.objects.filter(attempt__lesson__enrolment=enrolment).values("criterion")
    rows = Criterion.objects.filter(pk__in=seen).order_by("pk")
    for manoeuvre, code, title in rows.values_list("manoeuvre__code", "code", "text"):
        titles[manoeuvre][code] = title
    return dict(titles)


def _code_names(text: str) -> dict[str, str]:
    """Return the meaning of the codes of manoeuvres, faults and gates that this text contains."""
    pairs = [
        # Oldest syllabus first: where several share a code, the title in the newest one remains in the dict.
        *Manoeuvre.objects.order_by("syllabus_id").values_list("code", "title"),
        *Fault.objects.order_by("pk").values_list("code", "name"),
        *Gate.objects.order_by("pk").values_list("code", "name"),
    ]
    return {code: name for code, name in pairs if f'"{code}"' in text}


def _totals(standing: set[str]) -> dict[str, Any]:
    # Of the current versions alone: a corrected lesson would count twice.
    rows = Lesson.objects.filter(uid__in=standing)
    names = [*(f"{name}_minutes" for name in MINUTE_KINDS), "takeoffs", "landings"]
    values = list(rows.values_list(*names))
    return dict(zip(names, map(sum, zip(*values, strict=True)), strict=True)) if values else dict.fromkeys(names, 0)


def _papers(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    rows = Paper.objects.filter(person=enrolment.student, issued__lte=on).order_by("issued", "pk")
    pictures: dict[int | None, list[dict[str, str]]] = defaultdict(list)
    stored = Attachment.objects.filter(paper__person=enrolment.student, recorded_at__lt=end_of_school_day(on))
    for picture in stored.defer("content").order_by("pk"):
        pictures[picture.paper_id].append(
            {
                "form": picture.get_media_type_display(),
                "sha256": picture.sha256,
                "withdrawn": picture.withdraw_reason,
            }
        )
    return [
        {
            "kind": row.get_kind_display(),
            "class": row.get_medical_class_display() if row.medical_class else "",
            "number": row.number,
            "issued": row.issued.isoformat(),
            "expires": row.expires.isoformat() if row.expires else None,
            "void": row.void_reason,
            # As a list with their hashes: a picture is opened at the school, and is not printed.
            "pictures": pictures[row.pk],
        }
        for row in rows
    ]


def _earlier(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    """Return what was brought forward, as it was received; it is evidence only where a decision says so."""
    rows = EarlierTraining.objects.filter(student=enrolment.student, recorded_at__lt=end_of_school_day(on))
    texts = ReceivedRecord.objects.filter(fingerprint__in=rows.values("fingerprint"), kind="paper_lesson")
    grades = {row.fingerprint: read_grades(row.canonical) for row in texts}
    return [
        {
            "on": row.on.isoformat(),
            "source": row.school or row.paper,
            "what": row.unit,
            "instructor": row.instructor,
            "dual_minutes": row.dual_minutes,
            "solo_minutes": row.solo_minutes,
            "landings": row.landings,
            "grades": grades.get(row.fingerprint, {}),
        }
        for row in rows.order_by("on", "pk")
    ]


def _earlier_evidence(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    """Return each decision on how many earlier lessons count as evidence, the last of which is in force."""
    zone = school_zone()
    rows = EarlierEvidence.objects.filter(enrolment=enrolment, decided_at__lt=end_of_school_day(on))
    return [
        {
            "on": day_of(row.decided_at, zone).isoformat(),
            "lessons": [{"on": given["on"], "grades": given["grades"]} for given in row.lessons],
            "reason": row.reason,
            "by": person_reference(row.decided_by),
        }
        for row in rows.select_related("decided_by").order_by("pk")
    ]


def _moves(enrolment: Enrolment, on: date) -> list[dict[str, Any]]:
    zone = school_zone()
    rows = SyllabusMove.objects.filter(enrolment=enrolment, moved_at__lt=end_of_school_day(on))
    return [
        {
            "on": day_of(row.moved_at, zone).isoformat(),
            "from": str(row.before),
            "to": str(row.after),
            "by": person_reference(row.moved_by),
        }
        for row in rows.select_related("before", "after", "moved_by").order_by("pk")
    ]

"""Read the lessons in the records of a hand-over file, and whom they speak of. Pure: no database."""

import json
import uuid
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

import msgspec

from grading.exchange.handover.record_format import RecordEntry, RecordFile, find_nul
from grading.exchange.handover.soundness import MAX_PROBLEMS
from lessons.models import AMOUNT_FIELDS

PAPER_LESSON_KIND = "paper_lesson"
# The bounds are those of the columns of EarlierTraining or tighter: a longer text would fail in the database.
Minutes = Annotated[int, msgspec.Meta(ge=0, le=100_000)]
Line = Annotated[str, msgspec.Meta(max_length=210)]


class _Unit(msgspec.Struct):
    number: Annotated[int, msgspec.Meta(ge=0, le=9999)]
    title: Line


class _Named(msgspec.Struct):
    name: Line = ""
    reference: Line = ""


class _Minutes(msgspec.Struct):
    dual: Minutes = 0
    solo: Minutes = 0
    night: Minutes = 0
    instrument: Minutes = 0
    ground: Minutes = 0


class _Signature(msgspec.Struct):
    certificate_number: Annotated[str, msgspec.Meta(max_length=80)] = ""


class _Lesson(msgspec.Struct):
    """The fields that are read of a lesson record of format 1 or 2; unknown fields are ignored."""

    id: uuid.UUID
    date: date
    instructor: _Named
    minutes: _Minutes
    unit: _Unit
    replaces: uuid.UUID | None = None
    aircraft: Annotated[str, msgspec.Meta(max_length=80)] | None = None
    takeoffs: Minutes = 0
    landings: Minutes = 0
    remarks: str = ""
    signature: _Signature | None = None


class _PaperLesson(msgspec.Struct):
    date: date
    unit: Annotated[str, msgspec.Meta(max_length=200)]
    instructor: Line
    minutes: _Minutes
    aircraft: Annotated[str, msgspec.Meta(max_length=80)] = ""
    certificate: Annotated[str, msgspec.Meta(max_length=80)] = ""
    takeoffs: Minutes = 0
    landings: Minutes = 0
    remarks: str = ""
    school: Annotated[str, msgspec.Meta(max_length=200)] = ""
    paper: Annotated[str, msgspec.Meta(max_length=200)] = ""


@dataclass(frozen=True)
class ReceivedLesson:
    """A lesson given elsewhere, as read from its record.

    `counted` has minutes and counts, by the names in AMOUNT_FIELDS.
    """

    fingerprint: str
    on: date
    unit: str
    instructor: str
    counted: dict[str, int]
    school: str
    lesson_uid: uuid.UUID | None = None
    replaces_uid: uuid.UUID | None = None
    aircraft: str = ""
    certificate: str = ""
    remarks: str = ""
    paper: str = ""


def read_lesson(row: RecordEntry) -> ReceivedLesson | None:
    """Return the lesson of a record; None for other records and for an unknown format."""
    try:
        if row.kind == "lesson":
            return _from_lesson(row, msgspec.json.decode(row.canonical, type=_Lesson))
        if row.kind == PAPER_LESSON_KIND:
            return _from_paper(row, msgspec.json.decode(row.canonical, type=_PaperLesson))
    except msgspec.DecodeError:
        return None
    return None


def _from_lesson(row: RecordEntry, lesson: _Lesson) -> ReceivedLesson | None:
    # The number is put before the title, so the two together may be longer than the column.
    title = f"{lesson.unit.number}: {lesson.unit.title}"[:200]
    certificate = lesson.signature.certificate_number if lesson.signature else ""
    made = ReceivedLesson(
        fingerprint=row.fingerprint,
        on=lesson.date,
        unit=title,
        instructor=lesson.instructor.name,
        counted=_counted_values(lesson),
        school=row.school[:200],
        lesson_uid=lesson.id,
        replaces_uid=lesson.replaces,
        aircraft=lesson.aircraft or "",
        certificate=certificate,
        remarks=lesson.remarks,
    )
    # The text of the record is stored as it is, with an escape; these words would go into columns, which cannot hold
    # it.
    return None if find_nul([title, made.instructor, made.aircraft, certificate, made.remarks]) else made


def _from_paper(row: RecordEntry, lesson: _PaperLesson) -> ReceivedLesson | None:
    words = {
        name: getattr(lesson, name)
        for name in ("unit", "instructor", "aircraft", "certificate", "remarks", "school", "paper")
    }
    if find_nul(words):
        return None
    return ReceivedLesson(fingerprint=row.fingerprint, on=lesson.date, counted=_counted_values(lesson), **words)


def _counted_values(lesson: _Lesson | _PaperLesson) -> dict[str, int]:
    minutes = lesson.minutes
    values = (minutes.dual, minutes.solo, minutes.night, minutes.instrument, minutes.ground)
    return dict(zip(AMOUNT_FIELDS, (*values, lesson.takeoffs, lesson.landings), strict=True))


def without_replaced(lessons: list[ReceivedLesson]) -> list[ReceivedLesson]:
    """Leave out those that a later version of the same lesson replaced."""
    # By the versions in this file, so that hours of a corrected lesson are counted once.
    replaced = {lesson.replaces_uid for lesson in lessons if lesson.replaces_uid}
    return [lesson for lesson in lessons if lesson.lesson_uid is None or lesson.lesson_uid not in replaced]


def find_other_students(record: RecordFile) -> list[str]:
    """Return a sentence for each record that names a student by neither the name nor the number of this one."""
    student = record.student
    found = []
    for path, row in record.all_records:
        named: Any = json.loads(row.canonical).get("student")
        if not isinstance(named, dict):
            continue
        # Either is enough: people change names, and another school gives another number. It is a hint for a person and
        # no refusal.
        if named.get("name") != student.name and named.get("reference") != student.reference:
            found.append(f"{path} speaks of {str(named.get('name'))[:80]}, {str(named.get('reference'))[:20]}.")
    return found[:MAX_PROBLEMS]

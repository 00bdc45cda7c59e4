"""Check each record of a hand-over file against its fingerprint and its seal. Pure: no database."""

import hashlib
import json
import uuid
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

import msgspec
import rfc8785

from grading.exchange.handover.record_format import BadRecord, RecordEntry, RecordFile, find_nul
from lessons.models import AMOUNT_FIELDS

# A file that was altered throughout would otherwise fill the page; twenty show what kind of file it is.
MAX_PROBLEMS = 20
PAPER_LESSON_KIND = "paper_lesson"
# The bounds are those of the columns of EarlierTraining or tighter: a longer text would fail in the database.
Minutes = Annotated[int, msgspec.Meta(ge=0, le=100_000)]
Line = Annotated[str, msgspec.Meta(max_length=210)]


def text_fingerprint(canonical: str) -> str:
    """Return the SHA-256 of the text in UTF-8, as 64 hex digits."""
    return hashlib.sha256(canonical.encode()).hexdigest()


def seal_digest(previous: str, canonical: str) -> str:
    """Return the digest of a seal, computed as in grading/evidence/chain.py."""
    return hashlib.sha256(f"{previous}\n{canonical}".encode()).hexdigest()


def find_problems(record: RecordFile) -> list[str]:
    """Return what contradicts itself in the records, with the path of each; only the first when there are many."""
    problems: list[str] = []
    for path, row in record.all_records:
        problems += [f"{path}: {sentence}" for sentence in _record_problems(row)]
    seals = [row.seal for row in record.records]
    if None in seals:
        problems.append("records: each record of the school that hands over has a seal, and one has none.")
    # Order and uniqueness are asked because the numbers come from one chain: anything else was put together later.
    elif seals != sorted(set(seals), key=lambda seal: seal or 0):
        problems.append("records: they are not in the order of their seals, each once.")
    found = [row.fingerprint for _, row in record.all_records]
    if len(set(found)) < len(found):
        problems.append("The same record stands in the file twice.")
    return problems[:MAX_PROBLEMS]


def _record_problems(row: RecordEntry) -> list[str]:
    if text_fingerprint(row.canonical) != row.fingerprint:
        return ["its text does not give its fingerprint: it was altered after it was sealed."]
    # The fingerprint alone could be computed again by a forger; so could this, but a copy of the chain contradicts it.
    if row.seal is not None and seal_digest(row.previous, row.canonical) != row.digest:
        return ["its text does not give the digest of its seal: it was altered, or belongs to another seal."]
    try:
        value = json.loads(row.canonical)
        # A text with one key twice has a valid fingerprint and can be read in two ways; the canonical form rules it
        # out.
        same = isinstance(value, dict) and rfc8785.dumps(value).decode() == row.canonical
    # Deep nesting is refused like any other text that no school sealed.
    except (ValueError, RecursionError, rfc8785.CanonicalizationError):
        same = False
    return [] if same else ["its text is not in the canonical form (RFC 8785) that records are sealed in."]


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


def require_sound(record: RecordFile) -> RecordFile:
    """Return the record unchanged; raise BadRecord when anything in it contradicts its fingerprints."""
    if problems := find_problems(record):
        raise BadRecord(problems)
    return record

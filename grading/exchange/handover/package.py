"""Build the hand-over file of one student: record.json and what helps a person to read and check it."""

import json
from dataclasses import dataclass
from datetime import date, datetime

from grading.exchange.handover import archive, record_builder
from grading.exchange.handover.record_format import RecordFile, encode_record, record_schema
from grading.exchange.handover.signature import sign_manifest
from grading.models import Seal, Sheet
from lessons.models import Lesson
from school import csv_text
from school.models import Attachment, Person

LESSON_COLUMNS = (
    "Lesson",
    "Version",
    "Date",
    "Unit",
    "Aircraft",
    "Instructor",
    "Dual (min)",
    "Solo (min)",
    "Night (min)",
    "Instrument (min)",
    "Ground (min)",
    "Takeoffs",
    "Landings",
    "Signed (UTC)",
    "Remarks",
)


@dataclass(frozen=True)
class HandOverPackage:
    name: str
    content: bytes
    records: int


def build_package(student: Person, on: date, at: datetime) -> HandOverPackage:
    """Build one zip of the record as it is now; a student without a lesson has a record too."""
    record = record_builder.build_record_file(student, on, at)
    sheet = _newest_sheet(student)
    files = {
        archive.README: _readme(record, sheet).encode(),
        archive.RECORD: encode_record(record),
        archive.SCHEMA: (json.dumps(record_schema(), indent=1) + "\n").encode(),
        # With a byte order mark, by which a spreadsheet recognises UTF-8 and shows accents rightly.
        archive.LESSONS: _lessons_csv(student).encode("utf-8-sig"),
    }
    if sheet is not None:
        files[_sheet_name(sheet)] = bytes(sheet.pdf)
    chosen = record_builder.choose_pictures(record_builder.student_pictures(student))
    pictures = Attachment.objects.filter(pk__in=[row.pk for row in chosen]).order_by("pk")
    files |= {row.file_name: bytes(row.content) for row in pictures.iterator()}
    # Last, over all other files: one signature over the manifest then covers each of them.
    manifest = archive.build_checksums(files)
    files[archive.CHECKSUMS] = manifest
    if (signature := sign_manifest(manifest, at)) is not None:
        files[archive.SIGNATURE] = signature
    name = f"training-record-{student.reference}-{on.isoformat()}.zip"
    return HandOverPackage(name, archive.pack_zip(files), len(record.all_records))


def _newest_sheet(student: Person) -> Sheet | None:
    """Return the last complete record that was printed, or else the last progress sheet."""
    rows = Sheet.objects.filter(enrolment__student=student).order_by("-printed_at", "-pk")
    return next(
        (row for kind in (Sheet.Kind.COMPLETE, Sheet.Kind.PROGRESS) if (row := rows.filter(kind=kind).first())), None
    )


def _sheet_name(sheet: Sheet) -> str:
    return archive.COMPLETE if sheet.kind == Sheet.Kind.COMPLETE else archive.PROGRESS


def _lessons_csv(student: Person) -> str:
    """Write a line for each signed lesson in force; a correction takes the place of what it replaced."""
    lines = [csv_text.format_line(LESSON_COLUMNS)]
    rows = Lesson.objects.filter(enrolment__student=student).signed().current().for_pages().in_order()
    for row in rows:
        assert row.signed_at is not None
        aircraft = row.aircraft.registration if row.aircraft else ""
        minutes = (
            row.dual_minutes,
            row.solo_minutes,
            row.night_minutes,
            row.instrument_minutes,
            row.ground_minutes,
        )
        cells = (
            row.number,
            row.version,
            row.on.isoformat(),
            str(row.unit),
            aircraft,
            row.instructor.name,
            *minutes,
            row.takeoffs,
            row.landings,
            f"{row.signed_at:%Y-%m-%d %H:%M}",
            row.remarks,
        )
        lines.append(csv_text.format_line(cells))
    return "".join(lines)


def _track_words(record: RecordFile) -> str:
    many = sum(row.kind == Seal.Kind.TRACK for row in record.records)
    if not many:
        return ""
    return (
        f"  Flight tracks: {many}, each with its readings and the fingerprint of its file. Their positions are not\n"
        f"  here: ask {record.school.name} for them, or download each on the page of its lesson.\n\n"
    )


def _readme(record: RecordFile, sheet: Sheet | None) -> str:
    student, summary = record.student, record.summary
    printed = (
        f"{_sheet_name(sheet)}\n  The {sheet.get_kind_display()} as it was printed on {sheet.on.isoformat()}.\n\n"
        if sheet is not None
        else ""
    )
    return (
        f"Training record of {student.name}, {student.reference}\n"
        f"exported by {record.school.name}, {record.made_at:%Y-%m-%d %H:%M} UTC\n\n"
        f"It holds {len(record.records)} records sealed at this school and {len(record.received)} that came from\n"
        f"elsewhere; {summary.lessons} signed lessons, {summary.flown_here.dual_minutes} minutes dual and"
        f" {summary.flown_here.solo_minutes} minutes solo.\n\n"
        f"{archive.RECORD}\n  The record for another installation to import, in the form of {archive.SCHEMA}"
        " (JSON Schema).\n"
        f"  It holds each record as the exact text that was sealed, with its fingerprint.\n\n"
        f"{_track_words(record)}"
        f"{archive.LESSONS}\n  The signed lessons as a table, for a spreadsheet. Times are minutes.\n\n"
        f"{printed}"
        f"{_pictures_words(record)}"
        f"{archive.CHECKSUMS}\n  The fingerprint (SHA-256) of each file."
        f" To check them: sha256sum -c {archive.CHECKSUMS}\n\n"
        f"To check one record: the SHA-256 of its text is its fingerprint; the SHA-256 of the digest before it,\n"
        f"a line feed and its text is the digest of its seal.\n\n"
        f"Training record only. These records were signed at the schools named beside them; what counts\n"
        f"elsewhere is decided there, by a person.\n"
    )


def _pictures_words(record: RecordFile) -> str:
    pictures = [picture for paper in record.papers for picture in paper.pictures]
    if not pictures:
        return ""
    left = len([row for row in pictures if not row.file])
    missing = f"\n  {left} more are at the school: they would make this file too large." if left else ""
    return f"document-….jpg, .png, .pdf\n  Pictures of the documents; record.json says of which.{missing}\n\n"

"""Import a table, completely or not at all."""

from datetime import date, datetime

from django.db import transaction

from grading.exchange.imports import aircraft, past_lessons, roster
from grading.exchange.imports.import_columns import Column, ImportPlan
from grading.exchange.imports.school_words import SchoolWord, aircraft_words, past_lesson_words, roster_words
from grading.exchange.imports.table_reader import BadTable, read_table
from grading.exchange.receiving import lock_upload
from grading.models import PendingUpload
from grading.rules.readiness.wording import count_noun
from school import journal
from school.errors import Refusal
from school.models import Person

UploadKind = PendingUpload.Kind
TABLE_KINDS = (UploadKind.ROSTER, UploadKind.AIRCRAFT, UploadKind.PAST_LESSONS)


def import_columns(kind: str) -> tuple[Column, ...]:
    return {
        UploadKind.ROSTER.value: roster.COLUMNS,
        UploadKind.AIRCRAFT.value: aircraft.COLUMNS,
        UploadKind.PAST_LESSONS.value: past_lessons.COLUMNS,
    }[kind]


def import_words(kind: str) -> dict[str, list[SchoolWord]]:
    """Return the words of this school that the columns of a table take, by the key of the column."""
    if kind == UploadKind.PAST_LESSONS:
        return past_lesson_words(past_lessons.GRADED_PARTS)
    return {UploadKind.ROSTER.value: roster_words, UploadKind.AIRCRAFT.value: aircraft_words}[kind]()


def plan_import(kind: str, content: bytes, on: date) -> ImportPlan:
    """Return what importing a file would do; raise BadTable when it cannot be read."""
    table = read_table(content)
    plans = {
        UploadKind.ROSTER.value: roster.plan_import,
        UploadKind.AIRCRAFT.value: aircraft.plan_import,
        UploadKind.PAST_LESSONS.value: past_lessons.plan_import,
    }
    plan = plans[kind](table, on)
    # Checks of a row and of a cell come in two passes; a person works through the file from top to bottom.
    plan.problems.sort(key=lambda problem: problem.row)
    return plan


@transaction.atomic
def import_table(*, upload: PendingUpload, on: date, by: Person, at: datetime) -> int:
    """Import every row, checked again at this moment; return how many are new. Refuse the file at the first problem."""
    upload = lock_upload(upload)
    # Planned a second time under the lock: rows may have been added since the person saw the preview.
    content = bytes(upload.content)
    try:
        plan = plan_import(upload.kind, content, on)
    except BadTable as bad:
        raise Refusal(f"Nothing was imported. {bad}") from bad
    # Not the good rows alone: half a table that was imported is hard to tell from a whole one, and to complete.
    if plan.problems:
        raise Refusal(f"Nothing was imported: correct {count_noun(len(plan.problems), 'cell')} first.")
    if upload.kind == UploadKind.ROSTER:
        count = roster.import_rows(plan, by, at)
    elif upload.kind == UploadKind.AIRCRAFT:
        count = aircraft.import_rows(plan, by, at)
    else:
        count = past_lessons.import_rows(plan, by, at, upload.name, content)
    journal.record(by=by, at=at, what="file taken in", subject=upload, after={"name": upload.name, "rows": count})
    # In the same transaction as the rows: a second import that waited finds no upload.
    upload.delete()
    return count

"""Taking a table in, whole or not at all."""

from datetime import date, datetime

from django.db import transaction

from grading.exchange.imports import aircraft, past_lessons, roster
from grading.exchange.imports.columns import Column, Plan
from grading.exchange.imports.tables import BadTable, table_of
from grading.exchange.receiving import locked_upload
from grading.models import PendingUpload
from school import journal
from school.errors import Refused
from school.models import Person

Kind = PendingUpload.Kind
TABLES = (Kind.ROSTER, Kind.AIRCRAFT, Kind.PAST_LESSONS)


def columns_of(kind: str) -> tuple[Column, ...]:
    return {
        Kind.ROSTER.value: roster.COLUMNS,
        Kind.AIRCRAFT.value: aircraft.COLUMNS,
        Kind.PAST_LESSONS.value: past_lessons.COLUMNS,
    }[kind]


def plan_of(kind: str, content: bytes, on: date) -> Plan:
    """What taking a file in would do. BadTable when it cannot be read at all."""
    table = table_of(content)
    plans = {
        Kind.ROSTER.value: roster.plan,
        Kind.AIRCRAFT.value: aircraft.plan,
        Kind.PAST_LESSONS.value: past_lessons.plan,
    }
    plan = plans[kind](table, on)
    plan.problems.sort(key=lambda problem: problem.row)
    return plan


@transaction.atomic
def take_in_table(*, upload: PendingUpload, on: date, by: Person, at: datetime) -> int:
    """Everything in the file, checked again as it stands now. How many rows are new. Refuses at the first doubt."""
    upload = locked_upload(upload)
    content = bytes(upload.content)
    try:
        plan = plan_of(upload.kind, content, on)
    except BadTable as bad:
        raise Refused(f"Nothing was taken in. {bad}") from bad
    if plan.problems:
        raise Refused(f"Nothing was taken in: {len(plan.problems)} cells are to be mended first.")
    if upload.kind == Kind.ROSTER:
        taken = roster.take_in(plan, by, at)
    elif upload.kind == Kind.AIRCRAFT:
        taken = aircraft.take_in(plan, by, at)
    else:
        taken = past_lessons.take_in(plan, by, at, upload.name, content)
    journal.record(by=by, at=at, what="file taken in", subject=upload, after={"name": upload.name, "rows": taken})
    upload.delete()
    return taken

"""Printing a sheet: its content is frozen, printed once, signed by the school, sealed and kept.

The printed fingerprint is the SHA-256 of the content as RFC 8785 text, which is attached to the file. What is sealed is
that fingerprint and the SHA-256 of the finished file. So the chain is locked for a moment at the end and not while the
pages are laid out, and many can be printed at one time.
"""

import hashlib
import uuid as uuids
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Max, QuerySet

from grading.evidence import chain, lesson_payload
from grading.evidence.sheet_payload import canonical, sealed_sheet
from grading.evidence.signed_head import signed_head
from grading.models import Seal, Sheet
from grading.sheets import pdf
from grading.sheets.complete_content import complete_content
from grading.sheets.endorsement_content import endorsements_content
from grading.sheets.progress_content import sheet_content
from lessons.models import Enrolment
from school import journal
from school.errors import Refused
from school.keys import SchoolKey, school_key
from school.models import JournalEntry, Person

TEMPLATES = {
    Sheet.Kind.PROGRESS: "print/progress_sheet.html",
    Sheet.Kind.COMPLETE: "print/complete_record.html",
    Sheet.Kind.ENDORSEMENTS: "print/endorsements.html",
}
TRIES = 4
OWN_COPIES_A_DAY = 10  # each is kept for as long as the record, and sealed
# Any constant: it keeps the locks of numbering apart from those of others.
NUMBERS = 6_187_143


def print_progress_sheet(*, enrolment: Enrolment, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """The picture of a student on a day, from what had been signed by then."""
    return print_sheet(kind=Sheet.Kind.PROGRESS, enrolment=enrolment, on=on, paper=paper, by=by, at=at)


@transaction.atomic
def print_sheet(*, kind: Sheet.Kind, enrolment: Enrolment, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """A progress sheet, or the complete record with every sealed record word for word."""
    _refuse_too_many(enrolment, by, at)
    build = complete_content if kind == Sheet.Kind.COMPLETE else sheet_content
    made = _print(kind, {"enrolment": enrolment}, lambda: build(enrolment, on), on, paper, by, at)
    chain.take_turn(enrolment)
    return _keep(made, at)


def _refuse_too_many(enrolment: Enrolment, by: Person, at: datetime) -> None:
    """A student prints their own record as often as a person needs it, not as often as a program can ask."""
    if by.pk != enrolment.student_id:
        return
    today = Sheet.objects.filter(enrolment=enrolment, printed_by=by, printed_at__date=at.date())
    if today.count() >= OWN_COPIES_A_DAY:
        raise Refused(
            f"You printed {OWN_COPIES_A_DAY} copies of your record today, and each is kept: print another one tomorrow,"
            " or ask the administrator."
        )


@transaction.atomic
def print_endorsements(*, instructor: Person, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """An instructor's list of endorsements."""
    build = lambda: endorsements_content(instructor, on)  # noqa: E731 - as above
    made = _print(Sheet.Kind.ENDORSEMENTS, {"instructor": instructor}, build, on, paper, by, at)
    return _keep(made, at)


def _print(
    kind: Sheet.Kind,
    whose: dict[str, Any],
    build: Callable[[], dict[str, Any]],
    on: date,
    paper: str,
    by: Person,
    at: datetime,
) -> Sheet:
    key, uid = school_key(at), uuids.uuid4()
    number = _next_number(kind, whose)
    content = _frozen(build, whose, key, at) | {
        "sheet": kind.value,
        "number": number,
        "id": str(uid),
        "printed_by": lesson_payload.person(by),
        "printed_at": lesson_payload.moment(at),
        "demonstration": key.demonstration,
    }
    record = canonical(content)
    html = pdf.sheet_html(TEMPLATES[kind], content, hashlib.sha256(record).hexdigest(), paper)
    signed = _signed(pdf.pdf(html, record, at), key, content["school"], at)
    return Sheet(
        uid=uid,
        kind=kind,
        **whose,
        number=number,
        on=on,
        paper=paper,
        content=content,
        pdf=signed,
        digest=hashlib.sha256(signed).hexdigest(),
        printed_at=at,
        printed_by=by,
    )


def _signed(unsigned: bytes, key: SchoolKey, school: str, at: datetime) -> bytes:
    from grading.sheets import pades  # noqa: PLC0415 - slow import

    try:
        return pades.signed(unsigned, key, school=school, at=at, timestamp_server=settings.TIMESTAMP_SERVER)
    except pades.TimestampRequestError as failed:
        raise Refused(f"Nothing was printed: {failed}. Print it once more, or later.") from failed


def _keep(made: Sheet, at: datetime) -> Sheet:
    made.save(force_insert=True)
    chain.seal(kind=Seal.Kind.SHEET, subject=made.uid, record=sealed_sheet(made), at=at)
    after = {"number": made.number, "kind": made.kind}
    journal.record(by=made.printed_by, at=at, what=f"{made.get_kind_display()} printed", subject=made, after=after)
    return made


def _frozen(build: Callable[[], dict[str, Any]], whose: dict[str, Any], key: SchoolKey, at: datetime) -> dict[str, Any]:
    """The content between two looks at a journal that did not grow: nothing about it was written while it was read."""
    for _ in range(TRIES):
        before = _last_entry(whose)
        content = build()
        if _last_entry(whose) == before:
            return content | {"head": signed_head(key, at)}
    if enrolment := whose.get("enrolment"):
        chain.take_turn(enrolment)  # somebody writes without a pause: they wait until this sheet is printed
        return build() | {"head": signed_head(key, at)}
    raise Refused("This instructor writes in the records at this moment. Nothing was printed: print it once more.")


def _last_entry(whose: dict[str, Any]) -> int | None:
    """The last entry of the journal about the student, or by the instructor."""
    enrolment: Enrolment | None = whose.get("enrolment")
    about = {"about_id": enrolment.student_id} if enrolment else {"person_id": whose["instructor"].pk}
    last: int | None = JournalEntry.objects.filter(**about).aggregate(last=Max("pk"))["last"]
    return last


def _next_number(kind: Sheet.Kind, whose: dict[str, Any]) -> int:
    """The next one of this kind for this student or instructor; whoever prints the same at once waits until the end."""
    (subject,) = whose.values()
    with connection.cursor() as cursor:
        lock = f"{kind.value} {subject._meta.label} {subject.pk}"
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [NUMBERS % 2**31, lock])
    earlier: QuerySet[Sheet] = Sheet.objects.filter(kind=kind, **whose)
    return (earlier.aggregate(last=Max("number"))["last"] or 0) + 1

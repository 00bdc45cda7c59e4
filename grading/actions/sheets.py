"""Print a sheet: its content is frozen, printed once, signed by the school, sealed and stored.

The printed fingerprint is the SHA-256 of the content as RFC 8785 text, which is attached to the file. What is sealed is
that fingerprint and the SHA-256 of the finished file. So the chain is locked for a moment at the end and not while the
pages are laid out, and many can be printed at one time.
"""

import hashlib
import uuid as uuids
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Max, QuerySet

from grading.evidence import chain, lesson_payload
from grading.evidence.sheet_payload import build_sheet_payload, canonical_bytes
from grading.evidence.signed_head import sign_chain_head
from grading.models import LogbookForm, Seal, Sheet
from grading.sheets import pdf
from grading.sheets.complete_content import build_complete_content
from grading.sheets.endorsement_content import build_endorsement_content
from grading.sheets.logbook_content import LessonRange, build_logbook_content
from grading.sheets.progress_content import build_progress_content
from lessons.models import Enrolment
from school import journal
from school.current import school_day, school_zone
from school.days import start_of
from school.errors import Refusal
from school.models import JournalEntry, Person
from school.signing_keys import SchoolKey, school_key

TEMPLATES = {
    Sheet.Kind.PROGRESS: "print/progress_sheet.html",
    Sheet.Kind.COMPLETE: "print/complete_record.html",
    Sheet.Kind.ENDORSEMENTS: "print/endorsements.html",
    Sheet.Kind.LOGBOOK: "print/logbook.html",
}
MAX_READS = 4
MAX_OWN_COPIES_PER_DAY = 10  # each is kept for as long as the record, and sealed
# Any constant: it keeps the locks of numbering apart from those of others.
NUMBERING_LOCK = 6_187_143


def print_progress_sheet(*, enrolment: Enrolment, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """Print the progress of a student on a day, from what had been signed by then."""
    return print_sheet(kind=Sheet.Kind.PROGRESS, enrolment=enrolment, on=on, paper=paper, by=by, at=at)


@transaction.atomic
def print_sheet(*, kind: Sheet.Kind, enrolment: Enrolment, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """Print a progress sheet, or the complete record with every sealed record word for word."""
    _refuse_too_many_copies(enrolment, by, at)
    build = build_complete_content if kind == Sheet.Kind.COMPLETE else build_progress_content
    made = _make_sheet(kind, {"enrolment": enrolment}, lambda: build(enrolment, on), on, paper, by, at)
    chain.lock_for_sealing(enrolment)
    return _store_sheet(made, at)


@transaction.atomic
def print_logbook(
    *,
    enrolment: Enrolment,
    on: date,
    paper: str,
    by: Person,
    at: datetime,
    form: LogbookForm = LogbookForm.PAGE,
    lessons: LessonRange | None = None,
) -> Sheet:
    """Print a student's signed lessons as lines of a logbook; all of them without a range."""
    _refuse_too_many_copies(enrolment, by, at)
    chosen = lessons or LessonRange()
    if chosen.first is not None and chosen.last is not None and chosen.last < chosen.first:
        raise Refusal("The last lesson is before the first: change one of them.")
    build = lambda: build_logbook_content(enrolment, on, form=form, lessons=chosen)  # noqa: E731 - as below
    made = _make_sheet(Sheet.Kind.LOGBOOK, {"enrolment": enrolment}, build, on, paper, by, at)
    chain.lock_for_sealing(enrolment)
    return _store_sheet(made, at)


def _refuse_too_many_copies(enrolment: Enrolment, by: Person, at: datetime) -> None:
    """Refuse more copies of one's own record in a day than a person needs."""
    if by.pk != enrolment.student_id:
        return
    midnight = start_of(school_day(at), school_zone())
    today = Sheet.objects.filter(enrolment=enrolment, printed_by=by, printed_at__gte=midnight)
    if today.count() >= MAX_OWN_COPIES_PER_DAY:
        raise Refusal(
            f"You printed {MAX_OWN_COPIES_PER_DAY} copies of your record today, and each is kept:"
            " print another one tomorrow, or ask the administrator."
        )


@transaction.atomic
def print_endorsements(*, instructor: Person, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """Print an instructor's list of endorsements."""
    build = lambda: build_endorsement_content(instructor, on)  # noqa: E731 - as above
    made = _make_sheet(Sheet.Kind.ENDORSEMENTS, {"instructor": instructor}, build, on, paper, by, at)
    # No enrolment to lock: the list is an instructor's, and sealing locks the chain by itself.
    return _store_sheet(made, at)


def _make_sheet(
    kind: Sheet.Kind,
    whose: dict[str, Any],
    build: Callable[[], dict[str, Any]],
    on: date,
    paper: str,
    by: Person,
    at: datetime,
) -> Sheet:
    key, uid = school_key(at), uuids.uuid4()
    # In this transaction: a print that fails gives its number back and leaves no gap.
    number = _next_number(kind, whose)
    content = _read_unchanged_content(build, whose, key, at) | {
        "sheet": kind.value,
        "number": number,
        "id": str(uid),
        "printed_by": lesson_payload.person_reference(by),
        "printed_at": lesson_payload.utc_timestamp(at),
        "demonstration": key.demonstration,
    }
    # The fingerprint on the paper is that of the attached text, so both are made of the same bytes.
    record = canonical_bytes(content)
    render = partial(pdf.render_sheet_html, TEMPLATES[kind], content, hashlib.sha256(record).hexdigest(), paper)
    shorter = render if kind == Sheet.Kind.PROGRESS else None
    signed = _sign_pdf(pdf.render_pdf(render(), record, at, shorter), key, content["school"], at)
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


def _sign_pdf(unsigned: bytes, key: SchoolKey, school: str, at: datetime) -> bytes:
    from grading.sheets import pades  # noqa: PLC0415 - slow import

    try:
        return pades.sign_pdf(unsigned, key, school=school, at=at, timestamp_server=settings.TIMESTAMP_SERVER)
    except pades.TimestampRequestError as failed:
        raise Refusal(f"Nothing was printed: {failed}. Print it again, now or later.") from failed


def _store_sheet(made: Sheet, at: datetime) -> Sheet:
    made.save(force_insert=True)
    chain.seal(kind=Seal.Kind.SHEET, subject=made.uid, record=build_sheet_payload(made), at=at)
    after = {"number": made.number, "kind": made.kind}
    journal.record(by=made.printed_by, at=at, what=f"{made.get_kind_display()} printed", subject=made, after=after)
    return made


def _read_unchanged_content(
    build: Callable[[], dict[str, Any]], whose: dict[str, Any], key: SchoolKey, at: datetime
) -> dict[str, Any]:
    """Read the content between two looks at a journal that did not grow, so that nothing was written meanwhile."""
    # Without a lock, since reading takes long and others go on recording; the lock is for one who is never first.
    for _ in range(MAX_READS):
        before = _last_journal_entry(whose)
        content = build()
        if _last_journal_entry(whose) == before:
            # The head is on the paper, so that a chain written a second time contradicts it.
            return content | {"head": sign_chain_head(key, at)}
    if enrolment := whose.get("enrolment"):
        chain.lock_for_sealing(enrolment)  # somebody writes without a pause: they wait until this sheet is printed
        return build() | {"head": sign_chain_head(key, at)}
    raise Refusal("This instructor is changing records at this moment. Nothing was printed: print it again.")


def _last_journal_entry(whose: dict[str, Any]) -> int | None:
    """Return the last entry of the journal about the student, or by the instructor."""
    enrolment: Enrolment | None = whose.get("enrolment")
    # Every change writes an entry in its own transaction: while the last one is the same, nothing has changed.
    about = {"about_id": enrolment.student_id} if enrolment else {"person_id": whose["instructor"].pk}
    last: int | None = JournalEntry.objects.filter(**about).aggregate(last=Max("pk"))["last"]
    return last


def _next_number(kind: Sheet.Kind, whose: dict[str, Any]) -> int:
    """Return the next number of this kind for a student or instructor; a second print waits for the lock."""
    (subject,) = whose.values()
    # An advisory lock until the end of the transaction: there is no row to lock before the first sheet.
    with connection.cursor() as cursor:
        lock = f"{kind.value} {subject._meta.label} {subject.pk}"
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [NUMBERING_LOCK % 2**31, lock])
    earlier: QuerySet[Sheet] = Sheet.objects.filter(kind=kind, **whose)
    return (earlier.aggregate(last=Max("number"))["last"] or 0) + 1

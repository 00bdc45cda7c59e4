"""Erase a record whose retention has ended: one person proposes it, another confirms it."""

import json
import re
from datetime import date, datetime
from typing import Any

from django.db import connection, transaction

from grading.actions.signing import reauthenticate
from grading.evidence import chain, lesson_payload
from grading.evidence.erasure_plan import seals_to_empty
from grading.models import Erasure, Seal
from grading.reading.retention_terms import EnrolmentRetention, load_retention
from lessons.models import Enrolment
from school import journal
from school.accounts import waiting
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Person, School
from school.permissions import can_erase
from school.reasons import required_text


@transaction.atomic
def propose_erasure(*, enrolment: Enrolment, reason: str, by: Person, at: datetime) -> Erasure:
    """Propose the erasure of a record whose retention has ended. Nothing is erased yet."""
    _refuse_ineligible_person(enrolment, by)
    Enrolment.objects.select_for_update(of=("self",)).get(pk=enrolment.pk)  # one proposal at a time
    _require_retention_over(enrolment, school_day(at))
    student, reason = enrolment.student, required_text(reason, "Write the reason: it is kept after the record is gone.")
    # The reason is sealed with the erasure and never emptied: a name in it would outlive the record that was erased.
    if _contains_name(reason, student):
        raise Refusal("Leave the student’s name out of the reason: it is kept after the record is gone.")
    if pending_erasure(enrolment):
        raise Refusal(
            "The erasure of this record has already been proposed: another person must confirm or withdraw it."
        )
    # Identifier, key and number as plain values: the rows they point to are gone once this is carried out.
    proposed = Erasure.objects.create(
        enrolment_uid=enrolment.uid,
        person_id=student.pk,
        reference=student.reference,
        reason=reason,
        proposed_at=at,
        proposed_by=by,
    )
    journal.record(by=by, at=at, what="erasure proposed", subject=proposed, after={"reason": reason})
    return proposed


@transaction.atomic
def withdraw_erasure(*, erasure: Erasure, by: Person, at: datetime) -> Erasure:
    """Withdraw a proposal; the record stays."""
    if not can_erase(by):
        raise Refusal("Only the administrator or the chief instructor withdraws this.")
    erasure = _lock_pending(erasure)
    # One person is enough to withdraw, the proposer as well: nothing is lost by a record that stays.
    erasure.withdrawn_at, erasure.withdrawn_by = at, by
    erasure.save(update_fields=["withdrawn_at", "withdrawn_by"])
    journal.record(by=by, at=at, what="proposal of erasure withdrawn", subject=erasure)
    return erasure


@transaction.atomic
def confirm_erasure(*, erasure: Erasure, secret: str, by: Person, at: datetime) -> Seal:
    """Erase the record and return one new seal that names what was sealed.

    The database carries it out and checks all of this once more (`erase_enrolment`).
    """
    erasure = _lock_pending(erasure)
    enrolment = Enrolment.objects.for_pages().select_for_update(of=("self",)).get(uid=erasure.enrolment_uid)
    _refuse_ineligible_person(enrolment, by)
    # Alone, a person could destroy the proof of their own mistake.
    if erasure.proposed_by_id == by.pk:
        raise Refusal("You proposed this erasure: another person must confirm it.")
    # Asked again: the school may have lengthened its term since the proposal.
    keeping = _require_retention_over(enrolment, school_day(at))
    reauthenticate(by, secret)
    erasure.confirmed_at, erasure.confirmed_by = at, by
    erasure.save(update_fields=["confirmed_at", "confirmed_by"])
    # What the journal says of the student is sealed first: the erasure names every seal that it empties.
    chain.prepare(at)
    # First confirmed and sealed: the database erases only what two people confirmed and a seal of this erasure names.
    record = _erasure_record(erasure, keeping, seals_to_empty(enrolment))
    sealed = chain.seal(kind=Seal.Kind.ERASURE, subject=erasure.uid, record=record, at=at)
    # A function of the database: only inside it do the triggers let a row of a final record go.
    with connection.cursor() as cursor:
        cursor.execute("SELECT erase_enrolment(%s, %s)", [erasure.pk, school_day(at)])
        (done,) = cursor.fetchone()
    # A new address that waits would come back after the erasure. Somebody who is not erased yet is not touched.
    waiting.forget_erased(enrolment.student)
    after = {"seal": sealed.number, **json.loads(done)}
    journal.record(by=by, at=at, what="record erased", subject=erasure, after=after)
    return sealed


def pending_erasure(enrolment: Enrolment) -> Erasure | None:
    """Return the proposal that waits for a second person, or None."""
    rows = Erasure.objects.filter(enrolment_uid=enrolment.uid, withdrawn_at=None, confirmed_at=None)
    return rows.select_related("proposed_by").first()


def _lock_pending(erasure: Erasure) -> Erasure:
    erasure = Erasure.objects.select_for_update(of=("self",)).get(pk=erasure.pk)
    if erasure.withdrawn_at or erasure.confirmed_at:
        raise Refusal("This proposal is no longer open.")
    return erasure


def _refuse_ineligible_person(enrolment: Enrolment, by: Person) -> None:
    if not can_erase(by):
        raise Refusal("Only the administrator or the chief instructor erases a record.")
    if enrolment.student_id == by.pk:
        raise Refusal("Nobody takes part in the erasure of their own record.")


def _require_retention_over(enrolment: Enrolment, on: date) -> EnrolmentRetention:
    (keeping,) = load_retention([enrolment], School.objects.get().retention_years)
    if keeping.until is None:
        raise Refusal("The training has not ended: its record is kept.")
    if not keeping.due(on):
        longest = keeping.terms[0]
        raise Refusal(
            f"This record must be kept until {write_day(keeping.until)}"
            f" ({longest.years} years after {write_day(longest.since)}, {longest.shown_source}). Nothing was erased."
        )
    return keeping


def _contains_name(text: str, student: Person) -> bool:
    """Return whether a text contains either name as a whole word, spelt as on record."""
    # Whole words: a short name is part of many ordinary words, and the reason would be refused for nothing.
    return any(re.search(rf"\b{re.escape(name)}\b", text) for name in (student.given_name, student.family_name))


def _erasure_record(erasure: Erasure, keeping: EnrolmentRetention, seals: list[Seal]) -> dict[str, Any]:
    assert erasure.confirmed_by is not None
    assert keeping.until is not None
    return {
        "format": lesson_payload.FORMAT,
        "record": "erasure",
        "id": str(erasure.uid),
        "enrolment": str(erasure.enrolment_uid),
        # The school number and no name: this text is never emptied.
        "student": erasure.reference,
        "kept_until": keeping.until.isoformat(),
        "reason": erasure.reason,
        "proposed_by": lesson_payload.person_reference(erasure.proposed_by),
        "proposed_at": lesson_payload.utc_timestamp(erasure.proposed_at),
        "confirmed_by": lesson_payload.person_reference(erasure.confirmed_by),
        "confirmed_at": lesson_payload.utc_timestamp(erasure.confirmed_at),
        # With these the chain still proves its other links; an emptied seal that is not named here counts as tampering.
        "erased": [{"number": seal.number, "kind": seal.kind, "digest": seal.digest} for seal in seals],
    }

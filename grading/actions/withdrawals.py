"""Withdraw an endorsement and the releases that rest on it."""

from datetime import datetime

from django.db import transaction

from grading.actions.decisions import withdraw_release
from grading.actions.endorsements import can_withdraw_endorsement
from grading.evidence import chain, training_payloads
from grading.models import Release, Seal
from lessons import actions as lesson_actions
from lessons.models import Endorsement
from school.current import school_day
from school.errors import Refusal
from school.models import Person

# Which releases rest on an endorsement; None: all of them.
RESTING: dict[str, Release.Kind | None] = {
    Endorsement.Kind.PRE_SOLO_TRAINING: None,
    Endorsement.Kind.SOLO_AT_NIGHT: Release.Kind.NIGHT,
    Endorsement.Kind.SOLO_NEARBY: Release.Kind.NEARBY,
}


@transaction.atomic
def withdraw_endorsement(*, endorsement: Endorsement, reason: str, by: Person, at: datetime) -> Endorsement:
    """Withdraw an endorsement, which ends it at once; only its giver and the chief may.

    A release rests on the endorsement for solo of its instructor (14 CFR 61.87(n)): without one it ends as well.
    """
    if not can_withdraw_endorsement(endorsement, by):
        raise Refusal(f"Only {endorsement.given_by}, who gave it, or the chief instructor withdraws this endorsement.")
    chain.lock_for_sealing(endorsement.enrolment)
    endorsement = lesson_actions.withdraw_endorsement(endorsement=endorsement, reason=reason, by=by, at=at)
    record = training_payloads.build_endorsement_withdrawal_payload(endorsement)
    chain.seal(kind=Seal.Kind.UNENDORSED, subject=endorsement.uid, record=record, at=at)
    # In the same transaction, or a student could fly on a release that rests on nothing. It is not refused half-way:
    # everybody who may withdraw the endorsement may withdraw a release.
    for release in _releases_without_endorsement(endorsement, at):
        withdraw_release(release=release, reason=f"The endorsement was withdrawn: {reason.strip()}", by=by, at=at)
    return endorsement


def _releases_without_endorsement(endorsement: Endorsement, at: datetime) -> list[Release]:
    """Return the releases not ended that rest on this endorsement, unless its giver has another one like it."""
    same = {"enrolment": endorsement.enrolment_id, "aircraft_type": endorsement.aircraft_type_id, "withdrawn_at": None}
    others = Endorsement.objects.filter(
        **same, kind=endorsement.kind, given_by=endorsement.given_by, aerodrome=endorsement.aerodrome_id
    )
    if endorsement.kind not in RESTING or others.exists():
        return []
    # Not `in_force`: a release that begins later rests on the endorsement as well.
    rest = Release.objects.filter(**same, endorsed_by=endorsement.given_by, valid_until__gte=school_day(at))
    kind = RESTING[endorsement.kind]
    if kind is not None:
        rest = rest.filter(kind=kind, aerodrome=endorsement.aerodrome_id)
    return list(rest.select_related("enrolment__student").order_by("pk"))

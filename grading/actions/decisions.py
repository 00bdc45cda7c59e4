"""Decide as the chief instructor: set a school requirement aside, sign or withdraw a release."""

from datetime import date, datetime

from django.db import transaction

from grading.actions import release_rules
from grading.actions.endorsements import require_last_training
from grading.actions.enrolment_guards import refuse_ended_training, refuse_own_training
from grading.actions.release_rules import ReleaseLimits
from grading.actions.signing import draft_signature, instructor_certificate, reauthenticate, save_and_seal
from grading.evidence import chain, lesson_payload, training_payloads
from grading.models import Release, Seal, SetAside, Signature
from grading.reading.facts import facts_for, standard_in_force
from grading.rules.readiness import State, Verdict, assess
from grading.rules.readiness.json_format import verdict_to_json
from lessons.models import Enrolment
from school import journal
from school.current import get_school, school_day
from school.errors import Refusal
from school.models import Paper, Person
from school.permissions import can_decide, can_teach
from school.reasons import MAX_LENGTH, required_text

CHIEF_MEANING = (
    "I have read the evidence, I judge this student fit to fly solo within the limits written here, and I decide so."
)


@transaction.atomic
def set_aside_requirement(*, enrolment: Enrolment, requirement: str, reason: str, by: Person, at: datetime) -> SetAside:
    """Set one open requirement of the school aside, for a written reason. A legal one is refused."""
    _refuse_unless_chief(by)
    refuse_own_training(enrolment, by)
    chain.lock_for_sealing(enrolment)
    refuse_ended_training(enrolment)
    # Derived under the lock and not read from the page: a lesson signed meanwhile may have met the requirement.
    outcome = next((o for o in derive_verdict(enrolment, school_day(at)).requirements if o.key == requirement), None)
    if outcome is None:
        raise Refusal("There is no such requirement in the standard in force.")
    # A school may do without a rule of its own; nobody here can do without the law.
    if outcome.kind == "legal":
        raise Refusal(f"“{outcome.title}” is required by law ({outcome.source}) and cannot be set aside.")
    # It holds until it is withdrawn: set aside while it is met, it would hide that the requirement is open later.
    if outcome.state in (State.MET, State.SET_ASIDE):
        raise Refusal(f"“{outcome.title}” is not open: there is nothing to set aside.")
    reason = required_text(reason, "Write the reason: it is printed beside the requirement.")
    requirement_set_aside = SetAside.objects.create(
        enrolment=enrolment, requirement=requirement, reason=reason, decided_at=at, decided_by=by
    )
    record = training_payloads.build_set_aside_payload(requirement_set_aside)
    chain.seal(kind=Seal.Kind.SET_ASIDE, subject=requirement_set_aside.uid, record=record, at=at)
    after = {"requirement": requirement, "reason": reason}
    journal.record(by=by, at=at, what="requirement set aside", subject=requirement_set_aside, after=after)
    return requirement_set_aside


@transaction.atomic
def reinstate_requirement(*, requirement_set_aside: SetAside, by: Person, at: datetime) -> SetAside:
    """Reinstate a requirement that was set aside."""
    _refuse_unless_chief(by)
    chain.lock_for_sealing(requirement_set_aside.enrolment)
    # Read again under the lock: a second click gets a sentence and not the error of a trigger.
    requirement_set_aside = SetAside.objects.select_for_update(of=("self",)).get(pk=requirement_set_aside.pk)
    if requirement_set_aside.withdrawn_at:
        raise Refusal("This has already been withdrawn.")
    requirement_set_aside.withdrawn_at, requirement_set_aside.withdrawn_by = at, by
    requirement_set_aside.save(update_fields=["withdrawn_at", "withdrawn_by"])
    record = training_payloads.build_set_aside_withdrawal_payload(requirement_set_aside)
    chain.seal(kind=Seal.Kind.ASKED_AGAIN, subject=requirement_set_aside.uid, record=record, at=at)
    journal.record(by=by, at=at, what="requirement asked for again", subject=requirement_set_aside)
    return requirement_set_aside


@transaction.atomic
def sign_release(
    *,
    enrolment: Enrolment,
    limits: ReleaseLimits,
    valid_from: date,
    valid_until: date,
    endorsed_by: Person,
    reason: str,
    secret: str,
    by: Person,
    at: datetime,
    kind: Release.Kind = Release.Kind.DAY,
) -> Release:
    """Sign a release for solo flight. The verdict it rests on is frozen with it, and the words of its endorsement.

    Refuse it for an unmet legal requirement; ask for a written reason for an unmet school requirement. At night and at
    another aerodrome it rests on a release by day and on the training that 14 CFR 61.87(o) and 61.93(b) ask for.
    """
    _refuse_unless_can_release(by, endorsed_by)
    refuse_own_training(enrolment, by, endorsed_by)
    chain.lock_for_sealing(enrolment)
    refuse_ended_training(enrolment)
    # These checks come after the lock: no release, lesson or withdrawal is sealed between them and the signature.
    release_rules.refuse_overlapping_release(kind, enrolment, limits.aerodrome, valid_from, valid_until)
    verdict = derive_verdict(enrolment, school_day(at))
    release_rules.refuse_open_requirements(verdict, reason)
    training_on = require_last_training(endorsed_by, enrolment, school_day(at))
    rests_on = release_rules.require_endorsement(endorsed_by, enrolment, school_day(at))
    release_rules.refuse_invalid_dates(valid_from, valid_until, training_on, rests_on, school_day(at))
    # Nobody has shown that the type can be landed in more: a student alone is not the one to try it.
    if limits.max_crosswind_kt > enrolment.aircraft_type.demonstrated_crosswind_kt:
        raise Refusal(
            f"The {enrolment.aircraft_type} was demonstrated in"
            f" {enrolment.aircraft_type.demonstrated_crosswind_kt} kt of crosswind: set a limit at or below it."
        )
    own = release_rules.require_valid_kind(kind, enrolment, limits, endorsed_by, valid_from, valid_until)
    certificate = instructor_certificate(by, school_day(at))
    reauthenticate(by, secret)
    release = Release.objects.create(
        enrolment=enrolment,
        kind=kind,
        endorsement=(own or rests_on).words,
        aircraft_type=enrolment.aircraft_type,
        **vars(limits),
        valid_from=valid_from,
        valid_until=valid_until,
        training_on=training_on,
        endorsed_by=endorsed_by,
        reason=reason.strip(),
        # Stored though it can be derived: a later correction would change it, and this is what the decision rested on.
        verdict=verdict_to_json(verdict),
        decided_at=at,
        decided_by=by,
    )
    _sign_and_seal(release, certificate, by, at)
    journal.record(by=by, at=at, what="released for solo", subject=release, after={"until": valid_until})
    return release


@transaction.atomic
def withdraw_release(*, release: Release, reason: str, by: Person, at: datetime) -> Release:
    """Withdraw a release, which ends it at once. Every instructor may do that; only the chief signs one."""
    if not (can_decide(by) or can_teach(by)):
        raise Refusal("Only an instructor or the chief instructor withdraws a release.")
    chain.lock_for_sealing(release.enrolment)
    release = Release.objects.select_for_update(of=("self",)).get(pk=release.pk)
    if release.withdrawn_at:
        raise Refusal("This release has already been withdrawn.")
    # Somewhat longer than any other: it may repeat why an endorsement was withdrawn.
    reason = required_text(
        reason, "Write why the release is withdrawn: the reason is kept with it.", most=MAX_LENGTH + 100
    )
    release.withdrawn_at, release.withdrawn_by, release.withdrawal_reason = at, by, reason
    release.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    record = lesson_payload.build_release_withdrawal_payload(release)
    chain.seal(kind=Seal.Kind.WITHDRAWAL, subject=release.uid, record=record, at=at)
    journal.record(by=by, at=at, what="release withdrawn", subject=release, after={"reason": reason})
    return release


@transaction.atomic
def confirm_withdrawal(*, release: Release, by: Person, at: datetime) -> Release:
    """Record that the student has read the withdrawal of their release and does not fly alone. Once, and final."""
    if release.enrolment.student_id != by.pk:
        raise Refusal("Only the student whose release was withdrawn confirms it.")
    chain.lock_for_sealing(release.enrolment)
    release = Release.objects.select_for_update(of=("self",)).get(pk=release.pk)
    if release.withdrawn_at is None:
        raise Refusal("This release is not withdrawn: there is nothing to confirm.")
    if release.withdrawal_read_at is not None:
        raise Refusal("You have already confirmed this withdrawal.")
    release.withdrawal_read_at = at
    release.save(update_fields=["withdrawal_read_at"])
    record = lesson_payload.build_withdrawal_confirmation_payload(release)
    chain.seal(kind=Seal.Kind.CONFIRMED, subject=release.uid, record=record, at=at)
    journal.record(by=by, at=at, what="withdrawal confirmed", subject=release, after={"meaning": record["meaning"]})
    return release


def derive_verdict(enrolment: Enrolment, on: date) -> Verdict:
    standard = standard_in_force(get_school(), on)
    return assess(facts_for(enrolment, on), standard, on)


def _refuse_unless_chief(by: Person) -> None:
    if not can_decide(by):
        raise Refusal("Only the chief instructor may decide this.")


def can_release(person: Person) -> bool:
    """Return whether a person may sign a release: the chief or, without countersignature, an instructor."""
    # 14 CFR 61.87(n) asks for the endorsing instructor only; the countersignature is a rule that a school may set.
    return can_decide(person) or (can_teach(person) and not get_school().chief_countersigns)


def _refuse_unless_can_release(by: Person, endorsed_by: Person) -> None:
    if not can_release(by):
        raise Refusal("Only the chief instructor may decide this.")
    # Without a countersignature the release is the endorsing instructor's own act: nobody answers for a colleague.
    if not can_decide(by) and by.pk != endorsed_by.pk:
        raise Refusal("An instructor releases on their own endorsement; the chief instructor on anybody's.")


def _sign_and_seal(release: Release, certificate: Paper, by: Person, at: datetime) -> None:
    signature = draft_signature(
        by,
        # The capacity in which it was signed: without a countersignature the record must not name a chief instructor.
        Signature.Capacity.CHIEF if can_decide(by) else Signature.Capacity.INSTRUCTOR,
        CHIEF_MEANING,
        at,
        certificate,
        release=release,
    )
    record = lesson_payload.build_release_payload(release, signature)
    save_and_seal(signature, Seal.Kind.RELEASE, release.uid, record)

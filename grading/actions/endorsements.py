"""Sign endorsements: by the instructor who gave the training, sealed."""

from datetime import date, datetime, timedelta

from django.db import transaction

from grading.actions.enrolment_guards import refuse_ended_training, refuse_own_training
from grading.actions.signing import instructor_certificate, reauthenticate, write_signature
from grading.evidence import chain, training_payloads
from grading.models import Seal, Signature
from lessons import actions as lesson_actions
from lessons.models import Endorsement, Enrolment, Lesson
from lessons.rules.scale import UnitKind
from school.current import school_day
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide, can_teach

# 14 CFR 61.87(n): training by the endorsing instructor within the 90 days before the flight.
SOLO_ENDORSEMENT_DAYS = 90
MEANING = "I gave the training that this endorsement names, found this student as it says, and endorse so."
PARAGRAPHS = {
    Endorsement.Kind.TAILWHEEL: "14 CFR 61.31(i)",
    Endorsement.Kind.PRE_SOLO_TRAINING: "14 CFR 61.87(n)",
}


@transaction.atomic
def endorse_for_solo(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    """Sign the endorsement for solo as the instructor who gave the training (14 CFR 61.87(n), (p), 61.195(d)(1))."""
    _refuse_unless_instructor(by, enrolment)
    training_on = require_last_training(by, enrolment, on)
    # 14 CFR 61.87(n) counts training within 90 days only: older training is nothing to endorse upon.
    if on > latest_release_end(training_on):
        raise Refusal(
            f"Your last training was on {training_on:%d %B %Y}, more than {SOLO_ENDORSEMENT_DAYS} days before."
        )
    return _sign_endorsement(Endorsement.Kind.PRE_SOLO_TRAINING, enrolment, text, on, secret, by, at)


@transaction.atomic
def endorse_for_tailwheel(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    """Sign the endorsement of 14 CFR 61.31(i) as the instructor who judged the student proficient."""
    _refuse_unless_instructor(by, enrolment)
    return _sign_endorsement(Endorsement.Kind.TAILWHEEL, enrolment, text, on, secret, by, at)


def can_withdraw_endorsement(endorsement: Endorsement, person: Person) -> bool:
    return can_decide(person) or (can_teach(person) and endorsement.given_by_id == person.pk)


def last_training_by(instructor: Person, enrolment: Enrolment, on: date) -> date | None:
    """Return the last day this instructor gave signed dual training in the type of the enrolment, or None."""
    # A supervised solo is not training that this instructor gave, so only dual lessons and stage checks count.
    given = Lesson.objects.filter(
        enrolment=enrolment,
        instructor=instructor,
        aircraft__type=enrolment.aircraft_type_id,
        unit__kind__in=[UnitKind.DUAL, UnitKind.STAGE_CHECK],
        on__lte=on,
    )
    # Signed, because an unsigned lesson may be discarded; current, because a correction may have moved the day.
    return given.signed().current().order_by("-on").values_list("on", flat=True).first()


def latest_release_end(training_on: date) -> date:
    return training_on + timedelta(days=SOLO_ENDORSEMENT_DAYS)


def require_last_training(endorsed_by: Person, enrolment: Enrolment, on: date) -> date:
    training_on = last_training_by(endorsed_by, enrolment, on)
    if training_on is None:
        raise Refusal(
            f"{endorsed_by} has given no signed training in this type: the endorsing instructor is one who"
            " gave the training (14 CFR 61.195(d)(1))."
        )
    return training_on


def _refuse_unless_instructor(by: Person, enrolment: Enrolment) -> None:
    if not can_teach(by):
        raise Refusal("Only an instructor endorses.")
    refuse_own_training(enrolment, by)


def _sign_endorsement(
    kind: Endorsement.Kind, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    # It says what the instructor observed, and nobody has observed a day to come.
    if on > school_day(at):
        raise Refusal("An endorsement is not dated ahead.")
    if on < enrolment.enrolled_on:
        raise Refusal(f"{enrolment.student} was enrolled on {enrolment.enrolled_on:%d %B %Y}, after that day.")
    # Before the lock: checking a password is slow by design, and the whole school seals in one chain.
    certificate = instructor_certificate(by, on)
    reauthenticate(by, secret)
    chain.lock_for_sealing(enrolment)
    refuse_ended_training(enrolment, on)
    _refuse_duplicate(kind, enrolment, on, by)
    endorsement = lesson_actions.endorse(
        enrolment=enrolment,
        kind=kind,
        paragraph=PARAGRAPHS[kind],
        aircraft_type=enrolment.aircraft_type,
        text=text.strip(),
        on=on,
        # Copied: a certificate renewed later must not change what this endorsement names.
        certificate_number=certificate.number,
        by=by,
        at=at,
    )
    signature = write_signature(by, Signature.Capacity.INSTRUCTOR, MEANING, at, certificate, endorsement=endorsement)
    record = training_payloads.build_endorsement_payload(endorsement, signature)
    chain.seal(kind=Seal.Kind.ENDORSEMENT, subject=endorsement.uid, record=record, at=at)
    return endorsement


def _refuse_duplicate(kind: Endorsement.Kind, enrolment: Enrolment, on: date, by: Person) -> None:
    """Refuse an endorsement signed twice, as from two windows: the second would add nothing to the first."""
    same = Endorsement.objects.filter(
        enrolment=enrolment,
        kind=kind,
        aircraft_type=enrolment.aircraft_type_id,
        given_by=by,
        given_on=on,
        # A withdrawn one does not count, so that wrong words can be replaced on the same day.
        withdrawn_at=None,
    )
    if same.exists():
        raise Refusal(
            f"You have endorsed {enrolment.student} for this on {on:%d %B %Y} already. If its words are wrong, withdraw"
            " that endorsement first."
        )

"""Sign endorsements: by the instructor who gave the training, sealed."""

from datetime import date, datetime, timedelta

from django.db import transaction

from grading.actions.enrolment_guards import refuse_ended_training, refuse_own_training
from grading.actions.signing import draft_signature, instructor_certificate, reauthenticate, save_and_seal
from grading.evidence import chain, training_payloads
from grading.models import Seal, Signature
from lessons import actions as lesson_actions
from lessons.models import Endorsement, Enrolment, Lesson
from lessons.models.lesson import LessonQuerySet
from lessons.rules.scale import UnitKind
from school.citations import cite, follows_us_rules
from school.current import get_school, school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import Aerodrome, Person
from school.permissions import can_decide, can_teach

# 14 CFR 61.87(n): training by the endorsing instructor within the 90 days before the flight.
SOLO_ENDORSEMENT_DAYS = 90
MEANING = "I gave the training that this endorsement names, found this student as it says, and endorse so."
PARAGRAPHS = {
    Endorsement.Kind.TAILWHEEL: "14 CFR 61.31(i)(1)",
    Endorsement.Kind.COMPLEX: "14 CFR 61.31(e)(1)",
    Endorsement.Kind.HIGH_PERFORMANCE: "14 CFR 61.31(f)(1)",
    Endorsement.Kind.PRE_SOLO_TRAINING: "14 CFR 61.87(n)",
    Endorsement.Kind.SOLO_AT_NIGHT: "14 CFR 61.87(o)",
    Endorsement.Kind.SOLO_NEARBY: "14 CFR 61.93(b)(1)",
}
# 14 CFR 61.31: each follows training in such an aeroplane that was logged.
ENDORSEMENTS_FOR_A_TYPE = (Endorsement.Kind.TAILWHEEL, Endorsement.Kind.COMPLEX, Endorsement.Kind.HIGH_PERFORMANCE)
# Under other rules an endorsement is how the school writes down that its instructor authorises a student.
OWN_PARAGRAPH = "the school's own"


@transaction.atomic
def endorse_for_solo(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime, limitations: str = ""
) -> Endorsement:
    """Sign the endorsement for solo as the instructor who gave the training (14 CFR 61.87(n), (p), 61.195(d)(1)).

    limitations: what this instructor allows no further than; they bind the student (14 CFR 61.89(a)(8)).
    """
    _refuse_unless_instructor(by, enrolment)
    _refuse_old_training(require_last_training(by, enrolment, on), on)
    return _sign_endorsement(
        Endorsement.Kind.PRE_SOLO_TRAINING, enrolment, text, on, secret, by, at, limitations=limitations
    )


@transaction.atomic
def endorse_for_tailwheel(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    """Sign the endorsement of 14 CFR 61.31(i)(1)(ii); refused before any training in such an aeroplane."""
    _refuse_unless_instructor(by, enrolment)
    return _sign_endorsement(Endorsement.Kind.TAILWHEEL, enrolment, text, on, secret, by, at)


@transaction.atomic
def endorse_for_complex(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    """Sign the endorsement of 14 CFR 61.31(e)(1)(ii); refused before any training in such an aeroplane."""
    _refuse_unless_instructor(by, enrolment)
    return _sign_endorsement(Endorsement.Kind.COMPLEX, enrolment, text, on, secret, by, at)


@transaction.atomic
def endorse_for_high_performance(
    *, enrolment: Enrolment, text: str, on: date, secret: str, by: Person, at: datetime
) -> Endorsement:
    """Sign the endorsement of 14 CFR 61.31(f)(1)(ii); refused before any training in such an aeroplane."""
    _refuse_unless_instructor(by, enrolment)
    return _sign_endorsement(Endorsement.Kind.HIGH_PERFORMANCE, enrolment, text, on, secret, by, at)


@transaction.atomic
def endorse_for_night(
    *,
    enrolment: Enrolment,
    aerodrome: Aerodrome,
    text: str,
    confirmed: str,
    on: date,
    secret: str,
    by: Person,
    at: datetime,
) -> Endorsement:
    """Sign the endorsement for solo at night as the instructor who gave the night training there (14 CFR 61.87(o)).

    confirmed: what no record shows and the instructor confirms, such as navigation at night; it is part of the text.
    """
    _refuse_unless_instructor(by, enrolment)
    trained = trained_by(by, enrolment).filter(on__lte=on, night_minutes__gt=0, runway__aerodrome=aerodrome)
    last = trained.order_by("-on").values_list("on", flat=True).first()
    if last is None:
        raise Refusal(f"You have given no signed night training at {aerodrome}{cite('14 CFR 61.87(o)')}.")
    _refuse_old_training(last, on)
    kind = Endorsement.Kind.SOLO_AT_NIGHT
    return _sign_endorsement(kind, enrolment, _joined(text, confirmed), on, secret, by, at, aerodrome=aerodrome)


@transaction.atomic
def endorse_for_nearby(
    *,
    enrolment: Enrolment,
    aerodrome: Aerodrome,
    text: str,
    confirmed: str,
    on: date,
    secret: str,
    by: Person,
    at: datetime,
) -> Endorsement:
    """Sign the endorsement for solo at a nearby aerodrome as the instructor who trained there (14 CFR 61.93(b)(1)).

    confirmed: that it lies within 25 NM, which no coordinates on record show; it is part of the text.
    """
    _refuse_unless_instructor(by, enrolment)
    if aerodrome.pk == get_school().aerodrome_id:
        raise Refusal("That is the home aerodrome: choose the other one.")
    if not trained_by(by, enrolment).filter(on__lte=on, runway__aerodrome=aerodrome).exists():
        raise Refusal(
            f"You have given no signed training at {aerodrome}: flight there both ways, joining and leaving, takeoffs"
            f" and landings come first{cite('14 CFR 61.93(b)(1)')}."
        )
    kind = Endorsement.Kind.SOLO_NEARBY
    return _sign_endorsement(kind, enrolment, _joined(text, confirmed), on, secret, by, at, aerodrome=aerodrome)


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


def trained_by(instructor: Person, enrolment: Enrolment) -> LessonQuerySet:
    """Return the signed dual flights of this instructor in the type of the enrolment, as they were corrected."""
    given = Lesson.objects.filter(
        enrolment=enrolment, instructor=instructor, dual_minutes__gt=0, aircraft__type=enrolment.aircraft_type_id
    )
    # An unsigned lesson may be discarded, and a corrected one counts as it was corrected.
    return given.signed().current()


def solo_endorsement_by(instructor: Person, enrolment: Enrolment, on: date) -> Endorsement | None:
    """Return the newest standing endorsement for solo in the type by this instructor, given by a day."""
    rows = Endorsement.objects.filter(
        enrolment=enrolment,
        kind=Endorsement.Kind.PRE_SOLO_TRAINING,
        aircraft_type=enrolment.aircraft_type_id,
        given_by=instructor,
        withdrawn_at=None,
        given_on__lte=on,
    )
    return rows.order_by("-given_on", "-pk").first()


def latest_release_end(training_on: date, endorsed_on: date | None = None) -> date:
    """Return the last day of a release: 90 days after the earlier of training and endorsement (14 CFR 61.87(n), (p)).

    Under rules without such days the same ones are the school's own, so that no release lasts without end.
    """
    return min(training_on, endorsed_on or training_on) + timedelta(days=SOLO_ENDORSEMENT_DAYS)


def require_last_training(endorsed_by: Person, enrolment: Enrolment, on: date) -> date:
    training_on = last_training_by(endorsed_by, enrolment, on)
    if training_on is None:
        raise Refusal(
            f"{endorsed_by} has given no signed training in this type: the endorsing instructor is one who"
            f" gave the training{cite('14 CFR 61.195(d)(1)')}."
        )
    return training_on


def _refuse_unless_instructor(by: Person, enrolment: Enrolment) -> None:
    if not can_teach(by):
        raise Refusal("Only an instructor may endorse.")
    refuse_own_training(enrolment, by)


def _refuse_old_training(training_on: date, on: date) -> None:
    # 14 CFR 61.87(n) counts training within 90 days only: older training is nothing to endorse upon.
    if on > latest_release_end(training_on):
        raise Refusal(
            f"Your last training was on {write_day(training_on)}, more than {SOLO_ENDORSEMENT_DAYS} days before."
        )


def _refuse_without_training(enrolment: Enrolment, on: date) -> None:
    """Refuse before signed training in the type, by anybody: the rule wants it logged first, then the endorsement."""
    given = Lesson.objects.filter(
        enrolment=enrolment,
        aircraft__type=enrolment.aircraft_type_id,
        unit__kind__in=[UnitKind.DUAL, UnitKind.STAGE_CHECK],
        on__lte=on,
    )
    if not given.signed().current().exists():
        raise Refusal("No training in this type was logged and signed by that day: the training comes first.")


def _joined(text: str, confirmed: str) -> str:
    return f"{text.strip()} {confirmed}".strip()


def _sign_endorsement(
    kind: Endorsement.Kind,
    enrolment: Enrolment,
    text: str,
    on: date,
    secret: str,
    by: Person,
    at: datetime,
    *,
    limitations: str = "",
    aerodrome: Aerodrome | None = None,
) -> Endorsement:
    # It says what the instructor observed, and nobody has observed a day to come.
    if on > school_day(at):
        raise Refusal("An endorsement cannot be dated in the future.")
    if on < enrolment.enrolled_on:
        raise Refusal(f"{enrolment.student} was enrolled on {write_day(enrolment.enrolled_on)}, after that day.")
    if kind in ENDORSEMENTS_FOR_A_TYPE:
        _refuse_without_training(enrolment, on)
    # Before the lock: checking a password is slow by design, and the whole school seals in one chain.
    certificate = instructor_certificate(by, on)
    reauthenticate(by, secret)
    chain.lock_for_sealing(enrolment)
    refuse_ended_training(enrolment, on)
    _refuse_duplicate(kind, enrolment, on, by, aerodrome)
    endorsement = lesson_actions.endorse(
        enrolment=enrolment,
        kind=kind,
        paragraph=PARAGRAPHS[kind] if follows_us_rules() else OWN_PARAGRAPH,
        aircraft_type=enrolment.aircraft_type,
        text=text.strip(),
        limitations=limitations.strip(),
        aerodrome=aerodrome,
        on=on,
        # Copied: a certificate renewed later must not change what this endorsement names.
        certificate_number=certificate.number,
        by=by,
        at=at,
    )
    signature = draft_signature(by, Signature.Capacity.INSTRUCTOR, MEANING, at, certificate, endorsement=endorsement)
    record = training_payloads.build_endorsement_payload(endorsement, signature)
    save_and_seal(signature, Seal.Kind.ENDORSEMENT, endorsement.uid, record)
    return endorsement


def _refuse_duplicate(
    kind: Endorsement.Kind, enrolment: Enrolment, on: date, by: Person, aerodrome: Aerodrome | None
) -> None:
    """Refuse an endorsement signed twice, as from two windows: the second would add nothing to the first."""
    same = Endorsement.objects.filter(
        enrolment=enrolment,
        kind=kind,
        aircraft_type=enrolment.aircraft_type_id,
        given_by=by,
        given_on=on,
        aerodrome=aerodrome,
        # A withdrawn one does not count, so that wrong words can be replaced on the same day.
        withdrawn_at=None,
    )
    if same.exists():
        raise Refusal(
            f"You have endorsed {enrolment.student} for this on {write_day(on)} already. If its wording is"
            " wrong, withdraw that endorsement first."
        )

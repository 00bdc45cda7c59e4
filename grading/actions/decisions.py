"""What the chief instructor decides: a school requirement set aside, a release signed or withdrawn."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from grading import records, sealing, training_records
from grading.actions.endorsements import DAYS_OF_A_RELEASE, latest_end, training_behind
from grading.actions.signing import instructor_certificate, reauthenticate, write_signature
from grading.models import Release, Seal, SetAside, Signature
from grading.queries import facts_for, standard_in_force
from grading.readiness import State, Verdict, assess
from grading.readiness.json_form import verdict_to_json
from lessons.models import Endorsement, Enrolment, Lesson
from lessons.models.lesson import LessonQuerySet
from school import journal
from school.current import the_school
from school.errors import Refused
from school.models import Aerodrome, Paper, Person
from school.permissions import can_decide, can_teach
from school.reasons import LONGEST, written

CHIEF_MEANING = (
    "I have read the evidence, I judge this student fit to fly solo within the limits written here, and I decide so."
)


@dataclass(frozen=True)
class Limits:
    """Within which a student may fly solo. Knots, statute miles, feet above the aerodrome."""

    aerodrome: Aerodrome
    runways: str
    max_wind_kt: int
    max_crosswind_kt: int
    min_visibility_sm: Decimal
    min_ceiling_ft: int


@transaction.atomic
def set_aside(*, enrolment: Enrolment, requirement: str, reason: str, by: Person, at: datetime) -> SetAside:
    """Do without one open requirement of the school's own, for a written reason. Never a legal one."""
    _refuse_unless_chief(by)
    sealing.take_turn(enrolment)
    outcome = next((o for o in verdict_on(enrolment, at.date()).requirements if o.key == requirement), None)
    if outcome is None:
        raise Refused("There is no such requirement in the standard in force.")
    if outcome.kind == "legal":
        raise Refused(f"“{outcome.title}” is required by law ({outcome.source}) and cannot be set aside.")
    if outcome.state in (State.MET, State.SET_ASIDE):
        raise Refused(f"“{outcome.title}” is not open: there is nothing to set aside.")
    reason = written(reason, "Write the reason: it is printed beside the requirement.")
    decided = SetAside.objects.create(
        enrolment=enrolment, requirement=requirement, reason=reason, decided_at=at, decided_by=by
    )
    record = training_records.set_aside_record(decided)
    sealing.seal(kind=Seal.Kind.SET_ASIDE, subject=decided.uid, record=record, at=at)
    after = {"requirement": requirement, "reason": reason}
    journal.record(by=by, at=at, what="requirement set aside", subject=decided, after=after)
    return decided


@transaction.atomic
def withdraw_set_aside(*, decided: SetAside, by: Person, at: datetime) -> SetAside:
    """Ask for the requirement again."""
    _refuse_unless_chief(by)
    sealing.take_turn(decided.enrolment)
    decided = SetAside.objects.select_for_update(of=("self",)).get(pk=decided.pk)
    if decided.withdrawn_at:
        raise Refused("This was already withdrawn.")
    decided.withdrawn_at, decided.withdrawn_by = at, by
    decided.save(update_fields=["withdrawn_at", "withdrawn_by"])
    record = training_records.asked_again_record(decided)
    sealing.seal(kind=Seal.Kind.ASKED_AGAIN, subject=decided.uid, record=record, at=at)
    journal.record(by=by, at=at, what="requirement asked for again", subject=decided)
    return decided


@transaction.atomic
def release(
    *,
    enrolment: Enrolment,
    limits: Limits,
    valid_from: date,
    valid_until: date,
    endorsed_by: Person,
    reason: str,
    secret: str,
    by: Person,
    at: datetime,
    kind: Release.Kind = Release.Kind.DAY,
    endorsement: str = "",
) -> Release:
    """Sign a release for solo flight. The verdict it rests on is frozen with it.

    An unmet legal requirement refuses it; an unmet school requirement needs a written reason. At night and at
    another aerodrome it rests on a release by day and on the training that 14 CFR 61.87(o) and 61.93(b) ask for.
    """
    _refuse_unless_may_release(by, endorsed_by)
    sealing.take_turn(enrolment)
    verdict = verdict_on(enrolment, at.date())
    _refuse_open_requirements(verdict, reason)
    training_on = training_behind(endorsed_by, enrolment, at.date())
    _refuse_without_endorsement(endorsed_by, enrolment, at.date())
    _refuse_dates(valid_from, valid_until, training_on, endorsed_by, at.date())
    if limits.max_crosswind_kt > enrolment.aircraft_type.demonstrated_crosswind_kt:
        raise Refused(
            f"The {enrolment.aircraft_type} was demonstrated in"
            f" {enrolment.aircraft_type.demonstrated_crosswind_kt} kt of crosswind: set a limit at or below it."
        )
    _refuse_kind(kind, enrolment, limits, endorsed_by, valid_from, valid_until, endorsement)
    certificate = instructor_certificate(by, at.date())
    reauthenticate(by, secret)
    released = Release.objects.create(
        enrolment=enrolment,
        kind=kind,
        endorsement=endorsement.strip(),
        aircraft_type=enrolment.aircraft_type,
        **vars(limits),
        valid_from=valid_from,
        valid_until=valid_until,
        training_on=training_on,
        endorsed_by=endorsed_by,
        reason=reason.strip(),
        verdict=verdict_to_json(verdict),
        decided_at=at,
        decided_by=by,
    )
    _sign_and_seal(released, certificate, by, at)
    journal.record(by=by, at=at, what="released for solo", subject=released, after={"until": valid_until})
    return released


@transaction.atomic
def withdraw_release(*, released: Release, reason: str, by: Person, at: datetime) -> Release:
    """End a release at once. Anybody who teaches may do that; only the chief may give one."""
    if not (can_decide(by) or can_teach(by)):
        raise Refused("Only an instructor or the chief instructor withdraws a release.")
    sealing.take_turn(released.enrolment)
    released = Release.objects.select_for_update(of=("self",)).get(pk=released.pk)
    if released.withdrawn_at:
        raise Refused("This release was already withdrawn.")
    # Somewhat longer than any other: it may repeat why an endorsement was withdrawn.
    reason = written(reason, "Write why the release is withdrawn: the reason stays with it.", most=LONGEST + 100)
    released.withdrawn_at, released.withdrawn_by, released.withdrawal_reason = at, by, reason
    released.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    record = records.withdrawal_record(released)
    sealing.seal(kind=Seal.Kind.WITHDRAWAL, subject=released.uid, record=record, at=at)
    journal.record(by=by, at=at, what="release withdrawn", subject=released, after={"reason": reason})
    return released


def verdict_on(enrolment: Enrolment, on: date) -> Verdict:
    standard = standard_in_force(the_school(), on)
    return assess(facts_for(enrolment, on), standard, on)


def _refuse_unless_chief(by: Person) -> None:
    if not can_decide(by):
        raise Refused("Only the chief instructor decides this.")


def may_release(person: Person) -> bool:
    """The chief, or, where the school asks for no countersignature, an instructor on their own endorsement."""
    return can_decide(person) or (can_teach(person) and not the_school().chief_countersigns)


def _refuse_unless_may_release(by: Person, endorsed_by: Person) -> None:
    if not may_release(by):
        raise Refused("Only the chief instructor decides this.")
    if not can_decide(by) and by.pk != endorsed_by.pk:
        raise Refused("An instructor releases on their own endorsement; the chief instructor on anybody's.")


def _refuse_without_endorsement(endorsed_by: Person, enrolment: Enrolment, on: date) -> None:
    endorsed = Endorsement.objects.filter(
        enrolment=enrolment,
        kind=Endorsement.Kind.PRE_SOLO_TRAINING,
        aircraft_type=enrolment.aircraft_type_id,
        given_by=endorsed_by,
        withdrawn_at=None,
        given_on__lte=on,
        given_on__gte=on - timedelta(days=DAYS_OF_A_RELEASE),
    )
    if not endorsed.exists():
        raise Refused(
            f"{endorsed_by} has not endorsed this student for solo in this type within {DAYS_OF_A_RELEASE} days"
            " (14 CFR 61.87(n)): the endorsement comes first, on the student's page."
        )


def _refuse_open_requirements(verdict: Verdict, reason: str) -> None:
    unmet = [o for o in verdict.requirements if o.state not in (State.MET, State.SET_ASIDE)]
    legal = [o.sentence.rstrip(".") for o in unmet if o.kind == "legal"]
    if legal:
        raise Refused("Required by law and not met: " + "; ".join(legal) + ". No release is possible.")
    if unmet and not reason.strip():
        raise Refused(
            "Open by the school's own standard: "
            + "; ".join(o.sentence.rstrip(".") for o in unmet)
            + ". Write the reason for a release all the same: it is printed with it."
        )


def _refuse_dates(valid_from: date, valid_until: date, training_on: date, endorsed_by: Person, today: date) -> None:
    if valid_from < today:
        raise Refused("A release begins today or later.")
    if valid_until < valid_from:
        raise Refused("The release ends before it begins: check both dates.")
    if valid_until > latest_end(training_on):
        raise Refused(
            f"{endorsed_by} last gave training on {training_on:%d %B %Y}: a release cannot reach past"
            f" {latest_end(training_on):%d %B %Y}, 90 days later (14 CFR 61.87(n))."
        )


def _refuse_kind(
    kind: Release.Kind,
    enrolment: Enrolment,
    limits: Limits,
    endorsed_by: Person,
    valid_from: date,
    valid_until: date,
    endorsement: str,
) -> None:
    home = the_school().aerodrome_id
    if kind != Release.Kind.NEARBY and limits.aerodrome.pk != home:
        raise Refused(f"{limits.aerodrome} is not the home aerodrome: choose a release for another aerodrome.")
    if kind == Release.Kind.DAY:
        return
    by_day = Release.objects.in_force(valid_from).filter(enrolment=enrolment, kind=Release.Kind.DAY)
    ends = by_day.order_by("-valid_until").values_list("valid_until", flat=True).first()
    if ends is None:
        raise Refused("A release for solo by day must be in force first.")
    if valid_until > ends:
        raise Refused(f"It rests on the release by day, which ends on {ends:%d %B %Y}: end it then or before.")
    if not endorsement.strip():
        raise Refused("Write the endorsement: this release has one of its own beside that for solo by day.")
    trained = Lesson.objects.filter(
        enrolment=enrolment, instructor=endorsed_by, dual_minutes__gt=0, aircraft__type=enrolment.aircraft_type_id
    )
    trained = trained.signed().current()
    if kind == Release.Kind.NIGHT:
        _refuse_night(trained, limits, endorsed_by, valid_until)
    elif limits.aerodrome.pk == home:
        raise Refused("That is the home aerodrome: choose the other one.")
    elif not trained.filter(runway__aerodrome=limits.aerodrome).exists():
        raise Refused(
            f"{endorsed_by} has given no signed training at {limits.aerodrome}: flight there both ways, joining and"
            " leaving, takeoffs and landings come first (14 CFR 61.93(b)(1))."
        )


def _refuse_night(trained: LessonQuerySet, limits: Limits, endorsed_by: Person, valid_until: date) -> None:
    """14 CFR 61.87(o): night training at that aerodrome within the 90 days before the flight."""
    there = trained.filter(night_minutes__gt=0, runway__aerodrome=limits.aerodrome)
    last = there.order_by("-on").values_list("on", flat=True).first()
    if last is None:
        raise Refused(f"{endorsed_by} has given no signed night training at {limits.aerodrome} (14 CFR 61.87(o)).")
    if valid_until > latest_end(last):
        raise Refused(
            f"The last night training was on {last:%d %B %Y}: a release at night cannot reach past"
            f" {latest_end(last):%d %B %Y} (14 CFR 61.87(o))."
        )
    if limits.min_visibility_sm < 5:
        raise Refused("At night the visibility is at least 5 SM (14 CFR 61.89(a)(6)).")


def _sign_and_seal(released: Release, certificate: Paper, by: Person, at: datetime) -> None:
    signature = write_signature(
        by,
        Signature.Capacity.CHIEF if can_decide(by) else Signature.Capacity.INSTRUCTOR,
        CHIEF_MEANING,
        at,
        certificate,
        release=released,
    )
    record = records.release_record(released, signature)
    sealing.seal(kind=Seal.Kind.RELEASE, subject=released.uid, record=record, at=at)

"""Refuse a release against a rule, naming its paragraph; and the limits within which one is signed."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from grading.actions.endorsements import (
    SOLO_ENDORSEMENT_DAYS,
    latest_release_end,
    solo_endorsement_by,
    trained_by,
)
from grading.models import Release
from grading.rules.readiness import State, Verdict
from lessons.models import Endorsement, Enrolment
from school.citations import cite
from school.current import get_school
from school.errors import Refusal
from school.formats import write_day
from school.models import Aerodrome, Person


@dataclass(frozen=True)
class ReleaseLimits:
    """Describe the limits of a solo flight: knots, statute miles, feet above the aerodrome."""

    aerodrome: Aerodrome
    runways: str
    max_wind_kt: int
    max_crosswind_kt: int
    min_visibility_sm: Decimal
    min_ceiling_ft: int


def refuse_overlapping_release(
    kind: Release.Kind, enrolment: Enrolment, aerodrome: Aerodrome, valid_from: date, valid_until: date
) -> None:
    """Refuse a second release of a kind at the same time: with two it would be open which limits hold."""
    # Not `in_force`, which asks about one day: no day of the new term may meet one that is not withdrawn.
    same = Release.objects.filter(
        enrolment=enrolment,
        kind=kind,
        aircraft_type=enrolment.aircraft_type_id,
        aerodrome=aerodrome,
        withdrawn_at=None,
        valid_from__lte=valid_until,
        valid_until__gte=valid_from,
    )
    earlier = same.select_related("decided_by").order_by("-valid_until").first()
    if earlier is not None:
        next_day = earlier.valid_until + timedelta(days=1)
        raise Refusal(
            f"{earlier.decided_by} has released {enrolment.student} for solo {earlier.get_kind_display()} from"
            f" {write_day(earlier.valid_from)} until {write_day(earlier.valid_until)} already. Withdraw that release"
            f" first if its limits are to change, or let the new one begin on {write_day(next_day)}."
        )


def require_endorsement(endorsed_by: Person, enrolment: Enrolment, on: date) -> Endorsement:
    """Return the endorsement for solo that a release rests on; refuse where none stands or it is too old."""
    endorsed = solo_endorsement_by(endorsed_by, enrolment, on)
    # An older one is no longer valid for a flight today (14 CFR 61.87(n)).
    if endorsed is None or endorsed.given_on < on - timedelta(days=SOLO_ENDORSEMENT_DAYS):
        raise Refusal(
            f"{endorsed_by} has not endorsed this student for solo in this type within {SOLO_ENDORSEMENT_DAYS} days"
            f"{cite('14 CFR 61.87(n)')}: the endorsement comes first, on the student's page."
        )
    return endorsed


def refuse_open_requirements(verdict: Verdict, reason: str) -> None:
    unmet = [o for o in verdict.requirements if o.state not in (State.MET, State.SET_ASIDE)]
    legal = [o.sentence.rstrip(".") for o in unmet if o.kind == "legal"]
    # Before the reason is looked at: no reason lifts what the law requires.
    if legal:
        raise Refusal(f"Required by law and not met: {'; '.join(legal)}. No release is possible.")
    if unmet and not reason.strip():
        still_open = "; ".join(o.sentence.rstrip(".") for o in unmet)
        raise Refusal(
            f"Open by the school's own standard: {still_open}. To release anyway, write the reason: it is printed with"
            " the release."
        )


def refuse_invalid_dates(
    valid_from: date, valid_until: date, training_on: date, endorsement: Endorsement, today: date
) -> None:
    # Dated back, it would cover a solo that was flown outside of a release.
    if valid_from < today:
        raise Refusal("A release begins today or later.")
    if valid_until < valid_from:
        raise Refusal("The release ends before it begins: check both dates.")
    # On every day of the release, the last one too, training and endorsement must lie within the 90 days.
    last = latest_release_end(training_on, endorsement.given_on)
    if valid_until <= last:
        return
    what = (
        f"last gave training on {write_day(training_on)}"
        if training_on <= endorsement.given_on
        else f"endorsed this student on {write_day(endorsement.given_on)}"
    )
    raise Refusal(
        f"{endorsement.given_by} {what}: a release cannot reach past {write_day(last)}, {SOLO_ENDORSEMENT_DAYS} days"
        f" later{cite('14 CFR 61.87(n), (p)(4)')}."
    )


def require_valid_kind(
    kind: Release.Kind,
    enrolment: Enrolment,
    limits: ReleaseLimits,
    endorsed_by: Person,
    valid_from: date,
    valid_until: date,
) -> Endorsement | None:
    """Refuse what a kind does not allow; return the endorsement of its own that one beside that by day rests on."""
    home = get_school().aerodrome_id
    if kind != Release.Kind.NEARBY and limits.aerodrome.pk != home:
        raise Refusal(f"{limits.aerodrome} is not the home aerodrome: choose a release for another aerodrome.")
    if kind == Release.Kind.DAY:
        return None
    # In force on the first day and not only today: the release by day may end before this one begins.
    by_day = Release.objects.in_force(valid_from).filter(enrolment=enrolment, kind=Release.Kind.DAY)
    ends = by_day.order_by("-valid_until").values_list("valid_until", flat=True).first()
    if ends is None:
        raise Refusal("A release for solo by day must be in force first.")
    if valid_until > ends:
        raise Refusal(f"It rests on the release by day, which ends on {write_day(ends)}: end it then or before.")
    if kind == Release.Kind.NIGHT:
        return _require_valid_night(enrolment, limits, endorsed_by, valid_until)
    if limits.aerodrome.pk == home:
        raise Refusal("That is the home aerodrome: choose the other one.")
    return _require_valid_nearby(enrolment, limits, endorsed_by)


def _require_valid_nearby(enrolment: Enrolment, limits: ReleaseLimits, endorsed_by: Person) -> Endorsement:
    """Refuse without training there and the endorsement of the one who gave it (14 CFR 61.93(b)(1)(iii))."""
    if not trained_by(endorsed_by, enrolment).filter(runway__aerodrome=limits.aerodrome).exists():
        raise Refusal(
            f"{endorsed_by} has given no signed training at {limits.aerodrome}: flight there both ways, joining and"
            f" leaving, takeoffs and landings come first{cite('14 CFR 61.93(b)(1)')}."
        )
    return _require_endorsement_there(Endorsement.Kind.SOLO_NEARBY, enrolment, limits, endorsed_by)


def _require_valid_night(
    enrolment: Enrolment, limits: ReleaseLimits, endorsed_by: Person, valid_until: date
) -> Endorsement:
    """Refuse without night training at that aerodrome within the 90 days before the flight (14 CFR 61.87(o))."""
    there = trained_by(endorsed_by, enrolment).filter(night_minutes__gt=0, runway__aerodrome=limits.aerodrome)
    last = there.order_by("-on").values_list("on", flat=True).first()
    paragraph = cite("14 CFR 61.87(o)")
    if last is None:
        raise Refusal(f"{endorsed_by} has given no signed night training at {limits.aerodrome}{paragraph}.")
    endorsed = _require_endorsement_there(Endorsement.Kind.SOLO_AT_NIGHT, enrolment, limits, endorsed_by)
    ends = latest_release_end(last, endorsed.given_on)
    if valid_until > ends:
        raise Refusal(
            f"The last night training was on {write_day(last)}, the endorsement for it on"
            f" {write_day(endorsed.given_on)}: a release at night cannot reach past {write_day(ends)}{paragraph}."
        )
    if limits.min_visibility_sm < 5:
        raise Refusal(f"At night the visibility is at least 5 SM{cite('14 CFR 61.89(a)(6)')}.")
    return endorsed


def _require_endorsement_there(
    kind: Endorsement.Kind, enrolment: Enrolment, limits: ReleaseLimits, endorsed_by: Person
) -> Endorsement:
    """Return the endorsement of this kind for the aerodrome, signed by the instructor who gave the training there."""
    rows = Endorsement.objects.filter(
        enrolment=enrolment,
        kind=kind,
        aircraft_type=enrolment.aircraft_type_id,
        aerodrome=limits.aerodrome,
        given_by=endorsed_by,
        withdrawn_at=None,
    )
    endorsed = rows.order_by("-given_on", "-pk").first()
    if endorsed is None:
        paragraph = "14 CFR 61.87(o)(3)" if kind == Endorsement.Kind.SOLO_AT_NIGHT else "14 CFR 61.93(b)(1)"
        raise Refusal(
            f"{endorsed_by} has not endorsed this student for {kind.label} at {limits.aerodrome}{cite(paragraph)}: the"
            " endorsement comes first, on the student's page."
        )
    return endorsed

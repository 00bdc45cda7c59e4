"""Read what earlier training counts as: credited units and hours carried forward, as decided by a day."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from lessons.models import AMOUNT_FIELDS, CreditDecision, CreditedUnit, EarlierTraining, Enrolment
from school.current import end_of_school_day
from school.models import Person


def credit_decisions(enrolments: Iterable[Enrolment], on: date) -> dict[int, CreditDecision]:
    """Return the decision in force at the end of a day, by the primary key of the enrolment. One query."""
    rows = CreditDecision.objects.filter(enrolment__in=enrolments, decided_at__lt=end_of_school_day(on))
    # DISTINCT ON keeps the first row of each enrolment in this order: its latest decision.
    # The key decides between two decisions of one moment, so that every reader finds the same one.
    latest = rows.order_by("enrolment", "-decided_at", "-pk").distinct("enrolment")
    return {row.enrolment_id: row for row in latest.select_related("decided_by")}


def credited_unit_reasons(enrolments: Iterable[Enrolment], on: date) -> dict[int, dict[int, str]]:
    """Return the reason of each credited unit, by enrolment and unit (primary keys). One query."""
    latest = CreditDecision.objects.filter(enrolment__in=enrolments, decided_at__lt=end_of_school_day(on))
    # Each decision is complete: only units of the last one count. The order is that of credit_decisions().
    latest = latest.order_by("enrolment", "-decided_at", "-pk").distinct("enrolment")
    reasons: dict[int, dict[int, str]] = defaultdict(dict)
    rows = CreditedUnit.objects.filter(decision__in=latest.values("pk"))
    for enrolment, unit, reason in rows.values_list("decision__enrolment", "unit", "reason"):
        reasons[enrolment][unit] = reason
    return reasons


def credit_carried_forward(enrolment: Enrolment, on: date) -> dict[str, int]:
    """Return minutes, takeoffs and landings carried forward, by the names in AMOUNT_FIELDS.

    All 0 without a decision. One query.
    """
    decided = credit_decisions([enrolment], on).get(enrolment.pk)
    return decided.counted if decided else dict.fromkeys(AMOUNT_FIELDS, 0)


def earlier_totals(student: Person) -> dict[str, int]:
    """Return the sums of the recorded earlier training, carried forward or not. One query."""
    return EarlierTraining.objects.filter(student=student).current().totals()

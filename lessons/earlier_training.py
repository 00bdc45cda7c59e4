"""What a student brought along counts as: units credited and hours carried forward, as decided by a day."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from lessons.models import AMOUNT_FIELDS, CreditDecision, CreditedUnit, EarlierTraining, Enrolment
from school.models import Person


def credit_decisions(enrolments: Iterable[Enrolment], on: date) -> dict[int, CreditDecision]:
    """The decision that stood at the end of a day, by the primary key of the enrolment. One query."""
    rows = CreditDecision.objects.filter(enrolment__in=enrolments, decided_at__date__lte=on)
    latest = rows.order_by("enrolment", "-decided_at", "-pk").distinct("enrolment")
    return {row.enrolment_id: row for row in latest.select_related("decided_by")}


def credited_unit_reasons(enrolments: Iterable[Enrolment], on: date) -> dict[int, dict[int, str]]:
    """The reason of each credited unit, by enrolment and unit (primary keys). One query."""
    standing = CreditDecision.objects.filter(enrolment__in=enrolments, decided_at__date__lte=on)
    standing = standing.order_by("enrolment", "-decided_at", "-pk").distinct("enrolment")
    found: dict[int, dict[int, str]] = defaultdict(dict)
    rows = CreditedUnit.objects.filter(decision__in=standing.values("pk"))
    for enrolment, unit, reason in rows.values_list("decision__enrolment", "unit", "reason"):
        found[enrolment][unit] = reason
    return found


def credit_carried_forward(enrolment: Enrolment, on: date) -> dict[str, int]:
    """Minutes, takeoffs and landings carried forward, by the names in AMOUNT_FIELDS.

    All 0 without a decision. One query.
    """
    decided = credit_decisions([enrolment], on).get(enrolment.pk)
    return decided.counted if decided else dict.fromkeys(AMOUNT_FIELDS, 0)


def earlier_totals(student: Person) -> dict[str, int]:
    """What the earlier training on record adds up to, whether it is carried forward or not. One query."""
    return EarlierTraining.objects.filter(student=student).current().totals()

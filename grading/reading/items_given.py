"""Count the items of training that one instructor gave, for who signs a release: 14 CFR 61.195(d)(1)."""

from datetime import date

from grading.models import Attempt
from grading.rules.readiness.checks.training import TRAINING_FLIGHTS, count_items
from grading.rules.readiness.standard import StandardSpec
from lessons.models import Enrolment, Lesson
from lessons.rules.scale import Level
from school.models import Person


def items_given_by(
    instructor: Person, enrolment: Enrolment, standard: StandardSpec, on: date
) -> tuple[int, int] | None:
    """Return how many items this instructor gave in signed flights by a day, and how many the standard has.

    None where the standard lists no items. One query.
    """
    spec = next((row for row in standard.requirements if row.check == "training_received"), None)
    if spec is None:
        return None
    flown = Lesson.objects.filter(
        enrolment=enrolment,
        instructor=instructor,
        aircraft__type__code__in=[enrolment.aircraft_type.code, *spec.words("similar_types")],
        unit__kind__in=TRAINING_FLIGHTS,
        on__lte=on,
    )
    observed = [level.value for level in Level if level.observed]
    taught = Attempt.objects.filter(lesson__in=flown.signed().current(), level__in=observed)
    codes = {code for items in taught.values_list("manoeuvre__items", flat=True).distinct() for code in items}
    return count_items(spec.words("items"), codes)

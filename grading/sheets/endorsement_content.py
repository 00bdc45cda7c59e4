"""Build an instructor's list of endorsements (14 CFR 61.189(b)): names and dates for solo flight; three years."""

from datetime import date
from typing import Any

from grading.evidence.lesson_payload import person_reference
from lessons.models import Endorsement
from school.current import get_school
from school.models import Person

YEARS_LISTED = 3  # 14 CFR 61.189(c)


def build_endorsement_content(instructor: Person, on: date) -> dict[str, Any]:
    """Return every endorsement of the last three years, the oldest first, with withdrawn ones. Two queries."""
    school = get_school()
    # Three years after a leap year there is no 29 February. The day before, so that the list never covers less than the
    # rule asks.
    since = (
        on.replace(year=on.year - YEARS_LISTED)
        if (on.month, on.day) != (2, 29)
        else date(on.year - YEARS_LISTED, 2, 28)
    )
    rows = Endorsement.objects.filter(given_by=instructor, given_on__gte=since, given_on__lte=on)
    return {
        "school": school.name,
        "aerodrome": str(school.aerodrome),
        "rules": school.get_rule_set_display(),
        "instructor": person_reference(instructor),
        "since": since.isoformat(),
        "on": on.isoformat(),
        "endorsements": [
            {
                "id": str(row.uid),
                "student": person_reference(row.enrolment.student),
                "kind": row.get_kind_display(),
                "paragraph": row.paragraph,
                "aircraft_type": row.aircraft_type.name,
                "given_on": row.given_on.isoformat(),
                "certificate_number": row.certificate_number,
                "withdrawn": row.withdrawal_reason if row.withdrawn_at else "",
            }
            for row in rows.select_related("enrolment__student", "aircraft_type").order_by("given_on", "pk")
        ],
    }

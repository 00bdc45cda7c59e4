"""Hand out a person's data at their request, with an entry in the journal."""

from datetime import datetime
from typing import Any

from django.db import transaction

from grading.exchange.personal_data import collect_personal_data
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_manage_records


@transaction.atomic
def hand_out_personal_data(*, person: Person, by: Person, at: datetime) -> dict[str, Any]:
    """Return everything stored about a person, for the administrator who answers their request."""
    if not can_manage_records(by):
        raise Refusal("The administrator may download this, and each person their own data.")
    # Before the data is collected, so that the copy contains the entry about itself.
    journal.record(by=by, at=at, what="personal data handed out", subject=person)
    return collect_personal_data(person, at)

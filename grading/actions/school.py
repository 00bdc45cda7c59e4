"""Change settings of the school that the verdicts depend on."""

from datetime import datetime
from typing import Any

from django.db import transaction

from grading.models import Standard
from school import actions as school_actions
from school.current import school_day
from school.errors import Refusal
from school.models import Person, School


@transaction.atomic
def change_school(*, changes: dict[str, Any], by: Person, at: datetime) -> School:
    """Change settings as school.actions does; another rule set needs a standard in force and outdates every verdict."""
    school = school_actions.change_school(changes=changes, by=by, at=at)
    # Asked after the change, of the rule set that was chosen: without a standard no verdict can be derived. A refusal
    # rolls the change back.
    if not Standard.objects.in_force(rule_set=school.rule_set, on=school_day(at)).exists():
        raise Refusal(
            f"No standard for first solo is in force for {school.get_rule_set_display()}: load one first."
            " Nothing was changed."
        )
    return school

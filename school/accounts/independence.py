"""Tell whether two accounts are independent: whether one person may lately have got hold of both.

An administrator who adds or invites somebody, gives them a role, or changes how they log in may be that somebody. So
an account counts as in the hands of everybody who did such a thing to it, and of everybody who did it to them, within
INDEPENDENCE_DAYS. Two accounts are independent if nobody stands behind both of them.
"""

from collections import defaultdict
from datetime import datetime, timedelta

from allauth.mfa.models import Authenticator
from django.db.models import Exists, OuterRef, QuerySet

from school.accounts.second_step import SECOND_STEP_TYPES
from school.models import JournalEntry, Person, Role
from school.permissions import can_see_all_students

INDEPENDENCE_DAYS = 30
STAFF_ROLES = [Role.INSTRUCTOR, Role.CHIEF, Role.ADMIN]
# The journal's words for what gives somebody an account or a right, or changes how they log in.
ACTS_OF_CONTROL = (
    "person added",
    "invited",
    "roles changed",
    "access given back",
    "new address asked for",
    "second step reset",
    "second step reset asked for",
)


class Controllers:
    """Who stands behind each account at a moment, read from the journal in one query."""

    def __init__(self, at: datetime) -> None:
        acts = JournalEntry.objects.filter(
            what__in=ACTS_OF_CONTROL,
            at__gt=at - timedelta(days=INDEPENDENCE_DAYS),
        )
        self._direct: defaultdict[int, set[int]] = defaultdict(set)
        for actor, concerned in acts.values_list("person_id", "about_id").distinct():
            if actor is not None and concerned is not None:
                self._direct[concerned].add(actor)

    def behind(self, person: Person) -> set[int]:
        """Return the keys of everybody who may be in control of this account: the person, and whoever acted on it."""
        reached, open_keys = {person.pk}, [person.pk]
        while open_keys:
            new = self._direct[open_keys.pop()] - reached
            reached |= new
            open_keys += new
        return reached

    def are_independent(self, one: Person, other: Person) -> bool:
        return self.behind(one).isdisjoint(self.behind(other))


def _staff_with_second_step() -> QuerySet[Person]:
    """Return instructors, chief instructors and administrators who may log in and have a second step of their own."""
    steps = Authenticator.objects.filter(user=OuterRef("pk"), type__in=SECOND_STEP_TYPES)
    staff: QuerySet[Person] = Person.objects.filter(Exists(steps), roles__overlap=STAFF_ROLES, is_active=True)
    return staff


def can_somebody_confirm(person: Person, by: Person, at: datetime) -> bool:
    """Return whether the school has anybody who may confirm what `by` changes about the account of `person`."""
    others = list(_staff_with_second_step().exclude(pk__in=(person.pk, by.pk)))
    if not others:
        return False
    controllers = Controllers(at)
    return any(can_see_all_students(other) and controllers.are_independent(other, by) for other in others)

"""A second person beside the administrator, so that nobody alone takes over an account that signs.

A new e-mail address opens an account by way of “Password forgotten”, and a second step that is reset does not stand in
the way any more. Each is confirmed by somebody else of the staff, with their own password, at the moment of the act.
"""

from typing import NamedTuple

from school.accounts import password_attempts
from school.accounts.backend import find_person_by_login
from school.errors import Refusal
from school.models import Person
from school.permissions import can_see_all_students

NOTHING_CHANGED = "Nothing was changed."


class Confirmation(NamedTuple):
    """What the second person typed."""

    name: str = ""
    secret: str = ""


NO_CONFIRMATION = Confirmation()


def is_needed(person: Person, by: Person) -> bool:
    """Whoever has set a password may have signed with it. One’s own address is one’s own matter."""
    return person.has_usable_password() and person.pk != by.pk


def verify(typed: Confirmation, person: Person, by: Person) -> Person:
    """Who confirmed it. Refused with what is missing; whether a login name is known is told by nothing."""
    if not typed.name.strip() or not typed.secret:
        raise Refusal(
            f"A second person confirms this: another administrator, chief instructor or instructor who knows {person}"
            f" types login name and password. {NOTHING_CHANGED}"
        )
    found = find_person_by_login(typed.name)
    if found is None:
        by.check_password(typed.secret)  # for the time that it takes
    if found is None or not password_attempts.verify_password(
        found, typed.secret, password_attempts.SECOND_PERSON_FAILURE, NOTHING_CHANGED
    ):
        raise Refusal(f"Login name and password of the second person do not belong together. {NOTHING_CHANGED}")
    if found.pk in (person.pk, by.pk) or not can_see_all_students(found):
        raise Refusal(
            f"The second person is an administrator, chief instructor or instructor who may log in, and neither you"
            f" nor {person}. {NOTHING_CHANGED}"
        )
    return found

"""A second person beside the administrator, so that nobody alone takes over an account that signs.

A new e-mail address opens an account by way of “Password forgotten”, and a second step that is reset does not stand in
the way any more. Each is confirmed by somebody else of the staff, with their own password, at the moment of the act.
"""

from typing import NamedTuple

from school.accounts import limits
from school.accounts.backend import person_named
from school.errors import Refused
from school.models import Person
from school.permissions import can_see_all_students

UNCHANGED = "Nothing was changed."


class Confirmation(NamedTuple):
    """What the second person typed."""

    name: str = ""
    secret: str = ""


NOBODY = Confirmation()


def is_needed(person: Person, by: Person) -> bool:
    """Whoever has set a password may have signed with it. One’s own address is one’s own matter."""
    return person.has_usable_password() and person.pk != by.pk


def confirmed(typed: Confirmation, person: Person, by: Person) -> Person:
    """Who confirmed it. Refused with what is missing; whether a login name is known is told by nothing."""
    if not typed.name.strip() or not typed.secret:
        raise Refused(
            f"A second person confirms this: another administrator, chief instructor or instructor who knows {person}"
            f" types login name and password. {UNCHANGED}"
        )
    found = person_named(typed.name)
    if found is None:
        by.check_password(typed.secret)  # for the time that it takes
    if found is None or not limits.is_right(found, typed.secret, limits.BESIDE, UNCHANGED):
        raise Refused(f"Login name and password of the second person do not belong together. {UNCHANGED}")
    if found.pk in (person.pk, by.pk) or not can_see_all_students(found):
        raise Refused(
            f"The second person is an administrator, chief instructor or instructor who may log in, and neither you"
            f" nor {person}. {UNCHANGED}"
        )
    return found

"""Require a second person beside the administrator, so that nobody alone takes over an account that signs.

A new e-mail address opens an account through “Password forgotten”, and a reset removes the second step that would
prevent it. Another member of staff confirms each of them with their own password: one who has a second step, and whose
account is independent of the administrator's (school/accounts/independence.py). Where the school has no such person,
the change waits and its person can stop it (school/accounts/waiting.py).
"""

from datetime import datetime
from typing import NamedTuple

from school.accounts import emails, password_attempts, second_step
from school.accounts.backend import find_person_by_login
from school.accounts.independence import INDEPENDENCE_DAYS, Controllers, can_somebody_confirm
from school.errors import Refusal
from school.models import Person
from school.permissions import can_see_all_students

NOTHING_CHANGED = "Nothing was changed."


class Confirmation(NamedTuple):
    """Login name and password that the second person typed."""

    name: str = ""
    secret: str = ""


NO_CONFIRMATION = Confirmation()


def is_needed(person: Person, by: Person) -> bool:
    """Return whether a change needs a second person: the account has a password and is not one's own."""
    # Somebody with a password may have signed with it. Without one there is no signature to protect.
    return person.has_usable_password() and person.pk != by.pk


def confirm(typed: Confirmation, person: Person, by: Person, at: datetime) -> Person | None:
    """Return the second person, told by e-mail, or None where none is needed or the school has none.

    Refuses where somebody could confirm and nobody did, or not rightly.
    """
    if not is_needed(person, by):
        return None
    if not (typed.name.strip() or typed.secret) and not can_somebody_confirm(person, by, at):
        return None
    second = verify(typed, person, by, at)
    # The e-mail reveals a stolen password to the person whose password confirmed the change.
    text = f"{by.name} changed how {person.name} gets in, and your password confirmed it.\n\n{emails.NOT_YOU_ADVICE}"
    emails.send_email(second, "You confirmed a change", text)
    return second


def verify(typed: Confirmation, person: Person, by: Person, at: datetime) -> Person:
    """Return the person who confirmed. Neither the refusal nor its time reveals whether a login name exists."""
    if not typed.name.strip() or not typed.secret:
        raise Refusal(
            f"A second person confirms this: another administrator, chief instructor or instructor who knows {person}"
            f" enters their login name and password. {NOTHING_CHANGED}"
        )
    second = find_person_by_login(typed.name)
    if second is None:
        by.check_password(typed.secret)  # takes the time of a real check, so that the time reveals nothing
    if second is None or not password_attempts.verify_password(
        second, typed.secret, password_attempts.SECOND_PERSON_FAILURE, NOTHING_CHANGED
    ):
        raise Refusal(f"Login name and password of the second person do not match. {NOTHING_CHANGED}")
    # After the password: an earlier refusal would reveal the roles of anybody whose login name was typed.
    _refuse_unfit(second, person, by, at)
    return second


def _refuse_unfit(second: Person, person: Person, by: Person, at: datetime) -> None:
    if second.pk in (person.pk, by.pk) or not can_see_all_students(second):
        raise Refusal(
            f"The second person is an administrator, chief instructor or instructor who may log in, and neither you"
            f" nor {person}. {NOTHING_CHANGED}"
        )
    if not second_step.is_set_up(second):
        raise Refusal(
            f"{second} has no second step: only somebody who logs in with a passkey or one-time codes confirms this."
            f" {NOTHING_CHANGED}"
        )
    if not Controllers(at).are_independent(second, by):
        raise Refusal(
            f"{second} cannot confirm this: in the last {INDEPENDENCE_DAYS} days one of you, or an administrator who"
            f" changed both accounts, added, invited or gave a role to the other. {NOTHING_CHANGED}"
        )

"""Change accounts: invitations, roles, access and sessions. Each change writes its journal entry."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from school import advisory_locks, journal
from school.accounts import emails, role_dependencies, second_person, waiting
from school.accounts.invitation_links import find_open_invitation, sign_link
from school.accounts.locks import lock_people
from school.accounts.second_person import NO_CONFIRMATION, Confirmation
from school.accounts.sessions import end_sessions
from school.actions import end_calendar_address
from school.errors import Refusal
from school.models import Invitation, Person, Role, School
from school.password_text import normalise_password
from school.permissions import can_decide

PERSON_FIELDS = ("given_name", "family_name", "email", "reference", "born")
LAST_CHIEF_REFUSAL = (
    "At least one chief instructor must be able to log in, or nobody can decide on solo: appoint another chief"
    " instructor first. Nothing was changed."
)
INVALID_LINK_REFUSAL = "This link no longer works. Ask the school's administrator for a new invitation."


@transaction.atomic
def edit_person(
    *, person: Person, changes: dict[str, Any], by: Person, at: datetime, confirmation: Confirmation = NO_CONFIRMATION
) -> Person:
    """Change a person's details, by the names of PERSON_FIELDS. Signed records show the name of their day.

    A new e-mail address of somebody who has a password waits (school/accounts/waiting.py).
    """
    person, by = lock_people(person, by)
    person = waiting.settle(person=person, at=at)
    # Addresses are stored in lower case (add_person does the same): other capitals are no new address and need no
    # second person.
    changes = {**changes, "email": changes.get("email", person.email).lower()}
    changed = {
        name: changes[name] for name in PERSON_FIELDS if name in changes and getattr(person, name) != changes[name]
    }
    if "reference" in changed and not _is_reference_free(changed["reference"]):
        raise Refusal(f"The school number {changed['reference']} belongs to somebody else. Nothing was changed.")
    new_email = changed.pop("email", None) if person.has_usable_password() else None
    if new_email is not None and not _waits_already(person, new_email):
        # The last of the checks: a wrong password counts against the second person, so it is checked only where the
        # change would go through otherwise.
        second = second_person.confirm(confirmation, person, by, at)
        waiting.ask_for_address(person, new_email, by=by, second=second, at=at)
    if changed:
        _save_details(person, changed, by, at)
    return person


def _waits_already(person: Person, email: str) -> bool:
    return person.new_email_from is not None and person.new_email == email


def _save_details(person: Person, changed: dict[str, Any], by: Person, at: datetime) -> None:
    before = {name: _journal_value(name, getattr(person, name)) for name in changed}
    old_email = person.email
    for name, value in changed.items():
        setattr(person, name, value)
    person.save(update_fields=list(changed))
    after = {name: _journal_value(name, value) for name, value in changed.items()}
    journal.record(by=by, at=at, what="person changed", subject=person, before=before, after=after)
    # Only of somebody without a password: there is no account yet that it could open.
    if "email" in changed:
        EmailAddress.objects.filter(user=person).delete()  # the new one is not confirmed by its owner
        if old_email:
            text = f"E-mails about an account of the school will go to another address: {by.name} changed it."
            emails.send_email(person, "The address was changed", f"{text}\n\n{emails.NO_ACCOUNT_ADVICE}", to=old_email)


@transaction.atomic
def change_roles(*, person: Person, roles: Iterable[str], by: Person, at: datetime) -> Person:
    """Replace the roles of a person. Nobody changes their own roles.

    Refuses to remove a role while work depends on it that nobody else can finish.
    """
    person, by = lock_people(person, by)
    # In the order of Role, so that two lists of the same roles compare equal; unknown names drop out here.
    wanted = [role for role in Role.values if role in set(roles)]
    # Somebody else has to agree, so that no administrator becomes chief instructor alone and decides about solo.
    if person.pk == by.pk:
        raise Refusal("Another administrator must change your own roles. Nothing was changed.")
    if not wanted:
        raise Refusal("Choose a role. If this person is not to log in any more, revoke their access instead.")
    if wanted == [role for role in Role.values if role in person.roles]:
        return person
    was_chief, before, person.roles = can_decide(person), person.roles, wanted
    _refuse_without_admin(person)
    _refuse_without_chief(person, was_chief)
    if dependencies := role_dependencies.list_open_dependencies(person, set(before) - set(wanted)):
        raise Refusal(" ".join([*dependencies, "Nothing was changed."]))
    person.save(update_fields=["roles"])
    journal.record(
        by=by, at=at, what="roles changed", subject=person, before={"roles": before}, after={"roles": wanted}
    )
    return person


@transaction.atomic
def invite(*, person: Person, by: Person, at: datetime) -> Invitation:
    """Send the e-mail with which a person sets their password. It replaces every earlier invitation."""
    person, by = lock_people(person, by)
    if not person.is_active:
        raise Refusal(f"{person.name} may not log in. Restore access first.")
    # An invitation sets a first password only: find_open_invitation would refuse this link, and its receiver could do
    # nothing.
    if person.has_usable_password():
        raise Refusal(f"{person.name} already has a password. A new one can be set under “Forgotten password”.")
    if not person.email:
        raise Refusal(f"There is no e-mail address of {person.name}. Enter it first.")
    # The address is copied: the link opens only while it is still the person's, so that a corrected address leaves no
    # account open to a stranger.
    invitation = Invitation.objects.create(person=person, email=person.email, invited_at=at, invited_by=by)
    journal.record(by=by, at=at, what="invited", subject=person, after={"until": invitation.expires_at}, derived=False)
    emails.send_invitation(invitation, sign_link(invitation))
    return invitation


@transaction.atomic
def accept_invitation(*, link: str, password: str, at: datetime) -> Person:
    """Set the password of an invited person, who has shown by the link that the address is theirs."""
    unlocked = find_open_invitation(link, at)
    if unlocked is None:
        raise Refusal(INVALID_LINK_REFUSAL)
    person: Person = Person.objects.select_for_update(no_key=True).get(pk=unlocked.person_id)
    # Read the invitation again behind the lock: two requests with one link must not both set a password.
    invitation = find_open_invitation(link, at)
    if invitation is None:
        raise Refusal(INVALID_LINK_REFUSAL)
    # Validated in the normal form that set_password hashes, so that a password is as long on every keyboard.
    try:
        validate_password(normalise_password(password), person)
    except ValidationError as faults:
        raise Refusal(" ".join(faults.messages)) from faults
    person.set_password(password)
    person.save(update_fields=["password"])
    invitation.accepted_at = at
    invitation.save(update_fields=["accepted_at"])
    EmailAddress.objects.filter(user=person).delete()
    # The address may serve several people, but is verified for one of them only. The lock comes after that of the
    # person, in the order that school/advisory_locks.py asks for.
    advisory_locks.lock_email(invitation.email)
    verified_elsewhere = EmailAddress.objects.filter(email=invitation.email, verified=True).exists()
    EmailAddress.objects.create(user=person, email=invitation.email, verified=not verified_elsewhere, primary=True)
    journal.record(by=person, at=at, what="invitation accepted", subject=person, derived=False)
    return person


@transaction.atomic
def revoke_access(*, person: Person, reason: str, by: Person, at: datetime) -> Person:
    """Stop a person from logging in and end all of their sessions."""
    person, by = lock_people(person, by)
    if person.pk == by.pk:
        raise Refusal("Another administrator must revoke your own access.")
    if not person.is_active:
        raise Refusal(f"{person.name} already has no access.")
    if not reason.strip():
        raise Refusal("Write why: the reason is kept in the journal.")
    # Read before the change: the refusal below must know whether a chief instructor is lost by it.
    was_chief, person.is_active = can_decide(person), False
    _refuse_without_admin(person)
    _refuse_without_chief(person, was_chief)
    person.save(update_fields=["is_active"])
    # A session left open would be refused for now, and would work again as soon as the access is restored; so would
    # what waits.
    end_sessions(person)
    waiting.clear_all(person)
    # Nobody logs in to read a calendar: restored access must not open an address that others may have seen.
    end_calendar_address(person=person, by=by, at=at)
    journal.record(by=by, at=at, what="access taken away", subject=person, after={"reason": reason.strip()})
    return person


@transaction.atomic
def restore_access(*, person: Person, by: Person, at: datetime) -> Person:
    """Let a person log in again, with the password and the second step they had."""
    person, by = lock_people(person, by)
    if person.is_active:
        raise Refusal(f"{person.name} already has access.")
    person.is_active = True
    person.save(update_fields=["is_active"])
    journal.record(by=by, at=at, what="access given back", subject=person)
    return person


@transaction.atomic
def reset_second_step(
    *, person: Person, by: Person, at: datetime, confirmation: Confirmation = NO_CONFIRMATION
) -> Person:
    """Remove the second step of a person who lost passkey and codes, end their sessions and e-mail them.

    A second person confirms it, because a reset together with a new e-mail address would open the account. Where the
    school has nobody who may, the reset waits (school/accounts/waiting.py).
    """
    person, by = lock_people(person, by)
    person = waiting.settle(person=person, at=at)
    if person.pk == by.pk:
        raise Refusal("Another administrator must reset your own second step.")
    if not Authenticator.objects.filter(user=person).exists():
        raise Refusal(f"{person.name} has no second step.")
    second = second_person.confirm(confirmation, person, by, at)
    if second is None and second_person.is_needed(person, by):
        if person.second_step_reset_from:
            raise Refusal(
                f"This reset is already waiting, until {waiting.format_moment(person.second_step_reset_from)}."
            )
        waiting.ask_for_reset(person, by=by, at=at)
        return person
    waiting.clear_reset(person)
    waiting.remove_second_step(person, by=by, at=at, after={"second_person": second.name} if second else {})
    who = " and ".join([by.name, *([second.name] if second else [])])
    text = f"{who} removed the second step of your account at your request. Set up a new one after logging in."
    for address in waiting.told_addresses(person, at):
        emails.send_email(person, "Your second step was reset", f"{text}\n\n{emails.NOT_YOU_ADVICE}", to=address)
    return person


@transaction.atomic
def end_session(*, person: Person, pk: int, at: datetime) -> None:
    """End one of the person's own sessions."""
    # The person is part of the look-up, so that nobody ends somebody else's session by guessing its number. The lock
    # lets the second of two clicks see that the session has ended, so the journal has one entry.
    session = UserSession.objects.select_for_update().filter(user=person, pk=pk).first()
    if session is None:
        raise Refusal("That session has ended already.")
    session.end()
    journal.record(by=person, at=at, what="session ended", subject=person, derived=False)


@transaction.atomic
def end_other_sessions(*, person: Person, at: datetime) -> None:
    """End all of the person's sessions; the caller opens a new one for the session of the request."""
    end_sessions(person)
    journal.record(by=person, at=at, what="other sessions ended", subject=person, derived=False)


@transaction.atomic
def record_account_event(*, person: Person, what: str, by: Person | None, at: datetime, **after: Any) -> None:
    """Write a log-in, a wrong password or a change of password or second step in the journal."""
    journal.record(by=by, at=at, what=what, subject=person, after=after or None, derived=False)


@transaction.atomic
def record_unknown_login(*, at: datetime) -> None:
    """Write in the journal that somebody tried to log in with a name that nobody has."""
    # The typed name is not saved: it may be a password typed into the wrong field.
    if school := School.objects.first():
        journal.record(by=None, at=at, what="log-in with an unknown name", subject=school, derived=False)


def _refuse_without_admin(person: Person) -> None:
    """Refuse a change that leaves nobody who can give access back."""
    # lock_people holds every administrator, so this answer cannot change before the commit.
    others = Person.objects.active_with_role(Role.ADMIN).exclude(pk=person.pk).exists()
    if not others and not (person.is_active and person.is_records_admin):
        raise Refusal("At least one administrator must be able to log in. Nothing was changed.")


def _refuse_without_chief(person: Person, was_chief: bool) -> None:
    """Refuse a change that removes the last chief instructor; a school may start without one."""
    # Chief instructors need no lock: each of these changes locks all administrators first, so two never run at once.
    if (
        was_chief
        and not can_decide(person)
        and not Person.objects.active_with_role(Role.CHIEF).exclude(pk=person.pk).exists()
    ):
        raise Refusal(LAST_CHIEF_REFUSAL)


def _is_reference_free(reference: str) -> bool:
    # The caller holds its row locks already: the advisory lock comes last, as school/advisory_locks.py asks.
    advisory_locks.lock_names()
    return not Person.objects.filter(reference=reference).exists()


def _journal_value(name: str, value: Any) -> Any:
    """Return a value for the journal; of an e-mail address only whether there is one."""
    # The journal is append-only, so personal data in it could not be erased later.
    if name == "email":
        return "one" if value else "none"
    return value.isoformat() if isinstance(value, date) else value

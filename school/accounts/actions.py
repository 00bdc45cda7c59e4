"""Writes about accounts: who is invited, what they may do, whether they get in. Each with its journal entry."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.db import transaction

from school import journal, turns
from school.accounts import letters, second_person, ties
from school.accounts.invitation import behind, link_of
from school.accounts.second_person import NOBODY, Confirmation
from school.errors import Refused
from school.models import Invitation, Person, Role, School
from school.password_text import normalise_password
from school.permissions import can_decide, can_keep_people

OF_PERSON = ("given_name", "family_name", "email", "reference", "born")
LAST_CHIEF = (
    "One chief instructor who may log in must remain, or nobody decides about solo: name another chief instructor"
    " first. Nothing was changed."
)
GONE = "This link does not open anything any more. Ask the administrator of the school for a new invitation."


@transaction.atomic
def edit_person(
    *, person: Person, changes: dict[str, Any], by: Person, at: datetime, confirmation: Confirmation = NOBODY
) -> Person:
    """Change what stands of a person, by the names of OF_PERSON. What they signed keeps the name of its day.

    A new e-mail address of somebody who has a password is confirmed by a second person.
    """
    person, by = _locked(person, by)
    changes = {**changes, "email": changes.get("email", person.email).lower()}
    changed = {name: changes[name] for name in OF_PERSON if name in changes and getattr(person, name) != changes[name]}
    if not changed:
        return person
    if "reference" in changed and not _is_free(changed["reference"]):
        raise Refused(f"The school number {changed['reference']} is somebody else’s. Nothing was changed.")
    beside = _second(confirmation, person, by) if "email" in changed else {}
    before = {name: _told(name, getattr(person, name)) for name in changed}
    was = person.email
    for name, value in changed.items():
        setattr(person, name, value)
    person.save(update_fields=list(changed))
    after = {name: _told(name, value) for name, value in changed.items()}
    journal.record(by=by, at=at, what="person changed", subject=person, before=before, after=after | beside)
    if "email" in changed:
        EmailAddress.objects.filter(user=person).delete()  # the new one is not confirmed by its owner
        who = " and ".join([by.name, *beside.values()])
        text = f"Letters about your account go to another address from now on: {who} changed it.\n\n{letters.NOT_YOU}"
        letters.tell(person, "Your address was changed", text, to=was)
    return person


@transaction.atomic
def change_roles(*, person: Person, roles: Iterable[str], by: Person, at: datetime) -> Person:
    """What a person is at the school from now on. Nobody changes their own roles.

    A role is not taken while something hangs on it that nobody else can bring to an end.
    """
    person, by = _locked(person, by)
    wanted = [role for role in Role.values if role in set(roles)]
    if person.pk == by.pk:
        raise Refused("Your own roles are changed by another administrator. Nothing was changed.")
    if not wanted:
        raise Refused("Choose a role; whoever shall not log in any more has the access taken away instead.")
    if wanted == [role for role in Role.values if role in person.roles]:
        return person
    was_chief, before, person.roles = can_decide(person), person.roles, wanted
    _refuse_without_admin(person)
    _refuse_without_chief(person, was_chief)
    if said := ties.of(person, set(before) - set(wanted)):
        raise Refused(" ".join([*said, "Nothing was changed."]))
    person.save(update_fields=["roles"])
    journal.record(
        by=by, at=at, what="roles changed", subject=person, before={"roles": before}, after={"roles": wanted}
    )
    return person


@transaction.atomic
def invite(*, person: Person, by: Person, at: datetime) -> Invitation:
    """Send the letter with which a person sets their password. An earlier one does not open anything any more."""
    person, by = _locked(person, by)
    if not person.is_active:
        raise Refused(f"{person.name} may not log in. Give the access back first.")
    if person.has_usable_password():
        raise Refused(f"{person.name} has a password already. A new one is set under “Password forgotten”.")
    if not person.email:
        raise Refused(f"There is no e-mail address of {person.name}. Enter it first.")
    invitation = Invitation.objects.create(person=person, email=person.email, invited_at=at, invited_by=by)
    journal.record(by=by, at=at, what="invited", subject=person, after={"until": invitation.ends_at}, derived=False)
    letters.send_invitation(invitation, link_of(invitation))
    return invitation


@transaction.atomic
def accept_invitation(*, link: str, password: str, at: datetime) -> Person:
    """The invited person sets their password, and so shows that the address is theirs."""
    found = behind(link, at)
    if found is None:
        raise Refused(GONE)
    person: Person = Person.objects.select_for_update(no_key=True).get(pk=found.person_id)
    invitation = behind(link, at)  # read again behind the lock: it opens once, also for two at one time
    if invitation is None:
        raise Refused(GONE)
    try:
        validate_password(normalise_password(password), person)
    except ValidationError as faults:
        raise Refused(" ".join(faults.messages)) from faults
    person.set_password(password)
    person.save(update_fields=["password"])
    invitation.accepted_at = at
    invitation.save(update_fields=["accepted_at"])
    EmailAddress.objects.filter(user=person).delete()
    turns.of_address(invitation.email)
    taken = EmailAddress.objects.filter(email=invitation.email, verified=True).exists()
    EmailAddress.objects.create(user=person, email=invitation.email, verified=not taken, primary=True)
    journal.record(by=person, at=at, what="invitation accepted", subject=person, derived=False)
    return person


@transaction.atomic
def take_access(*, person: Person, reason: str, by: Person, at: datetime) -> Person:
    """The person may not log in any more; every session ends with this."""
    person, by = _locked(person, by)
    if person.pk == by.pk:
        raise Refused("Your own access is taken away by another administrator.")
    if not person.is_active:
        raise Refused(f"{person.name} may not log in already.")
    if not reason.strip():
        raise Refused("Write why: the reason stays in the journal.")
    was_chief, person.is_active = can_decide(person), False
    _refuse_without_admin(person)
    _refuse_without_chief(person, was_chief)
    person.save(update_fields=["is_active"])
    _end_sessions(person)
    journal.record(by=by, at=at, what="access taken away", subject=person, after={"reason": reason.strip()})
    return person


@transaction.atomic
def give_access(*, person: Person, by: Person, at: datetime) -> Person:
    """The person may log in again, with the password and the second step they had."""
    person, by = _locked(person, by)
    if person.is_active:
        raise Refused(f"{person.name} may log in already.")
    person.is_active = True
    person.save(update_fields=["is_active"])
    journal.record(by=by, at=at, what="access given back", subject=person)
    return person


@transaction.atomic
def reset_second_step(*, person: Person, by: Person, at: datetime, confirmation: Confirmation = NOBODY) -> Person:
    """For whoever lost passkey and codes: another administrator removes them, every session ends, a letter says so.

    A second person confirms it: with a new address it would open the account.
    """
    person, by = _locked(person, by)
    if person.pk == by.pk:
        raise Refused("Your own second step is reset by another administrator.")
    held = Authenticator.objects.filter(user=person)
    if not held.exists():
        raise Refused(f"{person.name} has no second step.")
    beside = _second(confirmation, person, by)
    kinds = sorted(set(held.values_list("type", flat=True)))
    held._raw_delete(held.db)  # one entry for the act, not one for each of them
    _end_sessions(person)
    journal.record(
        by=by, at=at, what="second step reset", subject=person, before={"kinds": kinds}, after=beside, derived=False
    )
    who = " and ".join([by.name, *beside.values()])
    text = f"{who} removed the second step of your account, at your wish. Set up a new one after logging in."
    letters.tell(person, "Your second step was reset", f"{text}\n\n{letters.NOT_YOU}")
    return person


@transaction.atomic
def end_session(*, person: Person, pk: int, at: datetime) -> None:
    """One of the person's own sessions."""
    session = UserSession.objects.select_for_update().filter(user=person, pk=pk).first()
    if session is None:
        raise Refused("That session has ended already.")
    session.end()
    journal.record(by=person, at=at, what="session ended", subject=person, derived=False)


@transaction.atomic
def end_other_sessions(*, person: Person, at: datetime) -> None:
    """All of the person's sessions; whoever asks takes a new one for the session they are in."""
    _end_sessions(person)
    journal.record(by=person, at=at, what="other sessions ended", subject=person, derived=False)


@transaction.atomic
def note(*, person: Person, what: str, by: Person | None, at: datetime, **after: Any) -> None:
    """What happened at the door: logged in, wrong password, password changed, second step set up."""
    journal.record(by=by, at=at, what=what, subject=person, after=after or None, derived=False)


@transaction.atomic
def note_stranger(*, at: datetime) -> None:
    """A log-in with a name that nobody has. What was typed may be a password in the wrong field: it is not kept."""
    if school := School.objects.first():
        journal.record(by=None, at=at, what="log-in with an unknown name", subject=school, derived=False)


def _locked(person: Person, by: Person) -> tuple[Person, Person]:
    """Both as they stand now, and every administrator held still: two cannot take each other's place at one time."""
    keys = Person.objects.filter(roles__contains=[Role.ADMIN]).values_list("pk", flat=True)
    # Keys stay free: whoever writes about a student meanwhile names these people, and is not to wait for them.
    locked = Person.objects.select_for_update(no_key=True).filter(pk__in={*keys, person.pk, by.pk})
    held = locked.order_by("pk").in_bulk()
    by = held[by.pk]
    if not can_keep_people(by):
        raise Refused("People are kept by the administrator. Nothing was changed.")
    person = held[person.pk]
    if person.username.startswith("erased "):  # no login name holds a space
        raise Refused("This record was erased; nobody logs in with it any more, and nothing is put on record of it.")
    return person, by


def _second(typed: Confirmation, person: Person, by: Person) -> dict[str, str]:
    """For the journal: who confirmed it beside the administrator. A letter tells them, whose password was used."""
    if not second_person.is_needed(person, by):
        return {}
    second = second_person.confirmed(typed, person, by)
    text = f"{by.name} changed how {person.name} gets in, and your password confirmed it.\n\n{letters.NOT_YOU}"
    letters.tell(second, "You confirmed a change", text)
    return {"second_person": second.name}


def _refuse_without_admin(person: Person) -> None:
    others = Person.objects.having(Role.ADMIN).exclude(pk=person.pk).exists()
    if not others and not (person.is_active and person.is_records_admin):
        raise Refused("One administrator who may log in must remain. Nothing was changed.")


def _refuse_without_chief(person: Person, was_chief: bool) -> None:
    """A school may begin without one; it does not lose the last."""
    if was_chief and not can_decide(person) and not Person.objects.having(Role.CHIEF).exclude(pk=person.pk).exists():
        raise Refused(LAST_CHIEF)


def _is_free(reference: str) -> bool:
    turns.of_names()
    return not Person.objects.filter(reference=reference).exists()


def _end_sessions(person: Person) -> None:
    person.session_epoch += 1  # also ends those that stand in no list
    person.save(update_fields=["session_epoch"])
    known = UserSession.objects.filter(user=person)
    Session.objects.filter(session_key__in=known.values("session_key")).delete()
    known.delete()


def _told(name: str, value: Any) -> Any:
    """An address is personal and the journal has no end: only whether there is one."""
    if name == "email":
        return "one" if value else "none"
    return value.isoformat() if isinstance(value, date) else value

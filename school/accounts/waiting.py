"""Let a new address and an unconfirmed reset of the second step wait, so that their person can stop them.

Either opens an account that signs. Until the moment stored with the person nothing is different: letters go to the
address in use, and a forgotten password is set through it. Who the account belongs to is told at once, and stops the
change by the link in that e-mail or on their account page. A new address takes effect at once where the person opens
the link that went to the address in use.
"""

from datetime import datetime, timedelta
from typing import NamedTuple

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.core import signing
from django.db import transaction
from django.urls import reverse

from school import advisory_locks, journal
from school.accounts import emails
from school.accounts.locks import lock_people, lock_person
from school.accounts.sessions import end_sessions
from school.errors import Refusal
from school.models import Person, Role

WAITING_HOURS = 48  # long enough for its person to read an e-mail
WAITING_TIME = timedelta(hours=WAITING_HOURS)
# An earlier address hears of changes this long, so that its owner is told of what follows a stolen change too.
EARLIER_ADDRESS_TOLD = timedelta(days=30)
ADDRESS, SECOND_STEP = "address", "second step"
KINDS = (ADDRESS, SECOND_STEP)
CHANGE_WORDS = {ADDRESS: "new e-mail address", SECOND_STEP: "reset of the second step"}
# A salt of its own, so that no other text that the server signed passes as such a link.
SALT = "school.waiting"
NOTHING_WAITS = "This change is no longer waiting: it was stopped, replaced, or has taken effect."


class WaitingChange(NamedTuple):
    """A change that waits: of whom, which, and from when it holds."""

    person: Person
    kind: str
    takes_effect: datetime

    @property
    def words(self) -> str:
        return CHANGE_WORDS[self.kind]


def waiting_changes(person: Person, at: datetime) -> list[WaitingChange]:
    """Return what waits for this person and is not due yet."""
    moments = {ADDRESS: person.new_email_from, SECOND_STEP: person.second_step_reset_from}
    return [WaitingChange(person, kind, moment) for kind, moment in moments.items() if moment and moment > at]


def told_addresses(person: Person, at: datetime) -> list[str]:
    """Return where e-mails about the account go: the address in use, and the one before it for some days."""
    earlier = person.earlier_email if person.earlier_email_until and at < person.earlier_email_until else ""
    return list(dict.fromkeys(address for address in (person.email, earlier) if address))


# Begin


def ask_for_address(person: Person, email: str, *, by: Person, second: Person | None, at: datetime) -> None:
    """Let a new address wait and tell its person. The caller locked the person and holds the transaction."""
    _refuse_untold(person, by, second, at)
    _store_address(person, email, at, verified=False)
    _record_request(person, "new address asked for", by, second, at)
    who = " and ".join([by.name, *([second.name] if second else [])])
    act = f"entered {email} as your new e-mail address" if email else "removed your e-mail address"
    _tell_person(person, f"{who} {act}", ADDRESS, at)
    if by.pk != person.pk and second is None:
        _tell_others(f"{by.name} entered a new e-mail address for {person.name}.", person, by, at)


@transaction.atomic
def ask_for_own_address(*, person: Person, email: str, at: datetime) -> None:
    """Let an address wait that the person entered and confirmed themselves by the link sent to it."""
    person = lock_person(person)
    _store_address(person, email, at, verified=True)
    # Only the address in use stands in allauth's table: each row there opens “Password forgotten”.
    EmailAddress.objects.filter(user=person, email=email).exclude(email=person.email).delete()
    _record_request(person, "new address asked for", person, None, at)
    _tell_person(person, f"On your account page, {email} was entered as your new e-mail address", ADDRESS, at)


def ask_for_reset(person: Person, *, by: Person, at: datetime) -> None:
    """Let a reset wait that no second person confirmed. The caller locked the person and holds the transaction."""
    person.second_step_reset_from = at + WAITING_TIME
    person.save(update_fields=["second_step_reset_from"])
    _record_request(person, "second step reset asked for", by, None, at)
    _tell_person(person, f"{by.name} asked to remove the second step of your account", SECOND_STEP, at)
    _tell_others(f"{by.name} asked to remove the second step of {person.name}.", person, by, at)


def _store_address(person: Person, email: str, at: datetime, verified: bool) -> None:
    # A change that waits already is replaced, and the new one waits for its whole time.
    person.new_email, person.new_email_verified, person.new_email_from = email, verified, at + WAITING_TIME
    person.save(update_fields=["new_email", "new_email_verified", "new_email_from"])


def _refuse_untold(person: Person, by: Person, second: Person | None, at: datetime) -> None:
    """Refuse a change by one administrator of which nobody could be told."""
    if by.pk != person.pk and second is None and not told_addresses(person, at):
        raise Refusal(
            f"No e-mail address of {person} is on record that could be told, and nobody at the school can confirm the"
            f" change: {person} enters one on the page “Your account”. Nothing was changed."
        )


def _record_request(person: Person, what: str, by: Person, second: Person | None, at: datetime) -> None:
    after = {"from": at + WAITING_TIME} | ({"second_person": second.name} if second else {})
    journal.record(by=by, at=at, what=what, subject=person, after=after, derived=False)


# Tell


def _tell_person(person: Person, sentence: str, kind: str, at: datetime) -> None:
    moment = format_moment(at + WAITING_TIME)
    link = settings.PUBLIC_ADDRESS.rstrip("/") + reverse("school:waiting_change", args=[sign_link(person, kind)])
    choice = "stop it, or use the new address at once" if kind == ADDRESS else "stop it"
    text = (
        f"{sentence}. It takes effect on {moment}. Until then nothing changes. On this page you can {choice}:"
        f"\n\n{link}\n\nIf you did not ask for this, stop it and tell the administrator and the chief instructor"
        " of the school: somebody is trying to get into your account."
    )
    for address in told_addresses(person, at):
        emails.send_email(person, f"Your account: {CHANGE_WORDS[kind]}", text, to=address)


def _tell_others(sentence: str, person: Person, by: Person, at: datetime) -> None:
    """Tell every other administrator and chief instructor of a change that nobody confirmed."""
    moment = format_moment(at + WAITING_TIME)
    text = (
        f"{sentence} Nobody else could confirm it, so it waits until {moment}. Ask {person.name} whether they want it;"
        f" {person.name} can stop it on the page “Your account” or by the link that was e-mailed to them."
    )
    for other in _keepers(person, by):
        emails.send_email(other, "A change of an account waits", text)


def _keepers(*without: Person) -> list[Person]:
    keepers = Person.objects.filter(roles__overlap=[Role.ADMIN, Role.CHIEF], is_active=True).exclude(email="")
    return list(keepers.exclude(pk__in=[one.pk for one in without]).order_by("pk"))


def format_moment(moment: datetime) -> str:
    return f"{moment.day} {moment:%b %Y, %H:%M} UTC"


# The link


def sign_link(person: Person, kind: str) -> str:
    moment = person.new_email_from if kind == ADDRESS else person.second_step_reset_from
    assert moment is not None
    # With its moment, so that the link of a replaced change does not open the one that replaced it.
    return signing.dumps([person.pk, kind, moment.timestamp()], salt=SALT)


def find_by_link(link: str, at: datetime) -> WaitingChange | None:
    """Return the change of a link, or None where it does not wait any more."""
    try:
        key, kind, moment = signing.loads(link, salt=SALT)
    except signing.BadSignature:
        return None
    person = Person.objects.filter(pk=key).first()
    waiting = waiting_changes(person, at) if person else []
    return next((one for one in waiting if (one.kind, one.takes_effect.timestamp()) == (kind, moment)), None)


# End


@transaction.atomic
def stop(*, change: WaitingChange, by: Person, at: datetime) -> None:
    """Stop a change: the person it is about, or an administrator, who withdraws it."""
    person = lock_person(change.person) if by.pk == change.person.pk else lock_people(change.person, by)[0]
    if change._replace(person=person) not in waiting_changes(person, at):
        raise Refusal(NOTHING_WAITS)
    _clear(person, change.kind)
    what = "new address stopped" if change.kind == ADDRESS else "second step reset stopped"
    journal.record(by=by, at=at, what=what, subject=person, derived=False)
    text = f"{by.name} stopped the {change.words} of {person.name}. Nothing was changed."
    for other in _keepers(by):
        emails.send_email(other, f"Stopped: {change.words}", text)


@transaction.atomic
def use_address_now(*, change: WaitingChange, at: datetime) -> None:
    """Let a new address take effect at once; the link that went to the address in use shows that its owner agrees."""
    person = lock_person(change.person)
    if change.kind != ADDRESS or change._replace(person=person) not in waiting_changes(person, at):
        raise Refusal(NOTHING_WAITS)
    _put_address_in_force(person, by=person, at=at)


@transaction.atomic
def settle(*, person: Person, at: datetime) -> Person:
    """Put into force what has waited long enough, and return the person as they are now."""
    # Read without a lock first: nearly always nothing waits.
    if not _is_due(person, at):
        return person
    person = lock_person(person)
    if person.new_email_from and person.new_email_from <= at:
        _put_address_in_force(person, by=None, at=at)
    if person.second_step_reset_from and person.second_step_reset_from <= at:
        _clear(person, SECOND_STEP)
        remove_second_step(person, by=None, at=at, after={})
    return person


def settle_all(at: datetime) -> int:
    """Put into force what is due for anybody; return how many people it concerned."""
    due = list(Person.objects.due_changes(at))
    for person in due:
        settle(person=person, at=at)
    return len(due)


def remove_second_step(person: Person, *, by: Person | None, at: datetime, after: dict[str, str]) -> None:
    """Remove the second step and end the sessions. The caller locked the person and holds the transaction."""
    authenticators = Authenticator.objects.filter(user=person)
    kinds = sorted(set(authenticators.values_list("type", flat=True)))
    # A raw delete sends no signals, so the journal gets one entry for the act and not one for each authenticator.
    authenticators._raw_delete(authenticators.db)
    # The lost device may be in a stranger's hands and still be logged in.
    end_sessions(person)
    journal.record(
        by=by, at=at, what="second step reset", subject=person, before={"kinds": kinds}, after=after, derived=False
    )


def clear_all(person: Person) -> None:
    """Forget what waits, because the person may not log in any more."""
    for kind in KINDS:
        _clear(person, kind)


def forget_erased(person: Person) -> None:
    """Remove every address that is stored beside the one in use, if the person was erased."""
    Person.objects.filter(pk=person.pk, username__startswith="erased ").update(
        new_email="",
        new_email_verified=False,
        new_email_from=None,
        second_step_reset_from=None,
        earlier_email="",
        earlier_email_until=None,
        calendar_key=None,
    )


def clear_reset(person: Person) -> None:
    """Forget a reset that waits, because a second person confirmed it."""
    _clear(person, SECOND_STEP)


def _is_due(person: Person, at: datetime) -> bool:
    return any(moment and moment <= at for moment in (person.new_email_from, person.second_step_reset_from))


def _put_address_in_force(person: Person, by: Person | None, at: datetime) -> None:
    if person.email:
        person.earlier_email, person.earlier_email_until = person.email, at + EARLIER_ADDRESS_TOLD
    person.email, verified = person.new_email, person.new_email_verified
    person.save(update_fields=["email", "earlier_email", "earlier_email_until"])
    _clear(person, ADDRESS)
    EmailAddress.objects.filter(user=person).delete()
    if verified:
        # The address may serve several people, but is verified for one of them only.
        advisory_locks.lock_email(person.email)
        taken = EmailAddress.objects.filter(email=person.email, verified=True).exists()
        EmailAddress.objects.create(user=person, email=person.email, verified=not taken, primary=True)
    # Not the address itself: the journal is append-only, so personal data in it could not be erased later.
    journal.record(by=by, at=at, what="new address in force", subject=person, derived=False)


def _clear(person: Person, kind: str) -> None:
    if kind == ADDRESS:
        person.new_email, person.new_email_verified, person.new_email_from = "", False, None
        person.save(update_fields=["new_email", "new_email_verified", "new_email_from"])
    else:
        person.second_step_reset_from = None
        person.save(update_fields=["second_step_reset_from"])

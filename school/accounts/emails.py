"""Build and send the e-mails about an account: plain text, to one address each."""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from smtplib import SMTPException, SMTPRecipientsRefused
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.urls import reverse

from school.errors import Refusal
from school.formats import write_moment
from school.models import Invitation, Person, School

log = logging.getLogger(__name__)

# An address may be mistyped, and then its owner has no account here: nobody is told that their password is known.
NO_ACCOUNT_ADVICE = (
    "If you have no account at this school, this address was entered there by mistake: please tell the school, and"
    " ignore this e-mail."
)
NOT_YOU_ADVICE = (
    "If you did this, there is nothing to do. If you did not, somebody else may be using your account: set a new"
    f" password under “Forgotten password” and tell the school's administrator.\n\n{NO_ACCOUNT_ADVICE}"
)

# The e-mails that allauth sends, by its own template names: subject and text.
ALLAUTH_EMAILS: dict[str, tuple[str, str]] = {
    "account/email/password_reset_key": (
        "A new password",
        "Somebody asked for a new password for your account {username}. Set it on this"
        " page:\n\n{password_reset_url}\n\n"
        "If it was not you, ignore this e-mail: nothing changes.",
    ),
    "account/email/unknown_account": (
        "No account with this address",
        "Somebody asked for a new password for this address, but nobody at the school logs in with it. Ask the"
        " school's administrator which address is on record. If it was not you, ignore this e-mail.",
    ),
    "account/email/email_confirmation": (
        "Confirm this address",
        "{user} wants e-mails from the school to go to this address. Confirm it on this page:\n\n{activate_url}\n\n"
        "If that is not you, ignore this e-mail: nothing changes.",
    ),
    "account/email/email_changed": (
        "Your address was changed",
        "E-mails about your account will go to another address.\n\n" + NOT_YOU_ADVICE,
    ),
    "account/email/password_changed": ("Your password was changed", "Your password was changed.\n\n" + NOT_YOU_ADVICE),
    "account/email/password_reset": (
        "Your password was reset",
        "Your password was reset by a link e-mailed to this address; you have been logged out everywhere.\n\n"
        + NOT_YOU_ADVICE,
    ),
    "mfa/email/totp_activated": (
        "One-time codes are set up",
        "Your account now asks for one-time codes.\n\n" + NOT_YOU_ADVICE,
    ),
    "mfa/email/totp_deactivated": (
        "One-time codes are removed",
        "Your one-time codes were removed.\n\n" + NOT_YOU_ADVICE,
    ),
    "mfa/email/webauthn_added": ("A passkey was added", "A passkey was added to your account.\n\n" + NOT_YOU_ADVICE),
    "mfa/email/webauthn_removed": (
        "A passkey was removed",
        "A passkey was removed from your account.\n\n" + NOT_YOU_ADVICE,
    ),
    "mfa/email/recovery_codes_generated": (
        "New recovery codes",
        "New recovery codes were created; the earlier ones no longer work.\n\n" + NOT_YOU_ADVICE,
    ),
}


class EmailNotSent(Refusal):
    """The mail server did not take an e-mail."""

    def __init__(self) -> None:
        # What the server answered is for the log: a person cannot do anything about it.
        words = "The e-mail could not be sent: the mail server does not answer."
        super().__init__(f"{words} Nothing was changed; try again later.")


def build_allauth_email(name: str, context: dict[str, Any], to: str) -> EmailMessage:
    """Build one of allauth's e-mails from ALLAUTH_EMAILS."""
    subject, text = ALLAUTH_EMAILS[name]
    values = {key: str(value) for key, value in context.items()}
    return _build_email(subject, text.format(**values), to)


def send_invitation(invitation: Invitation, link: str) -> None:
    """E-mail an invitation. The link is in the e-mail and nowhere else: not in the database, not in the journal."""
    # From the settings and not from the request: no header decides where the link of an e-mail leads.
    address = settings.PUBLIC_ADDRESS.rstrip("/") + reverse("school:invitation", args=[link])
    text = (
        f"{invitation.person.name}, {invitation.invited_by.name} invites you to the training record of the school."
        f" Your login name is {invitation.person.username}. Set your password on this page:\n\n{address}\n\n"
        f"The page works once and until {write_moment(invitation.expires_at)}."
    )
    _send_or_refuse(_build_email("Your account", text, invitation.email))


def send_email(person: Person, subject: str, text: str, to: str = "") -> None:
    """E-mail a person who has an address; `to` is an earlier address to use instead."""
    if address := to or person.email:
        _send_or_refuse(_build_email(subject, text, address))


def send_many(messages: Sequence[tuple[Person, str, str]]) -> list[Person]:
    """E-mail many people over one connection: person, subject and text of each. Return whom no e-mail reached.

    A mail server that does not answer is asked once and not once a person, who would all wait for it.
    """
    waiting = [row for row in messages if row[0].email]
    untold = [person for person, _, _ in messages if not person.email]
    try:
        with get_connection() as connection:
            while waiting:
                person, subject, text = waiting[0]
                try:
                    connection.send_messages([_build_email(subject, text, person.email)])
                except SMTPRecipientsRefused:  # this address, and not the server
                    untold.append(person)
                del waiting[0]
    except (SMTPException, OSError) as fault:
        log.warning("%d e-mails were not sent: %s", len(waiting), type(fault).__name__)
    return untold + [person for person, _, _ in waiting]


def _send_or_refuse(email: EmailMessage) -> None:
    # The refusal rolls the action back: no invitation is on record that nobody received.
    with mail_errors_refused():
        email.send()


@contextmanager
def mail_errors_refused() -> Iterator[None]:
    """Raise EmailNotSent in place of what a mail server fails with."""
    try:
        yield
    except (SMTPException, OSError) as fault:
        log.warning("an e-mail was not sent: %s", type(fault).__name__)
        raise EmailNotSent from fault


def _build_email(subject: str, text: str, to: str) -> EmailMessage:
    school = School.objects.first()
    name = school.name if school else "Training record"
    return EmailMessage(f"{name}: {subject}", f"{text}\n\n{name}", None, [to])

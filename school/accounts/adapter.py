"""Adapt allauth: its messages, its limits and its secrets at rest. The adapters answer requests and read the clock."""

import base64
import logging
import unicodedata
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.models import EmailAddress
from allauth.core.internal import ratelimit
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.mail import EmailMessage
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from school.accounts import actions, devices, emails, waiting
from school.accounts.backend import find_person_by_login
from school.models import Person, School
from school.password_text import normalise_password
from school.rate_limits import client_address

log = logging.getLogger(__name__)

CREDENTIALS_MISMATCH = "Name and password do not match. Check both; the password is case-sensitive."
TOO_MANY_ATTEMPTS = (
    "Too many wrong attempts with this name or from this network: wait five minutes. In the meantime you can use"
    " a passkey or set a new password."
)
WRONG_CODE = (
    "That code is wrong. A one-time code changes every 30 seconds; each code, also a recovery code, works once."
)
ERROR_MESSAGES = {
    "username_password_mismatch": CREDENTIALS_MISMATCH,
    "email_password_mismatch": CREDENTIALS_MISMATCH,
    "too_many_login_attempts": TOO_MANY_ATTEMPTS,
    "rate_limited": TOO_MANY_ATTEMPTS,
    "incorrect_password": "Wrong password.",
    "enter_current_password": "Wrong password.",
    "incorrect_code": WRONG_CODE,
    "invalid_password_reset": "This link no longer works. Ask for a new one.",
    "duplicate_email": "That is already your address.",
}
# Messages after a change, by allauth's own template names. allauth's other messages are left out on purpose.
CHANGE_MESSAGES = {
    "account/messages/password_changed.txt": "Your password is set. You have been logged out everywhere else.",
    "account/messages/email_confirmation_sent.txt": "We have e-mailed {email}. Open the link in the e-mail.",
    "account/messages/email_confirmed.txt": "The address {email} is confirmed.",
    "account/messages/email_confirmation_failed.txt": "The address {email} cannot be confirmed: it is taken.",
    "mfa/messages/totp_activated.txt": "One-time codes are set up.",
    "mfa/messages/totp_deactivated.txt": "One-time codes are removed.",
    "mfa/messages/webauthn_added.txt": "The passkey is saved.",
    "mfa/messages/webauthn_removed.txt": "The passkey is removed.",
}
REAUTHENTICATION_LABELS = {
    "reauthenticate": "With the password",
    "mfa_reauthenticate": "With a code",
    "mfa_reauthenticate:webauthn": "With a passkey",
}


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Give allauth the school's messages and e-mails, and write log-ins and log-outs in the journal."""

    error_messages = {**DefaultAccountAdapter.error_messages, **ERROR_MESSAGES}

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Close signing up: people come by invitation only."""
        return False

    def clean_password(self, password: str, user: Any = None) -> str:
        # Validators see the text that Person.set_password hashes.
        clean: str = super().clean_password(normalise_password(password), user)
        return clean

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """Return the key of the counter of wrong passwords: one for each account, by login name or e-mail address."""
        name = credentials.get("username") or credentials.get("email") or ""
        person = find_person_by_login(name)
        # Unknown names are counted too, so that the limit does not reveal which names exist.
        return f"person:{person.pk}" if person else f"name:{unicodedata.normalize('NFKC', name).casefold()}"

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Count the try before the password is checked; a right one is counted back, but for that by a stranger."""
        person = find_person_by_login(credentials.get("username") or credentials.get("email") or "")
        device = devices.device_name(request, person) if person else ""
        if device:
            counted = [self._count_try(request, "login_failed_on_device", device)]
        else:
            # The account's own counter last: a network that is over its limits uses up nobody's account.
            key = self._get_login_attempts_cache_key(request, **credentials)
            self._count_try(request, "login_by_stranger", key)
            counted = [self._count_try(request, "login_failed_by_stranger", key)]
            counted.append(self._count_try(request, "login_failed", key))
        self._login_failed_rl_usage = ratelimit.RateLimitUsage([one for tries in counted for one in tries.usage])

    def _count_try(self, request: HttpRequest, action: str, key: str) -> ratelimit.RateLimitUsage:
        usage = ratelimit.consume(request, app="allauth.account", action=action, key=key)
        if usage is None:
            raise self.validation_error("too_many_login_attempts")
        return usage

    def get_client_ip(self, request: HttpRequest) -> str:
        """Return the client's address, by the same rule for allauth's limits and for ours."""
        if address := client_address(request):
            return address
        # The limits on guessing count by address: a request without one would escape them.
        raise PermissionDenied("You are not logged in.")

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        person = find_person_by_login(credentials.get("username") or credentials.get("email") or "")
        now = timezone.now()
        log.warning("wrong password, from %s", self.get_client_ip(request))
        if person is None:
            # The name stays out of the journal and the log: it may be a password typed into the wrong field.
            actions.record_unknown_login(at=now)
        else:
            # By nobody: a wrong password does not prove who typed it.
            actions.record_account_event(person=person, what="wrong password", by=None, at=now)

    def confirm_email(self, request: HttpRequest, email_address: EmailAddress) -> bool:
        """Let an address that its owner confirmed wait, as every new address does, unless it is in use already."""
        person: Person = email_address.user
        if email_address.email == person.email:
            return bool(super().confirm_email(request, email_address))
        now = timezone.now()
        waiting.ask_for_own_address(person=person, email=email_address.email, at=now)
        moment = waiting.format_moment(now + waiting.WAITING_TIME)
        text = f"The address {email_address.email} is confirmed. It takes effect on {moment}"
        told = ", or at once by the link that we e-mailed to your previous address." if person.email else "."
        messages.info(request, text + told)
        return True

    def settle_login(self, login: str) -> None:
        """Put into force what has waited long enough for the person who logs in with this name or address."""
        if person := find_person_by_login(login):
            waiting.settle(person=person, at=timezone.now())

    def settle_address(self, email: str) -> None:
        """Put new addresses into force that have waited long enough, before one of them is looked up."""
        for person in Person.objects.filter(new_email=email.lower(), new_email_from__isnull=False):
            waiting.settle(person=person, at=timezone.now())

    def respond_user_inactive(self, request: HttpRequest, user: Any) -> HttpResponse:
        messages.error(request, "You may not log in. Ask the administrator of the school.")
        return redirect("school:login")

    def logout(self, request: HttpRequest) -> None:
        # Recorded before the log-out, because afterwards the request belongs to nobody.
        person: Any = request.user
        actions.record_account_event(person=person, what="logged out", by=person, at=timezone.now())
        super().logout(request)

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("school:account")

    def get_email_verification_redirect_url(self, email_address: Any) -> str:
        return reverse("school:account")

    def get_reauthentication_methods(self, user: Any) -> list[dict[str, Any]]:
        return [
            {**row, "description": REAUTHENTICATION_LABELS[row["id"]]}
            for row in super().get_reauthentication_methods(user)
        ]

    def add_message(
        self,
        request: HttpRequest,
        level: int,
        message_template: str | None = None,
        message_context: dict[str, Any] | None = None,
        extra_tags: str = "",
        message: str | None = None,
    ) -> None:
        text = message or CHANGE_MESSAGES.get(message_template or "", "")
        if text:
            messages.add_message(request, level, text.format(**(message_context or {})))

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        with emails.mail_errors_refused():
            super().send_mail(template_prefix, email, context)

    def send_notification_mail(self, template_prefix: str, user: Any, *more: Any, **named: Any) -> None:
        """Send the notice of a change; the change stands without it, because it may be a password somebody knows."""
        try:
            super().send_notification_mail(template_prefix, user, *more, **named)
        except emails.EmailNotSent:
            messages.warning(self.request, "The e-mail about it could not be sent: the mail server does not answer.")

    def render_mail(
        self, template_prefix: str, email: str, context: dict[str, Any], headers: dict[str, str] | None = None
    ) -> EmailMessage:
        return emails.build_allauth_email(template_prefix, context, email)


class SecondStepAdapter(DefaultMFAAdapter):  # type: ignore[misc]
    """Encrypt the secrets of one-time codes and recovery codes under a key derived from SECRET_KEY."""

    error_messages = {**DefaultMFAAdapter.error_messages, "incorrect_code": WRONG_CODE}

    def get_totp_issuer(self) -> str:
        return self._get_site_name()

    def get_totp_label(self, user: Any) -> str:
        return str(user.username)

    def _get_user_identifier(self, user: Any) -> str:
        return str(user.username)

    def _get_site_name(self) -> str:
        school = School.objects.first()
        return school.name if school else "Training record"

    def generate_authenticator_name(self, user: Person, type: Any) -> str:
        return f"Passkey {Authenticator.objects.filter(user=user, type=type).count() + 1}"

    def encrypt(self, text: str) -> str:
        return _cipher().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _cipher().decrypt(encrypted_text.encode()).decode()


def _cipher() -> MultiFernet:
    # The first key encrypts, all of them decrypt: SECRET_KEY can be rotated without losing second steps.
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    keys = [salted_hmac("school.second_step", "key", secret=one, algorithm="sha256").digest() for one in secrets]
    return MultiFernet([Fernet(base64.urlsafe_b64encode(key)) for key in keys])

"""Write allauth's signals in the journal, in the transaction of the page (school/urls.py opens it)."""

from typing import Any

from allauth.account import signals as account
from allauth.account.authentication import get_authentication_records
from allauth.core import context
from allauth.mfa import signals as second
from allauth.mfa.models import Authenticator
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from school.accounts import devices
from school.accounts.actions import record_account_event
from school.actions import end_calendar_address
from school.models import Person

AUTHENTICATOR_LABELS = {
    Authenticator.Type.TOTP: "one-time codes",
    Authenticator.Type.WEBAUTHN: "passkey",
    Authenticator.Type.RECOVERY_CODES: "recovery codes",
}


@receiver(account.user_logged_in)
def record_login(request: HttpRequest, user: Person, **more: Any) -> None:
    by = [AUTHENTICATOR_LABELS.get(row.get("type"), row["method"]) for row in get_authentication_records(request, user)]
    record_account_event(person=user, what="logged in", by=user, at=timezone.now(), **{"with": by})
    devices.remember(request, user)


@receiver(account.password_changed)
def record_password_change(request: HttpRequest, user: Person, **more: Any) -> None:
    record_account_event(person=user, what="password changed", by=user, at=timezone.now())
    # Who knew the password may have read the address of the calendar too.
    end_calendar_address(person=user, by=user, at=timezone.now())
    devices.remember(request, user)


@receiver(account.password_reset)
def record_password_reset(request: HttpRequest, user: Person, **more: Any) -> None:
    record_account_event(person=user, what="password set anew by letter", by=user, at=timezone.now())
    end_calendar_address(person=user, by=user, at=timezone.now())
    # Strangers may be guessing at this moment: whoever set the password has to come in with it.
    devices.remember(request, user)


@receiver(account.email_changed)
def record_email_change(user: Person, **more: Any) -> None:
    record_account_event(person=user, what="e-mail address changed and confirmed", by=user, at=timezone.now())


@receiver(second.authentication_failed)
def record_wrong_code(user: Person, **more: Any) -> None:
    # By nobody: the first step named the account, but a wrong code does not prove who typed it.
    record_account_event(person=user, what="wrong code", by=None, at=timezone.now())


@receiver(post_save, sender=Authenticator)
def record_second_step_setup(instance: Any, created: bool, **more: Any) -> None:
    # Every use saves the row as well; only a new row is a set-up.
    if created:
        _record_second_step("second step set up", instance)


@receiver(post_delete, sender=Authenticator)
def record_second_step_removal(instance: Any, **more: Any) -> None:
    _record_second_step("second step removed", instance)


def _record_second_step(what: str, instance: Any) -> None:
    # The signal of a model carries no request; allauth holds the current one. Outside a request it is the system.
    request = context.request
    by = request.user if request and request.user.is_authenticated else None
    record_account_event(
        person=instance.user, what=what, by=by, at=timezone.now(), kind=AUTHENTICATOR_LABELS[instance.type]
    )

"""allauth's forms in the words and rules of the house."""

from typing import Any

from allauth.account import forms as account
from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.email_verification import send_verification_email_to_address
from allauth.account.models import EmailAddress
from allauth.mfa import app_settings
from allauth.mfa.base import forms as second
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.mfa.webauthn.forms import AddWebAuthnForm
from django.core.cache import cache
from django.http import HttpRequest

from school.accounts.passwords import PASSWORD_HELP

CODE_LIFETIME_STEPS = 2 * app_settings.TOTP_TOLERANCE + 1


class _LabelMixin:
    """Labels of the house, nothing written into an empty field."""

    LABELS: dict[str, str] = {}
    HELP: dict[str, str] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields  # type: ignore[attr-defined]
        for name, field in fields.items():
            field.widget.attrs.pop("placeholder", None)
            field.label = self.LABELS.get(name, field.label)
            field.help_text = self.HELP.get(name, "")


class LoginForm(_LabelMixin, account.LoginForm):  # type: ignore[misc]
    LABELS = {"login": "Login name or e-mail address"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].widget.attrs |= {"autocomplete": "username", "autocapitalize": "none"}

    def add_prefix(self, field_name: str) -> str:
        """In the page the field is called as password managers expect it."""
        return "username" if field_name == "login" else super().add_prefix(field_name)


class ChangePasswordForm(_LabelMixin, account.ChangePasswordForm):  # type: ignore[misc]
    LABELS = {"oldpassword": "Password until now", "password1": "New password", "password2": "New password again"}
    HELP = {"password1": PASSWORD_HELP}


class ResetPasswordForm(_LabelMixin, account.ResetPasswordKeyForm):  # type: ignore[misc]
    LABELS = {"password1": "New password", "password2": "New password again"}
    HELP = {"password1": PASSWORD_HELP}


class ReauthenticatePasswordForm(_LabelMixin, account.ReauthenticateForm):  # type: ignore[misc]
    LABELS = {"password": "Your password"}


class ChangeEmailForm(_LabelMixin, account.AddEmailForm):  # type: ignore[misc]
    LABELS = {"email": "New e-mail address"}

    def save(self, request: HttpRequest) -> EmailAddress:
        """The address in use stays, confirmed or not, until the new one is confirmed; another new one goes."""
        mine = EmailAddress.objects.filter(user=self.user)
        mine.filter(verified=False).exclude(email=self.user.email).delete()
        address = EmailAddress.objects.create(user=self.user, email=self.cleaned_data["email"])
        send_verification_email_to_address(request, address)
        return address


class ForgottenPasswordForm(_LabelMixin, account.ResetPasswordForm):  # type: ignore[misc]
    """A letter goes out in every case, so that neither the answer nor its time tells who is known."""

    LABELS = {"email": "Your e-mail address"}
    users: list[Any]

    def clean_email(self) -> str:
        email: str = super().clean_email()
        self.users = [person for person in self.users if person.has_usable_password()]
        return email

    def save(self, request: HttpRequest, **kwargs: Any) -> str:
        if self.users:
            return str(super().save(request, **kwargs))
        email: str = self.cleaned_data["email"]
        get_adapter().send_mail("account/email/unknown_account", email, {})
        return email


class _SingleUseCodeMixin:
    """A code that was taken is not taken again for as long as it would still be right (RFC 6238, section 5.2)."""

    def clean_code(self) -> str:
        code: str = super().clean_code()  # type: ignore[misc]
        key = f"school.code.{self.user.pk}.{code.replace(' ', '')}"  # type: ignore[attr-defined]
        if not cache.add(key, "taken", timeout=CODE_LIFETIME_STEPS * app_settings.TOTP_PERIOD):
            raise get_adapter().validation_error("incorrect_code")
        return code


class SecondStepCodeForm(_SingleUseCodeMixin, _LabelMixin, second.AuthenticateForm):  # type: ignore[misc]
    LABELS = {"code": "One-time code or recovery code"}


class ReauthenticateCodeForm(_SingleUseCodeMixin, _LabelMixin, second.ReauthenticateForm):  # type: ignore[misc]
    LABELS = {"code": "One-time code or recovery code"}


class SetUpOneTimeCodesForm(_SingleUseCodeMixin, _LabelMixin, ActivateTOTPForm):  # type: ignore[misc]
    LABELS = {"code": "The code that the device shows now"}


class AddPasskeyForm(_LabelMixin, AddWebAuthnForm):  # type: ignore[misc]
    """Every passkey logs in by itself: the device must have seen who holds it, by finger, face or PIN."""

    LABELS = {"name": "Name of the passkey"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["passwordless"]

    def clean(self) -> dict[str, Any]:
        self.cleaned_data["passwordless"] = True
        cleaned: dict[str, Any] = super().clean()
        return cleaned

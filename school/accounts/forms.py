"""Give allauth's forms the school's labels and rules."""

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

# A code is valid in its own time step and in TOTP_TOLERANCE steps on either side.
CODE_LIFETIME_STEPS = 2 * app_settings.TOTP_TOLERANCE + 1


class _LabelMixin:
    """Replace allauth's labels and help texts and remove its placeholders."""

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

    def clean_login(self) -> str:
        login: str = super().clean_login()
        # Before the second step is asked for: a reset of it may be due.
        get_adapter().settle_login(login)
        return login

    def add_prefix(self, field_name: str) -> str:
        """Name the field in the page as password managers expect it."""
        return "username" if field_name == "login" else super().add_prefix(field_name)


class ChangePasswordForm(_LabelMixin, account.ChangePasswordForm):  # type: ignore[misc]
    LABELS = {"oldpassword": "Current password", "password1": "New password", "password2": "Repeat the new password"}
    HELP = {"password1": PASSWORD_HELP}


class ResetPasswordForm(_LabelMixin, account.ResetPasswordKeyForm):  # type: ignore[misc]
    LABELS = {"password1": "New password", "password2": "Repeat the new password"}
    HELP = {"password1": PASSWORD_HELP}


class ReauthenticatePasswordForm(_LabelMixin, account.ReauthenticateForm):  # type: ignore[misc]
    LABELS = {"password": "Your password"}


class ChangeEmailForm(_LabelMixin, account.AddEmailForm):  # type: ignore[misc]
    LABELS = {"email": "New e-mail address"}

    def save(self, request: HttpRequest) -> EmailAddress:
        """Save the new address beside the one in use, which stays until the new one is confirmed."""
        # Only one change can be pending: an earlier new address that was never confirmed is replaced.
        addresses = EmailAddress.objects.filter(user=self.user)
        addresses.filter(verified=False).exclude(email=self.user.email).delete()
        address = EmailAddress.objects.create(user=self.user, email=self.cleaned_data["email"])
        send_verification_email_to_address(request, address)
        return address


class ForgottenPasswordForm(_LabelMixin, account.ResetPasswordForm):  # type: ignore[misc]
    """Send an e-mail in every case, so that neither the answer nor its time reveals who has an account."""

    LABELS = {"email": "Your e-mail address"}
    users: list[Any]

    def clean_email(self) -> str:
        get_adapter().settle_address(self.cleaned_data["email"])
        email: str = super().clean_email()
        # Only the address in use opens an account, none that waits or is not confirmed. Somebody without a password
        # was invited: only the invitation opens that account.
        self.users = [one for one in self.users if one.has_usable_password() and one.email.lower() == email.lower()]
        return email

    def save(self, request: HttpRequest, **kwargs: Any) -> str:
        if self.users:
            return str(super().save(request, **kwargs))
        email: str = self.cleaned_data["email"]
        get_adapter().send_mail("account/email/unknown_account", email, {})
        return email


class _SingleUseCodeMixin:
    """Refuse a code that was used once, for as long as it would still be valid (RFC 6238, section 5.2)."""

    def clean_code(self) -> str:
        # A wrong code ends here: only right ones are remembered, so guessing does not fill the cache.
        code: str = super().clean_code()  # type: ignore[misc]
        key = f"school.code.{self.user.pk}.{code.replace(' ', '')}"  # type: ignore[attr-defined]
        # cache.add is atomic, so of two requests with one code only the first succeeds.
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
    """Add a passkey that logs in by itself: the device verifies its user by finger, face or PIN."""

    LABELS = {"name": "Name of the passkey"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["passwordless"]

    def clean(self) -> dict[str, Any]:
        # Before allauth's own clean, which refuses a key that did not verify its user only where this is set.
        self.cleaned_data["passwordless"] = True
        cleaned: dict[str, Any] = super().clean()
        return cleaned

"""Make the link of “Password forgotten” invalid once access is revoked or every session is ended.

Import this from nowhere: allauth's forms load it by the name in ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR.
"""

from typing import Any

from allauth.account.forms import EmailAwarePasswordResetTokenGenerator


class ForgottenPasswordTokenGenerator(EmailAwarePasswordResetTokenGenerator):  # type: ignore[misc]
    def _make_hash_value(self, user: Any, timestamp: int) -> str:
        # The token is a hash over these values, so a change of one of them invalidates every link sent before.
        return f"{super()._make_hash_value(user, timestamp)}/{user.session_epoch}/{user.is_active}"

"""The link under “Password forgotten”: it opens nothing once the access was taken away or every session ended.

Only allauth's forms import this, once they have the class below.
"""

from typing import Any

from allauth.account.forms import EmailAwarePasswordResetTokenGenerator


class ForgottenPasswordTokenGenerator(EmailAwarePasswordResetTokenGenerator):  # type: ignore[misc]
    def _make_hash_value(self, user: Any, timestamp: int) -> str:
        return f"{super()._make_hash_value(user, timestamp)}/{user.session_epoch}/{user.is_active}"

"""Rules for passwords (NIST SP 800-63B, from memory): long enough, not common, no name; nothing else."""

from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError

PASSWORD_HELP = (
    "Fifteen characters or more; a sentence is good."  # noqa: S105 - a help text
    " Any character, also pasted from a password manager."
)
MIN_WORD_LENGTH = 4  # characters; shorter words of the school's name, such as "of", are ignored


class SchoolNameValidator:
    """Refuse a password that is little more than the name of the school."""

    def validate(self, password: str, user: Any = None) -> None:
        school = apps.get_model("school", "School").objects.first()
        words = [word for word in (school.name.casefold().split() if school else []) if len(word) >= MIN_WORD_LENGTH]
        # More than half of the password must remain once the words of the name are removed.
        remainder = password.casefold()
        for word in words:
            remainder = remainder.replace(word, "")
        if len(remainder) < len(password) / 2:
            raise ValidationError("It is little more than the name of the school.", code="password_is_school")

    def get_help_text(self) -> str:
        return "It is not the name of the school."

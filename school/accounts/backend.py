"""Authenticate a person by login name, or by an e-mail address that only one person has."""

from typing import Any

from allauth.account.auth_backends import AuthenticationBackend
from allauth.account.internal.userkit import filter_users_by_email, get_user_by_username
from django.http import HttpRequest

from school.models import Person


def find_person_by_login(name: str) -> Person | None:
    """Return the person with this login name or e-mail address; None where several people share the address."""
    name = name.strip()
    if not name:
        return None
    # A login name comes first: it is unique, and it may itself contain an @.
    person: Person | None = get_user_by_username(name)
    if person is None and "@" in name:
        # Where several people share an address, nobody can say whose account is meant: they log in by name.
        sharing = filter_users_by_email(name, prefer_verified=True, for_login=True)
        person = sharing[0] if len(sharing) == 1 else None
    return person


class LoginNameOrEmailBackend(AuthenticationBackend):  # type: ignore[misc]
    """Check one password hash for every try, so that the time reveals no account and no state of one."""

    def _authenticate(self, request: HttpRequest | None, **credentials: Any) -> Person | None:
        person = find_person_by_login(credentials.get("username") or credentials.get("email") or "")
        return self._check_password(person, credentials.get("password") or "")

    def _check_password(self, person: Person | None, password: str) -> Person | None:
        # allauth then hashes once by itself, so that an unknown name takes as long as a known one.
        if person is None:
            return None
        # Tells allauth not to hash once more: exactly one hash is computed in every branch.
        self._did_check_password = True
        # Hashed before the look at the access, so that a revoked account takes as long as any other.
        right = person.check_password(password)
        return person if right and self.user_can_authenticate(person) else None

"""Name and password to person: by login name, or by an e-mail address that is one person's alone."""

from typing import Any

from allauth.account.auth_backends import AuthenticationBackend
from allauth.account.internal.userkit import filter_users_by_email, get_user_by_username
from django.http import HttpRequest

from school.models import Person


def find_person_by_login(name: str) -> Person | None:
    """Whose name or address that is; nobody's where several people share the address."""
    name = name.strip()
    if not name:
        return None
    found: Person | None = get_user_by_username(name)
    if found is None and "@" in name:
        same = filter_users_by_email(name, prefer_verified=True, for_login=True)
        found = same[0] if len(same) == 1 else None
    return found


class LoginNameOrEmailBackend(AuthenticationBackend):  # type: ignore[misc]
    """One hash is made for every try, so that time does not tell who is known, invited or shut out."""

    def _authenticate(self, request: HttpRequest | None, **credentials: Any) -> Person | None:
        person = find_person_by_login(credentials.get("username") or credentials.get("email") or "")
        return self._check_password(person, credentials.get("password") or "")

    def _check_password(self, person: Person | None, password: str) -> Person | None:
        if person is None:
            return None
        self._did_check_password = True
        right = person.check_password(password)
        return person if right and self.user_can_authenticate(person) else None

"""Recognise a browser that somebody logged in with before, so that strangers' guesses do not keep its person out.

A signed cookie holds, for each account that logged in on this device, the account's key, a random name of the device
and a fingerprint of the account's password and epoch. With a new password, or when every session is ended, the
fingerprint changes: the cookie is then that of an unknown device until the next log-in. It opens nothing by itself.
"""

import secrets
from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from school.models import Person

# A salt of its own, so that no other text that the server signed passes as such a cookie.
SALT = "school.device"
COOKIE_AGE = 365 * 24 * 3600  # seconds
MAX_ACCOUNTS = 20  # on one device, the latest to log in first: a tablet of the school is used by many
FINGERPRINT_LENGTH = 32  # hexadecimal digits of the HMAC, 128 bits

Entry = list[Any]  # key of the account, name of the device, fingerprint


def device_name(request: HttpRequest, person: Person) -> str:
    """Return the device's name if this person logged in with it before, or that of their present session, or ""."""
    for key, name, fingerprint in _read_cookie(request):
        if key == person.pk and constant_time_compare(fingerprint, _fingerprint(person)):
            return str(name)
    # Who is logged in has shown who they are, also where the browser lost the cookie.
    user = getattr(request, "user", None)
    if user is not None and user.is_authenticated and user.pk == person.pk:
        # Not the key of the session itself: the counters lie in a table of their own.
        return salted_hmac("school.device.session", request.session.session_key or "", algorithm="sha256").hexdigest()
    return ""


def remember(request: HttpRequest, person: Person) -> None:
    """Let the answer to this request mark the device as one of this person."""
    request.device_of = person  # type: ignore[attr-defined]


def write_cookie(request: HttpRequest, response: HttpResponse) -> None:
    """Set the cookie if this request is that of a device to remember."""
    person: Person | None = getattr(request, "device_of", None)
    if person is None:
        return
    others = [entry for entry in _read_cookie(request) if entry[0] != person.pk]
    # A new name each time: a copied cookie does not share the counter of the device it was copied from for long.
    entries = [[person.pk, secrets.token_hex(8), _fingerprint(person)], *others][:MAX_ACCOUNTS]
    response.set_cookie(
        settings.DEVICE_COOKIE,
        signing.dumps(entries, salt=SALT, compress=True),
        max_age=COOKIE_AGE,
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )


def _read_cookie(request: HttpRequest) -> list[Entry]:
    try:
        entries: list[Entry] = signing.loads(
            request.COOKIES.get(settings.DEVICE_COOKIE, ""), salt=SALT, max_age=COOKIE_AGE
        )
    except signing.BadSignature:
        return []
    return entries


def _fingerprint(person: Person) -> str:
    held = f"{person.pk}/{person.password}/{person.session_epoch}"
    return salted_hmac("school.device", held, algorithm="sha256").hexdigest()[:FINGERPRINT_LENGTH]

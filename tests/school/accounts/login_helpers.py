"""What tests of logging in need: a client at an address, a code, a clock that is moved."""

import re
import time
from types import SimpleNamespace
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal import auth as totp
from django.core import mail
from django.test import Client

from school.accounts.second_person import Confirmation
from school.models import Person
from tests.cast import SECRET

TOTP_KEY = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # the key of RFC 6238, appendix B, in base 32
NEW_PASSWORD = "a kite over the salt marsh"
CONFIRMED_BY_CLEO = Confirmation("cleo", SECRET)  # beside an administrator


def log_in(client: Client, name: str, password: str = SECRET, address: str = "192.0.2.1") -> Any:
    return client.post("/login/", {"username": name, "password": password}, REMOTE_ADDR=address)


def is_logged_in(client: Client) -> bool:
    return client.get("/account/").status_code == 200


def code_at(moment: float, key: str = TOTP_KEY) -> str:
    return totp.format_hotp_value(totp.hotp_value(key, int(moment) // 30))


def add_codes(person: Person) -> list[str]:
    """Give a person one-time codes of KEY; returns the recovery codes that come with them."""
    totp.TOTP.activate(person, TOTP_KEY)
    return RecoveryCodes.activate(person).generate_codes()


def add_second_step(person: Person) -> None:
    Authenticator.objects.create(user=person, type="totp", data={"secret": totp.encrypt(TOTP_KEY)})


def mailed_links() -> list[str]:
    """The addresses in the letters that went out, without the host."""
    return [re.sub(r"^https?://[^/]+", "", found) for one in mail.outbox for found in re.findall(r"http\S+", one.body)]


class Clock:
    """Moves what allauth takes for the time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = time.time() // 30 * 30 + 15  # the middle of a step of RFC 6238: a test knows how far the next one is
        moved = SimpleNamespace(time=lambda: self.now, monotonic=time.monotonic, sleep=time.sleep)
        monkeypatch.setattr("allauth.core.internal.ratelimit.time", moved)
        monkeypatch.setattr("allauth.mfa.totp.internal.auth.time", moved)
        monkeypatch.setattr("allauth.account.internal.flows.reauthentication.time", moved)
        monkeypatch.setattr("allauth.account.internal.flows.login.time", moved)

"""One-time codes, recovery codes, and who must have a second step.

RFC 6238, appendix B: the test vectors for SHA-1 (key "12345678901234567890"), from memory; section 5.2 of the same: a
code works once.
"""

import json
import os
import subprocess
import sys
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth as totp
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import NoReverseMatch, resolve, reverse

from school import settings as here
from school.accounts import actions
from school.errors import Refusal
from school.models import JournalEntry, Person, Role
from tests.access_matrix import ACCESS_MATRIX
from tests.cast import SECRET, Cast
from tests.school.accounts.login_helpers import (
    CONFIRMED_BY_CLEO,
    TOTP_KEY,
    Clock,
    add_codes,
    add_second_step,
    code_at,
    is_logged_in,
    log_in,
)

VECTORS = [
    (59, "94287082"), (1111111109, "07081804"), (1111111111, "14050471"), (1234567890, "89005924"),
    (2000000000, "69279037"), (20000000000, "65353130"),
]  # fmt: skip


@pytest.mark.parametrize(("moment", "code"), VECTORS)
def test_the_vectors_of_the_standard(
    settings: Any, monkeypatch: pytest.MonkeyPatch, db: None, moment: int, code: str
) -> None:
    clock = Clock(monkeypatch)
    clock.now = float(moment)
    settings.MFA_TOTP_TOLERANCE = 0
    assert totp.validate_totp_code(TOTP_KEY, code[-6:])
    settings.MFA_TOTP_DIGITS = 8
    assert totp.validate_totp_code(TOTP_KEY, code)
    assert not totp.validate_totp_code(TOTP_KEY, f"{(int(code) + 1) % 10**8:08d}")


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


def after_password(name: str) -> Client:
    """The password was right; the second step is asked for."""
    client = Client()
    assert log_in(client, name).headers["Location"] == "/login/second-step/"
    assert not is_logged_in(client)
    return client


def enter_code(client: Client, code: str) -> Any:
    return client.post("/login/second-step/", {"code": code})


def test_a_code_opens_and_works_once(cast: Cast, clock: Clock) -> None:
    add_codes(cast.bert)
    code = code_at(clock.now)
    client = after_password("bert")
    assert enter_code(client, "000000" if code != "000000" else "000001").status_code == 200
    assert not is_logged_in(client)
    assert enter_code(client, code).headers["Location"] == "/"
    assert is_logged_in(client)
    clock.now += 31  # one step later it would still be taken for late; allauth's own mark is of one step
    cache.delete(f"allauth.mfa.totp.used?user={cast.bert.pk}&code={code}")
    other = after_password("bert")
    assert "works once" in enter_code(other, code).text
    assert not is_logged_in(other)
    assert [row.after for row in JournalEntry.objects.filter(what="logged in")] == [
        {"with": ["password", "one-time codes"]}
    ]
    assert JournalEntry.objects.filter(what="wrong code", about_id=cast.bert.pk).count() == 1


@pytest.mark.parametrize(("late", "opens"), [(-61, False), (-30, True), (30, True), (61, False)])
def test_a_clock_may_be_one_step_wrong(cast: Cast, clock: Clock, late: int, opens: bool) -> None:
    add_codes(cast.bert)
    clock.now = 1_900_000_015.0
    client = after_password("bert")
    enter_code(client, code_at(clock.now + late))
    assert is_logged_in(client) is opens


def test_guessing_codes_ends(cast: Cast, clock: Clock) -> None:
    add_codes(cast.bert)
    client = after_password("bert")
    right = code_at(clock.now)
    wrong = [f"{number:06d}" for number in range(12) if f"{number:06d}" not in (right, code_at(clock.now + 30))]
    for code in wrong[:10]:
        enter_code(client, code)
    assert "wait five minutes" in enter_code(client, right).text
    assert not is_logged_in(client)
    clock.now += 301
    enter_code(client, code_at(clock.now))
    assert is_logged_in(client)


def test_a_recovery_code_works_once(cast: Cast, clock: Clock) -> None:
    first, second, *_ = add_codes(cast.bert)
    client = after_password("bert")
    enter_code(client, first)
    assert is_logged_in(client)
    clock.now += 200
    again = after_password("bert")
    enter_code(again, first)
    assert not is_logged_in(again)
    enter_code(again, second)
    assert is_logged_in(again)


def test_codes_are_set_up_and_removed_by_whoever_knows_the_password(cast: Cast, clock: Clock) -> None:
    client = Client()
    log_in(client, "bert")
    asked = client.get("/account/second-step/codes/").headers["Location"]
    assert asked == "/account/confirm/?next=%2Faccount%2Fsecond-step%2Fcodes%2F"
    assert "Wrong password" in client.post(asked, {"password": "wrong"}).text
    assert client.post(asked, {"password": SECRET}).headers["Location"] == "/account/second-step/codes/"
    page = client.get("/account/second-step/codes/")
    secret = page.context["form"].secret
    assert " ".join(secret[place : place + 4] for place in range(0, 32, 4)) in page.text
    assert "<svg" in page.text
    assert client.post("/account/second-step/codes/", {"code": "x"}).status_code == 200
    done = client.post("/account/second-step/codes/", {"code": code_at(clock.now, secret)})
    assert done.headers["Location"] == "/account/second-step/recovery/"
    shown = client.get("/account/second-step/recovery/")
    assert len(shown.context["unused_codes"]) == 10
    assert shown.context["unused_codes"][0] in shown.text
    assert shown.context["unused_codes"][0] not in client.get("/account/second-step/recovery/").text  # shown once
    held = Authenticator.objects.get(type="totp")
    assert secret not in json.dumps(held.data)  # it lies encrypted
    kinds = JournalEntry.objects.filter(what="second step set up").order_by("pk")
    assert [row.after["kind"] for row in kinds] == ["one-time codes", "recovery codes"]
    assert {row.person_id for row in kinds} == {cast.bert.pk}
    clock.now += 301
    assert client.get("/account/second-step/codes/remove/").headers["Location"].startswith("/account/confirm/")
    client.post("/account/confirm/?next=/account/second-step/codes/remove/", {"password": SECRET})
    assert client.post("/account/second-step/codes/remove/").status_code == 302
    assert not Authenticator.objects.exists()  # recovery codes go with the last second step
    assert JournalEntry.objects.filter(what="second step removed").count() == 2


def test_new_recovery_codes_end_the_earlier_ones(cast: Cast, clock: Clock) -> None:
    old = add_codes(cast.bert)
    client = after_password("bert")
    enter_code(client, code_at(clock.now))
    client.post("/account/confirm/?next=/account/", {"password": SECRET})
    client.post("/account/second-step/recovery/new/")
    assert set(client.get("/account/second-step/recovery/").context["unused_codes"]).isdisjoint(old)


# Who must have one (chief instructor and administrator)


@pytest.fixture
def second_step_required(settings: Any) -> None:
    settings.SECOND_STEP_REQUIRED = True


def test_chief_and_administrator_are_led_to_set_it_up(cast: Cast, second_step_required: None) -> None:
    for who in ("amelia", "frida"):
        client = Client()
        client.force_login(getattr(cast, who))
        for page in ("/", "/students/", "/records/", "/people/", "/account/", "/settings/", "/account/password/"):
            assert client.get(page).headers["Location"] == "/account/second-step/", (who, page)
        assert client.post("/people/add/", {}).headers["Location"] == "/account/second-step/"
        assert (
            client.get("/students/", headers={"HX-Request": "true"}).headers["HX-Redirect"] == "/account/second-step/"
        )
        assert "log in with a second step" in client.get("/account/second-step/").text
        assert client.get("/account/second-step/codes/").headers["Location"].startswith("/account/confirm/")
        assert client.get("/account/confirm/").status_code == 200
        for page in ("/marks/", "/manifest.webmanifest", "/service-worker.js"):
            assert client.get(page).status_code == 200
        assert client.post("/logout/").headers["Location"] == "/login/"
    for who in ("bert", "dora"):
        client = Client()
        client.force_login(getattr(cast, who))
        assert client.get("/account/").status_code == 200


def test_whoever_has_one_is_let_through(cast: Cast, second_step_required: None) -> None:
    add_second_step(cast.frida)
    client = Client()
    client.force_login(cast.frida)
    assert client.get("/people/").status_code == 200


def test_recovery_codes_alone_are_none(cast: Cast, second_step_required: None) -> None:
    Authenticator.objects.create(user=cast.frida, type="recovery_codes", data={"seed": "x", "used_mask": 0})
    client = Client()
    client.force_login(cast.frida)
    assert client.get("/people/").headers["Location"] == "/account/second-step/"


def test_whoever_becomes_chief_is_led_there_at_the_next_page(cast: Cast, second_step_required: None) -> None:
    add_second_step(cast.frida)
    client = Client()
    client.force_login(cast.bert)
    assert client.get("/lessons/").status_code == 200
    actions.change_roles(person=cast.bert, roles=["instructor", "chief"], by=cast.frida, at=cast.at())
    assert client.get("/lessons/").headers["Location"] == "/account/second-step/"


def test_on_this_machine_it_is_not_asked_for_and_on_a_server_it_is() -> None:
    """And there letters go out by SMTP, and the client's address is taken from one proxy."""
    code = (
        "from school import settings as s; print(s.SECOND_STEP_REQUIRED, s.EMAIL_BACKEND.split('.')[-2],"
        " s.TRUSTED_PROXIES)"
    )
    server = {"DATABASE_URL": "postgres://nobody@127.0.0.1/none", "SECRET_KEY": "x", "ALLOWED_HOSTS": "records.example"}

    def told(**more: str) -> str:
        done = subprocess.run([sys.executable, "-c", code], env=os.environ | more, capture_output=True, text=True)
        return done.stdout.strip()

    assert (here.SECOND_STEP_REQUIRED, here.EMAIL_BACKEND.split(".")[-2]) == (False, "console")
    assert told(**server) == "True smtp 1"
    assert told(**server, SECOND_STEP_REQUIRED="false", EMAIL_URL="consolemail://") == "False console 1"


# Lost: another administrator resets it


def test_a_lost_second_step_is_reset_by_another_administrator(cast: Cast) -> None:
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@school.example")
    add_codes(cast.amelia)
    add_second_step(cast.cleo)
    client = Client()
    client.force_login(Person.objects.get(pk=cast.amelia.pk))
    actions.reset_second_step(person=cast.amelia, by=cast.frida, at=cast.at(), confirmation=CONFIRMED_BY_CLEO)
    assert not Authenticator.objects.filter(user=cast.amelia).exists()
    assert not is_logged_in(client)
    assert log_in(client, "amelia").headers["Location"] == "/"
    (entry,) = JournalEntry.objects.filter(what="second step reset")
    assert (entry.person_id, entry.about_id, entry.before, entry.after) == (
        cast.frida.pk, cast.amelia.pk, {"kinds": ["recovery_codes", "totp"]}, {"second_person": "Cleo Example"},
    )  # fmt: skip
    assert mail.outbox[0].to == ["amelia@school.example"]
    assert "Frida Example and Cleo Example removed" in mail.outbox[0].body


@pytest.mark.parametrize("who", ["frida", "bert", "dora", "amelia"])
def test_nobody_resets_their_own_and_nobody_else_than_an_administrator(cast: Cast, who: str) -> None:
    add_codes(cast.frida)
    add_second_step(cast.cleo)
    with pytest.raises(Refusal):
        actions.reset_second_step(
            person=cast.frida, by=getattr(cast, who), at=cast.at(), confirmation=CONFIRMED_BY_CLEO
        )
    assert Authenticator.objects.filter(user=cast.frida).count() == 2
    if who == "amelia":
        Person.objects.filter(pk=cast.amelia.pk).update(roles=[Role.CHIEF, Role.ADMIN])
        actions.reset_second_step(person=cast.frida, by=cast.amelia, at=cast.at(), confirmation=CONFIRMED_BY_CLEO)
        assert not Authenticator.objects.filter(user=cast.frida).exists()


# The middleware knows every page


def test_no_page_of_the_record_is_open_before_the_set_up(
    cast: Cast, second_step_required: None, client: Client
) -> None:
    """Every page without a key in its address: led to the set-up, open to everybody, or part of the set-up."""
    client.force_login(cast.frida)
    led = 0
    for name in ACCESS_MATRIX:
        try:
            address = reverse(name)
        except NoReverseMatch:
            continue
        reply = client.get(address)
        open_to_all = not getattr(resolve(address).func, "login_required", True)
        if reply.status_code == 302 and reply.headers["Location"] == "/account/second-step/":
            led += 1
        else:
            assert open_to_all or name.startswith(("mfa_", "account_reauthenticate")), name
        if name in ("school:logout", "account_logout"):
            client.force_login(cast.frida)
    assert led > 30

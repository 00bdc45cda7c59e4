"""A limit on guessing that does not keep the right person out: a device that logged in before has its own counter.

Throttling that spares known devices: OWASP Authentication Cheat Sheet and “Device cookies” of the OWASP site, from
memory; NIST SP 800-63B-4, section 3.2.2, from memory. The figures are the project's.
"""

from typing import Any

import pytest
from django.core import signing
from django.test import Client

from school.accounts import devices
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.school.accounts.login_helpers import NEW_PASSWORD, add_codes, is_logged_in, log_in, mailed_links

CHANGE = {"oldpassword": SECRET, "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}
HOME = "192.0.2.1"


@pytest.fixture
def device(cast: Cast) -> Client:
    """A browser that Bert logged in with, and out again."""
    client = Client()
    log_in(client, "bert")
    client.post("/logout/")
    assert not is_logged_in(client)
    return client


def guess(name: str = "bert", address: str = "203.0.113.9", times: int = 12) -> str:
    """A stranger guesses; the last answer."""
    return [str(log_in(Client(), name, "wrong", address).text) for _ in range(times)][-1]


def test_a_stranger_does_not_keep_the_right_person_out(cast: Cast, device: Client) -> None:
    assert "Too many wrong attempts" in guess()
    assert "Too many wrong attempts" in log_in(Client(), "bert", SECRET, "198.51.100.7").text  # an unknown device
    assert log_in(device, "bert").status_code == 302


def test_a_stranger_in_the_same_network_does_not_either(cast: Cast, device: Client) -> None:
    for name in ("bert", "cleo", "amelia", "nobody", "dora", "emil", "frida"):
        guess(name, HOME)
    assert "Too many wrong attempts" in log_in(Client(), "cleo", SECRET, HOME).text
    assert log_in(device, "bert", SECRET, HOME).status_code == 302


def test_a_known_device_is_limited_too(cast: Cast, device: Client) -> None:
    for _ in range(10):
        assert "do not match" in log_in(device, "bert", "wrong").text
    assert "Too many wrong attempts" in log_in(device, "bert", SECRET).text
    assert log_in(Client(), "bert", SECRET, "198.51.100.7").status_code == 302  # and counts for itself alone


def test_it_is_known_for_its_own_account_alone(cast: Cast, device: Client) -> None:
    guess("cleo")
    assert "Too many wrong attempts" in log_in(device, "cleo", SECRET, "198.51.100.7").text


def test_a_device_of_many_is_known_for_each_of_them(cast: Cast) -> None:
    tablet = Client()
    for name in ("bert", "cleo", "amelia"):
        log_in(tablet, name)
        tablet.post("/logout/")
    for name in ("bert", "cleo", "amelia"):
        guess(name, f"203.0.113.{len(name)}")
        assert log_in(tablet, name).status_code == 302
        tablet.post("/logout/")


@pytest.mark.parametrize("kind", ["nonsense", "another salt", "signed for the account, another fingerprint"])
def test_a_forged_cookie_is_none(cast: Cast, kind: str) -> None:
    entries = [[cast.bert.pk, "00", "0" * 32]]
    client = Client()
    client.cookies["device"] = {
        "nonsense": "x", "another salt": signing.dumps(entries, salt="school.other"),
        "signed for the account, another fingerprint": signing.dumps(entries, salt=devices.SALT),
    }[kind]  # fmt: skip
    guess()
    assert "Too many wrong attempts" in log_in(client, "bert", SECRET, "198.51.100.7").text


def test_the_cookie_is_of_the_browser_alone(cast: Cast, settings: Any) -> None:
    client = Client()
    log_in(client, "bert")
    cookie = client.cookies["device"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["secure"]) == (True, "Lax", "/", "")
    assert cookie["max-age"] == 365 * 24 * 3600
    settings.SESSION_COOKIE_SECURE = True
    client = Client()
    client.post("/login/", {"username": "bert", "password": SECRET}, secure=True)
    assert client.cookies["device"]["secure"]
    text = str(signing.loads(cookie.value, salt=devices.SALT))
    assert cast.bert.password not in text
    assert "bert" not in text


def test_a_wrong_password_and_the_first_step_alone_make_no_device(cast: Cast) -> None:
    client = Client()
    client.get("/login/")
    log_in(client, "bert", "wrong")
    add_codes(cast.bert)
    assert log_in(client, "bert").headers["Location"] == "/login/second-step/"
    assert "device" not in client.cookies


def test_a_new_password_rotates_it(cast: Cast, device: Client) -> None:
    """The device on which it was changed stays known, every other one is unknown."""
    other = Client()
    log_in(other, "bert")
    before = other.cookies["device"].value
    assert other.post("/account/password/", CHANGE).status_code == 302
    assert other.cookies["device"].value != before
    other.post("/logout/")
    guess()
    assert "Too many wrong attempts" in log_in(device, "bert", NEW_PASSWORD, "198.51.100.7").text
    assert log_in(other, "bert", NEW_PASSWORD).status_code == 302


def test_ending_every_other_session_makes_the_other_devices_unknown(cast: Cast, device: Client) -> None:
    here = Client()
    log_in(here, "bert")
    here.post("/account/sessions/end-others/")
    here.post("/logout/")
    guess()
    assert "Too many wrong attempts" in log_in(device, "bert", SECRET, "198.51.100.7").text
    assert log_in(here, "bert").status_code == 302


def test_whoever_sets_a_new_password_by_e_mail_comes_in_while_strangers_guess(cast: Cast) -> None:
    Person.objects.filter(pk=cast.bert.pk).update(email="bert@school.example")
    client = Client()
    client.post("/password-forgotten/", {"email": "bert@school.example"})
    page = client.get(mailed_links()[-1]).headers["Location"]
    client.post(page, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})
    guess()
    assert log_in(client, "bert", NEW_PASSWORD).status_code == 302


def test_who_is_logged_in_shows_that_it_is_they_while_strangers_guess(cast: Cast) -> None:
    client = Client()
    log_in(client, "bert")
    del client.cookies["device"]
    guess()
    reply = client.post("/account/confirm/?next=/account/", {"password": SECRET})
    assert reply.headers.get("Location") == "/account/"


def test_looking_at_the_page_counts_for_nothing(cast: Cast) -> None:
    for _ in range(80):
        assert Client().get("/login/", REMOTE_ADDR=HOME).status_code == 200
    assert log_in(Client(), "bert", SECRET, HOME).status_code == 302


def test_strangers_of_one_network_are_counted_also_where_they_are_right(cast: Cast) -> None:
    answers = [log_in(Client(), "bert", SECRET, HOME) for _ in range(61)]
    assert [reply.status_code for reply in answers] == [302] * 60 + [200]
    assert "Too many wrong attempts" in answers[-1].text


# Signing


def test_a_stolen_session_does_not_keep_its_person_from_signing(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(cast, lesson, 1)
    tablet, thief = Client(), Client()
    log_in(tablet, "bert")
    thief.cookies["sessionid"] = tablet.cookies["sessionid"].value
    for _ in range(10):
        thief.post(f"/lessons/{lesson.uid}/sign/", {"secret": "guess"})
    assert "Too many wrong passwords" in thief.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}).text
    assert tablet.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}).status_code == 302


def test_a_wrong_second_person_keeps_nobody_from_signing(cast: Cast) -> None:
    """Frida types Bert's password wrongly; Bert signs."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(cast, lesson, 1)
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@school.example")
    office, tablet = Client(), Client()
    office.force_login(cast.frida)
    tablet.force_login(cast.bert)
    typed = {"given_name": "Amelia", "family_name": "Example", "reference": "T-1", "email": "a@elsewhere.example"}
    for _ in range(11):
        reply = office.post(f"/people/{cast.amelia.pk}/", typed | {"second_name": "bert", "second_secret": "wrong"})
    assert "Too many wrong passwords" in reply.text
    assert tablet.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}).status_code == 302

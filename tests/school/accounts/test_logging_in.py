"""Logging in: the same answer for whoever is known or not, limits on guessing, passwords, sessions, the journal.

OWASP ASVS 5.0, chapters V6 and V7, and NIST SP 800-63B-4 are named from memory.
"""

import re
from collections.abc import Callable
from typing import Any

import pytest
from allauth.account.adapter import get_adapter
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher
from django.contrib.auth.password_validation import validate_password
from django.core import mail
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection
from django.test import Client, RequestFactory
from django.urls import NoReverseMatch, reverse

from school.models import JournalEntry, Person
from tests.app_role import app_role, app_role_rights
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.school.accounts.login_helpers import NEW_PASSWORD, Clock, is_logged_in, log_in, mailed_links
from tests.shared_state import shared_state

__all__ = ["app_role_rights"]


@shared_state
def known(cast: Cast) -> Cast:
    """Bert has an address of his own; Cleo may not log in; Emil was never invited."""
    Person.objects.filter(pk=cast.bert.pk).update(email="bert@school.example")
    Person.objects.filter(pk=cast.cleo.pk).update(is_active=False, email="cleo@school.example")
    cast.emil.set_password(None)
    cast.emil.email = "emil@school.example"
    cast.emil.save()
    return cast


def journal_entries(what: str) -> list[JournalEntry]:
    return list(JournalEntry.objects.filter(what=what).order_by("pk"))


# Nobody learns who is known (ASVS 6.3.8)

STRANGERS = [
    ("nobody", "wrong"), ("bert", "wrong"), ("bert@school.example", "wrong"), ("nobody@school.example", "wrong"),
    ("cleo", "wrong"), ("cleo", SECRET), ("cleo@school.example", SECRET), ("emil", "wrong"),
]  # fmt: skip


def test_the_answer_does_not_tell_who_is_known(known: Cast) -> None:
    answers = set()
    for name, password in STRANGERS:
        reply = log_in(Client(), name, password)
        assert reply.status_code == 200
        text = reply.text.replace(f'value="{name}"', "")
        answers.add(re.sub(r"\b[A-Za-z0-9]{64}\b", "", text))
    assert len(answers) == 1
    assert "do not match" in answers.pop()


def test_the_time_does_not_tell_who_is_known(known: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashing takes nearly all of the time of an answer: one hash for every name."""
    made = []
    encode = MD5PasswordHasher.encode
    monkeypatch.setattr(MD5PasswordHasher, "encode", lambda *args: made.append(1) or encode(*args))
    for name, password in STRANGERS:
        made.clear()
        log_in(Client(), name, password)
        assert len(made) == 1, name


def test_a_forgotten_password_gets_one_answer_and_always_a_letter(known: Cast, client: Client) -> None:
    answers = set()
    for place, name in enumerate(("bert", "cleo", "emil", "nobody")):
        mail.outbox.clear()
        reply = client.post(
            "/password-forgotten/", {"email": f"{name}@school.example"}, REMOTE_ADDR=f"192.0.2.{place}", follow=True
        )
        answers.add((reply.redirect_chain[0][0], reply.status_code, len(mail.outbox)))
        assert bool(mailed_links()) == (name == "bert"), name
    assert answers == {("/password-forgotten/sent/", 200, 1)}


def test_nobody_signs_up(client: Client, db: None) -> None:
    for address in ("/signup/", "/accounts/signup/", "/account/signup/", "/accounts/", "/accounts/login/"):
        assert client.get(address, follow=True).status_code in (404, 200)
        assert client.post(address).status_code in (302, 404)
    with pytest.raises(NoReverseMatch):
        reverse("account_signup")
    assert not get_adapter().is_open_for_signup(RequestFactory().get("/"))
    assert Person.objects.count() == 0


def test_by_name_or_by_address(known: Cast) -> None:
    for name in ("bert", "Bert", "bert@school.example", " BERT@school.example"):
        client = Client()
        assert log_in(client, name).headers["Location"] == "/"
        assert is_logged_in(client)
    Person.objects.filter(pk=known.dora.pk).update(email="bert@school.example")
    assert log_in(Client(), "bert@school.example").status_code == 200  # whose is it
    assert log_in(Client(), "bert").status_code == 302


def test_logging_in_leads_to_the_page_that_was_asked_for_and_never_elsewhere(cast: Cast) -> None:
    client = Client()
    asked = client.get("/lessons/").headers["Location"]
    assert asked == "/login/?next=/lessons/"
    sent = {"username": "bert", "password": SECRET, "next": "/lessons/"}
    assert 'name="next" value="/lessons/"' in client.get(asked).text
    assert client.post("/login/", sent).headers["Location"] == "/lessons/"
    other = Client().post("/login/", sent | {"next": "https://elsewhere.example/"})
    assert other.headers["Location"] == "/"


# Limits (ASVS 6.3.1; SP 800-63B-4, section 3.2.2)


def test_guessing_at_one_account_ends_and_begins_again_soon(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock(monkeypatch)
    for place in range(10):
        assert "do not match" in log_in(Client(), "bert", "wrong", f"192.0.2.{place}").text
    spent = log_in(Client(), "bert", SECRET, "198.51.100.1")
    assert "wait five minutes" in spent.text
    assert log_in(Client(), "cleo", SECRET, "198.51.100.1").status_code == 302  # nobody else is kept out
    clock.now += 301
    assert log_in(Client(), "bert", SECRET, "198.51.100.1").status_code == 302


def test_name_and_address_of_a_person_count_together(known: Cast) -> None:
    for place in range(10):
        name = "bert" if place % 2 else "bert@school.example"
        log_in(Client(), name, "wrong", f"192.0.2.{place}")
    assert "wait five minutes" in log_in(Client(), "bert", SECRET, "198.51.100.1").text


def test_an_unknown_name_is_limited_like_a_known_one(cast: Cast) -> None:
    for place in range(10):
        assert "do not match" in log_in(Client(), "nobody", "wrong", f"192.0.2.{place}").text
    assert "wait five minutes" in log_in(Client(), "nobody", "wrong", "198.51.100.1").text


def test_guessing_from_one_place_ends(cast: Cast) -> None:
    for place in range(20):
        log_in(Client(), f"name{place}", "wrong", "203.0.113.9")
    assert "wait five minutes" in log_in(Client(), "bert", SECRET, "203.0.113.9").text
    assert log_in(Client(), "bert", SECRET, "203.0.113.10").status_code == 302


def test_right_passwords_count_for_nothing(cast: Cast) -> None:
    for _ in range(21):
        assert log_in(Client(), "bert").status_code == 302


def test_a_new_password_opens_at_once_what_guessing_shut(known: Cast) -> None:
    for place in range(10):
        log_in(Client(), "bert", "wrong", f"192.0.2.{place}")
    client = Client()
    client.post("/password-forgotten/", {"email": "bert@school.example"})
    (link,) = mailed_links()
    page = client.get(link).headers["Location"]
    assert page.endswith("set-password/")  # the key is not in the address of the form
    assert client.post(page, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD}).status_code == 302
    assert log_in(client, "bert", NEW_PASSWORD).status_code == 302


def test_the_counters_are_shared_and_the_application_may_use_but_not_alter_their_table(
    cast: Cast, app_role_rights: None
) -> None:
    with app_role():
        cache.set("a", 1, 60)
        assert cache.add("a", 2) is False
        assert cache.get("a") == 1
        assert log_in(Client(), "bert", "wrong").status_code == 200
        assert log_in(Client(), "bert").status_code == 302
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM school_cache WHERE cache_key LIKE '%%login_failed%%'")
        assert cursor.fetchone()[0] > 0
    with pytest.raises(DatabaseError, match="must be owner"), app_role(), connection.cursor() as cursor:
        cursor.execute("ALTER TABLE school_cache ADD COLUMN more int")


@pytest.mark.parametrize(
    ("proxies", "forwarded", "client"),
    [
        (0, "198.51.100.7", "192.0.2.1"),
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "10.9.8.7, 198.51.100.7", "198.51.100.7"),  # what the client wrote itself does not count
        (2, "10.9.8.7, 198.51.100.7, 192.0.2.200", "198.51.100.7"),
        (1, None, "192.0.2.1"),
    ],
)
def test_the_address_behind_proxies(settings: Any, proxies: int, forwarded: str | None, client: str) -> None:
    settings.TRUSTED_PROXIES = proxies
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = RequestFactory().get("/", headers=headers, REMOTE_ADDR="192.0.2.1")
    assert get_adapter().get_client_ip(request) == client


def test_guessing_the_password_of_a_signature_ends(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(cast, lesson, 1)
    client.force_login(cast.bert)
    for _ in range(10):
        reply = client.post(f"/lessons/{lesson.uid}/sign/", {"secret": "guess"})
        assert "Wrong password" in reply.text
    reply = client.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET})
    assert "Too many wrong passwords" in reply.text
    lesson.refresh_from_db()
    assert not lesson.is_signed
    assert [entry.person_id for entry in journal_entries("wrong password at signing")] == [cast.bert.pk] * 10
    cache.clear()
    assert client.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}).status_code == 302


# Passwords (SP 800-63B-4, section 3.1.1; ASVS 6.2)


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("fourteen chars", "too short"),
        ("amelia.example1", "too similar"),
        ("school of the tests", "name of the school"),
        ("passwordpassword", ""),
        (NEW_PASSWORD, ""),
        ("fünfzehn zeichen ohne regel", ""),
        ("x y " * 50, ""),
        ("飛行学校の訓練記録をつける長い合言葉です", ""),
    ],
)
def test_what_a_password_must_be(cast: Cast, password: str, said: str) -> None:
    if said:
        with pytest.raises(ValidationError, match=said):
            validate_password(password, cast.amelia)
    else:
        validate_password(password, cast.amelia)


def test_a_common_password_of_the_list_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError, match="too common"):
        validate_password("1qaz2wsx3edc4rfv")


def test_a_password_is_the_same_from_every_keyboard(cast: Cast) -> None:
    """NFKC: a letter with its accent in one or in two characters, digits of full width."""
    cast.bert.set_password("Fu\u0308nfzehn Zeichen 123")
    assert cast.bert.check_password("F\u00fcnfzehn Zeichen \uff11\uff12\uff13")
    assert not cast.bert.check_password("Funfzehn Zeichen 123")


def test_a_password_is_changed_and_the_other_sessions_end(cast: Cast) -> None:
    here, there = Client(), Client()
    log_in(here, "bert")
    log_in(there, "bert")
    wrong = {"oldpassword": "wrong", "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}
    assert "Wrong password" in here.post("/account/password/", wrong).text
    assert "too short" in here.post("/account/password/", wrong | {"password1": "short", "password2": "short"}).text
    right = wrong | {"oldpassword": SECRET}
    assert here.post("/account/password/", right).headers["Location"] == "/account/"
    assert is_logged_in(here)
    assert not is_logged_in(there)
    assert log_in(Client(), "bert", NEW_PASSWORD).status_code == 302
    (entry,) = journal_entries("password changed")
    assert (entry.person_id, entry.about_id) == (cast.bert.pk, cast.bert.pk)


def test_a_link_for_a_new_password_works_once(known: Cast) -> None:
    client, thief = Client(), Client()
    log_in(thief, "bert")
    client.post("/password-forgotten/", {"email": "bert@school.example"})
    (link,) = mailed_links()
    page = client.get(link).headers["Location"]
    assert "too short" in client.post(page, {"password1": "short", "password2": "short"}).text
    client.post(page, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})
    assert not is_logged_in(thief)  # the reset ends every session
    assert "no longer works" in Client().get(link, follow=True).text
    assert log_in(Client(), "bert", NEW_PASSWORD).status_code == 302
    assert [entry.about_id for entry in journal_entries("password set anew by letter")] == [known.bert.pk]
    assert mail.outbox[-1].to == ["bert@school.example"]
    assert "was reset" in mail.outbox[-1].subject


def test_a_tampered_link_for_a_new_password_opens_nothing(known: Cast) -> None:
    Client().post("/password-forgotten/", {"email": "bert@school.example"})
    (link,) = mailed_links()
    for wrong in (link[:-2] + "x/", link.replace("forgotten/", "forgotten/1")):
        assert "no longer works" in Client().get(wrong, follow=True).text


# An address is changed once it is confirmed


def test_an_address_counts_once_it_is_confirmed(known: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock(monkeypatch)
    client = Client()
    log_in(client, "bert")
    asked = client.post("/account/e-mail/", {"email": "new@school.example", "action_add": ""})
    assert asked.headers["Location"].startswith("/account/confirm/")  # is it you
    client.post(asked.headers["Location"], {"password": SECRET})
    clock.now += 1
    assert Person.objects.get(pk=known.bert.pk).email == "bert@school.example"
    link = mailed_links()[-1]
    page = Client().get(link)
    assert "new@school.example" in page.text
    assert "It takes effect on" in Client().post(link, follow=True).text
    assert Person.objects.get(pk=known.bert.pk).email == "bert@school.example"  # for 48 hours, or until Bert agrees
    assert mail.outbox[-1].to == ["bert@school.example"]  # the earlier address hears of it
    agreed = Client().post(mailed_links()[-1], {"use_now": ""}, follow=True)
    assert "The new address is in use" in agreed.text
    assert Person.objects.get(pk=known.bert.pk).email == "new@school.example"
    address = EmailAddress.objects.get(user=known.bert)
    assert (address.email, address.verified, address.primary) == ("new@school.example", True, True)
    entries = journal_entries("new address asked for") + journal_entries("new address in force")
    assert [(entry.person_id, entry.about_id) for entry in entries] == [(known.bert.pk, known.bert.pk)] * 2
    assert "no longer works" in Client().get(link).text


# Sessions (ASVS V7)


def test_a_session_is_ended_from_another_one(cast: Cast) -> None:
    here, there, third = Client(), Client(), Client()
    for one in (there, third, here):
        log_in(one, "bert", address="192.0.2.33")
    page = here.get("/account/").text
    assert page.count("192.0.2.33") >= 3
    assert page.count("/end/") == 2  # not the one that is used
    number = min(int(found) for found in re.findall(r"/account/sessions/(\d+)/end/", page))
    assert here.post(f"/account/sessions/{number}/end/").status_code == 302
    assert [is_logged_in(there), is_logged_in(third), is_logged_in(here)] == [False, True, True]
    here.post("/account/sessions/end-others/")
    assert [is_logged_in(third), is_logged_in(here)] == [False, True]
    assert len(journal_entries("session ended")) == len(journal_entries("other sessions ended")) == 1


def test_nobody_ends_the_session_of_somebody_else(cast: Cast) -> None:
    bert, cleo = Client(), Client()
    log_in(bert, "bert")
    log_in(cleo, "cleo")
    number = bert.get("/account/").context["sessions"][0][0].pk
    cleo.post(f"/account/sessions/{number}/end/")
    assert is_logged_in(bert)


def test_a_session_gets_a_new_key_at_log_in_and_is_gone_after_log_out(cast: Cast) -> None:
    client = Client()
    client.get("/login/")
    client.session.save()
    before = client.session.session_key
    log_in(client, "bert")
    key = client.session.session_key
    assert key != before
    cookie = client.cookies["sessionid"]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")
    client.post("/logout/")
    thief = Client()
    thief.cookies["sessionid"] = key
    assert not is_logged_in(thief)


# The journal


def test_what_happens_at_the_door_is_written_down(cast: Cast) -> None:
    client = Client()
    log_in(client, "a-password-typed-as-name", "x")
    log_in(client, "bert", "wrong")
    log_in(client, "bert")
    client.post("/logout/")
    said = [(row.what, row.person_id, row.about_id) for row in JournalEntry.objects.order_by("-pk")[:4]][::-1]
    assert said == [
        ("log-in with an unknown name", None, None),
        ("wrong password", None, cast.bert.pk),
        ("logged in", cast.bert.pk, cast.bert.pk),
        ("logged out", cast.bert.pk, cast.bert.pk),
    ]
    assert journal_entries("logged in")[0].after == {"with": ["password"]}
    office = Client()
    office.force_login(cast.frida)
    assert "log-in with an unknown name" in office.get("/journal/").text
    whole = str(list(JournalEntry.objects.values()))
    assert "a-password-typed-as-name" not in whole
    assert SECRET not in whole


CHANGE = {"oldpassword": SECRET, "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}


@pytest.mark.parametrize(
    ("anonymous", "act"),
    [
        (True, lambda client: log_in(client, "bert")),
        (False, lambda client: client.post("/account/password/", CHANGE)),
    ],
)
def test_without_its_entry_nothing_happens(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, anonymous: bool, act: Callable[[Client], Any]
) -> None:
    client = Client()
    if not anonymous:
        client.force_login(cast.bert)
    before = Person.objects.values("password", "last_login").get(pk=cast.bert.pk)

    def refused(**entry: Any) -> None:
        raise DatabaseError("the journal is full")

    monkeypatch.setattr("school.journal.record", refused)
    with pytest.raises(DatabaseError):
        act(client)
    assert Person.objects.values("password", "last_login").get(pk=cast.bert.pk) == before

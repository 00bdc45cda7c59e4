"""The pages of one's own account where something outside fails: the mail server is away, a password was never set."""

import socket
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.test import Client

from school.models import Invitation, JournalEntry, Person
from tests.cast import SECRET, Cast
from tests.school.accounts.login_helpers import NEW_PASSWORD, is_logged_in, log_in

SENTENCE = "The e-mail could not be sent: the mail server does not answer."


@pytest.fixture
def mail_away(settings: Any) -> None:
    """A mail server as it is while it is restarted: nothing listens."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = free.getsockname()


def give_address(person: Person, email: str) -> None:
    Person.objects.filter(pk=person.pk).update(email=email)
    EmailAddress.objects.create(user=person, email=email, verified=True, primary=True)


def test_a_forgotten_password_is_asked_for_while_no_mail_goes(cast: Cast, mail_away: None) -> None:
    give_address(cast.bert, "bert@school.example")
    answers = []
    for place, email in enumerate(("bert@school.example", "nobody@school.example")):
        reply = Client().post("/password-forgotten/", {"email": email}, REMOTE_ADDR=f"192.0.2.{place}")
        assert reply.status_code < 500
        assert SENTENCE in reply.text
        assert f'value="{email}"' in reply.text
        answers.append(reply.text.count(SENTENCE))
    # Neither is told from the other.
    assert answers == [1, 1]


def test_an_address_is_changed_while_no_mail_goes(cast: Cast, mail_away: None) -> None:
    give_address(cast.bert, "bert@school.example")
    client = Client()
    log_in(client, "bert")
    asked = client.post("/account/e-mail/", {"email": "new@school.example", "action_add": ""})
    reply = client.post(asked.headers["Location"], {"password": SECRET})  # is it you, and on with the form
    assert reply.status_code < 500
    assert SENTENCE in reply.text
    assert 'value="new@school.example"' in reply.text
    assert list(EmailAddress.objects.filter(user=cast.bert).values_list("email", flat=True)) == ["bert@school.example"]
    EmailAddress.objects.create(user=cast.bert, email="new@school.example")
    again = client.post("/account/e-mail/", {"email": "new@school.example", "action_send": ""})
    assert again.status_code == 409
    assert SENTENCE in again.text


def test_a_password_is_changed_while_no_mail_goes(cast: Cast, mail_away: None) -> None:
    give_address(cast.bert, "bert@school.example")
    client = Client()
    log_in(client, "bert")
    sent = {"oldpassword": SECRET, "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}
    reply = client.post("/account/password/", sent, follow=True)
    assert reply.status_code == 200
    assert "The e-mail about it could not be sent" in reply.text
    # It stands: somebody may have changed it because another person knows it.
    assert is_logged_in(client)
    assert log_in(Client(), "bert", NEW_PASSWORD).status_code == 302


def test_an_invitation_is_sent_while_no_mail_goes(cast: Cast, mail_away: None) -> None:
    cast.emil.set_password(None)
    cast.emil.email = "emil@school.example"
    cast.emil.save()
    client = Client()
    client.force_login(cast.frida)
    reply = client.post(f"/people/{cast.emil.pk}/invite/")
    assert reply.status_code == 422
    assert SENTENCE in reply.text
    assert not Invitation.objects.exists()
    assert not JournalEntry.objects.filter(what__contains="invit").exists()


def test_another_address_is_given_while_no_mail_goes(cast: Cast, mail_away: None) -> None:
    give_address(cast.emil, "emil@school.example")
    client = Client()
    client.force_login(cast.frida)
    page = f"/people/{cast.emil.pk}/"
    names = {"given_name": "Emilio", "family_name": "Example", "username": "emil", "reference": cast.emil.reference}
    sent = {
        **names,
        "email": "other@school.example",
        "born": "2001-01-01",
    }
    reply = client.post(page, sent)
    assert reply.status_code == 422
    assert SENTENCE in reply.text
    assert 'value="Emilio"' in reply.text
    assert 'value="other@school.example"' in reply.text
    assert Person.objects.get(pk=cast.emil.pk).email == "emil@school.example"


def test_an_account_without_a_password_is_told_what_to_do(cast: Cast) -> None:
    cast.emil.set_password(None)
    cast.emil.save()
    client = Client()
    client.force_login(cast.emil)
    for reply in (client.get("/account/password/", follow=True), client.post("/account/password/", {}, follow=True)):
        assert reply.status_code == 200
        assert reply.request["PATH_INFO"] == "/account/"
        assert "Your account has no password yet." in reply.text

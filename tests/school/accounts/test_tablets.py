"""What a tablet seals with, and how it learns that its session was ended."""

import base64
from typing import Any

import pytest
from allauth.usersessions.models import UserSession
from cryptography.hazmat.primitives.asymmetric import ec
from django.test import Client
from django.utils import timezone

from school.accounts import actions, tablets
from school.accounts.tablets import GROUP_ORDER
from school.models import Person, School
from tests.cast import Cast
from tests.school.accounts.login_helpers import log_in


def logged_in(name: str) -> Client:
    client = Client()
    log_in(client, name)
    return client


def page_attribute(client: Client, name: str) -> str:
    text = client.get("/lessons/").text
    return text.split(f'data-{name}="', 1)[1].split('"', 1)[0]


def test_the_order_of_the_group_is_that_of_p_256() -> None:
    """(n - 1) G is -G: the same x as G; n itself is no private key (SEC 1, version 2.0, section 3.2.1, from memory)."""
    generator = ec.derive_private_key(1, ec.SECP256R1()).public_key().public_numbers()
    last = ec.derive_private_key(GROUP_ORDER - 1, ec.SECP256R1()).public_key().public_numbers()
    assert last.x == generator.x
    assert last.y != generator.y
    with pytest.raises(ValueError, match=r".*"):
        ec.derive_private_key(GROUP_ORDER, ec.SECP256R1())


def test_each_person_has_a_key_of_their_own_and_the_point_belongs_to_it(settings: Any) -> None:
    tablets.public_point.cache_clear()
    settings.SECRET_KEY_FALLBACKS = ["the one before"]
    now, before = tablets.private_keys(7)
    assert now != before
    assert tablets.private_keys(8)[0] != now
    point = base64.urlsafe_b64decode(tablets.public_point(7) + "=")
    x, y = (base64.urlsafe_b64decode(now[name] + "=") for name in ("x", "y"))
    assert point == b"\x04" + x + y
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "another", [settings.SECRET_KEY]
    assert tablets.private_keys(7)[1] == now
    tablets.public_point.cache_clear()


def test_a_tablet_learns_that_its_session_was_ended_and_nothing_else(cast: Cast, client: Client) -> None:
    lost, desk = logged_in("bert"), logged_in("bert")
    ticket = page_attribute(lost, "ticket")
    assert page_attribute(lost, "ticket") == ticket != page_attribute(desk, "ticket")

    def ask(ticket: str) -> Any:
        reply = client.get("/tablet/contact/", headers={"Tablet-Ticket": ticket})
        assert reply.status_code == 401
        return reply.json()

    assert ask(ticket) == {"ended": False}
    first = UserSession.objects.filter(user=cast.bert).order_by("pk").first()
    assert first is not None
    actions.end_session(person=cast.bert, pk=first.pk, at=timezone.now())
    assert ask(ticket) == {"ended": True}
    assert ask(page_attribute(desk, "ticket")) == {"ended": False}
    assert [ask(forged) for forged in ("", "x", ticket[:-1], ticket.replace(":", "", 1))] == [{"ended": False}] * 4


def test_the_key_is_given_to_its_person_alone(cast: Cast, client: Client) -> None:
    bert = logged_in("bert")
    answer = bert.get("/tablet/contact/").json()
    assert answer["keys"] == tablets.private_keys(cast.bert.pk)
    client.force_login(cast.cleo)
    assert client.get("/tablet/contact/").json()["keys"] == tablets.private_keys(cast.cleo.pk)
    assert "keys" not in Client().get("/tablet/contact/").json()


def test_the_page_says_for_how_long_pages_are_kept(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    assert page_attribute(client, "hours") == "24"
    School.objects.update(tablet_hours=8)
    assert page_attribute(client, "hours") == "8"
    client.force_login(Person.objects.get(username="dora"))
    assert "data-seal" not in client.get("/").text

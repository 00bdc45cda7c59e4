"""Nobody alone takes over an account that signs: a new address and a reset second step take two (AC 120-78A: sole
control of a signature, from memory; how it is kept here is common practice of the four-eyes principle)."""

from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.core import mail
from django.core.cache import cache
from django.test import Client

from school.accounts import actions, password_attempts
from school.errors import Refusal
from school.models import JournalEntry, Person
from tests.cast import SECRET, Cast
from tests.school.accounts.login_helpers import CONFIRMED_BY_CLEO, add_codes, add_second_step

NEW = "amelia@elsewhere.example"


@pytest.fixture
def frida_client(cast: Cast, client: Client) -> Client:
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@school.example")
    for somebody in (cast.bert, cast.cleo):
        add_second_step(somebody)
    client.force_login(cast.frida)
    return client


def post_changes(client: Client, person: Person, **more: str) -> Any:
    typed = {"given_name": "Amelia", "family_name": "Example", "reference": "T-1", "born": "", "email": NEW}
    return client.post(f"/people/{person.pk}/", typed | more)


REFUSED = [
    ({}, "A second person confirms this"),
    ({"second_name": "cleo"}, "A second person confirms this"),
    ({"second_name": "cleo", "second_secret": "wrong"}, "do not match"),
    ({"second_name": "nobody at all", "second_secret": SECRET}, "do not match"),
    ({"second_name": "frida", "second_secret": SECRET}, "neither you nor Amelia"),
    ({"second_name": "amelia", "second_secret": SECRET}, "neither you nor Amelia"),
    ({"second_name": "dora", "second_secret": SECRET}, "neither you nor Amelia"),
]


@pytest.mark.parametrize(("typed", "said"), REFUSED)
def test_an_administrator_alone_changes_no_address(
    cast: Cast, frida_client: Client, typed: dict[str, str], said: str
) -> None:
    reply = post_changes(frida_client, cast.amelia, **typed)
    assert reply.status_code == 422
    assert said in reply.text
    assert f'value="{NEW}"' in reply.text  # what was typed stands there still, but for the password
    assert SECRET not in reply.text
    cast.amelia.refresh_from_db()
    assert cast.amelia.email == "amelia@school.example"
    assert not JournalEntry.objects.filter(what="new address asked for").exists()
    for address in (NEW, "amelia@school.example"):
        Client().post("/password-forgotten/", {"email": address})
    assert [letter.to for letter in mail.outbox if "account amelia" in letter.body] == [["amelia@school.example"]]


def test_a_second_person_stays_named_where_a_field_is_wrong(cast: Cast, frida_client: Client) -> None:
    reply = post_changes(frida_client, cast.amelia, reference="T-2", second_name="cleo", second_secret=SECRET)
    assert (reply.status_code, 'value="cleo"' in reply.text, SECRET in reply.text) == (422, True, False)


@pytest.mark.parametrize(("typed", "said"), REFUSED)
def test_an_administrator_alone_resets_no_second_step(
    cast: Cast, frida_client: Client, typed: dict[str, str], said: str
) -> None:
    add_codes(cast.amelia)
    reply = frida_client.post(f"/people/{cast.amelia.pk}/reset-second-step/", typed)
    assert reply.status_code == 422
    assert said in reply.text
    assert Authenticator.objects.filter(user=cast.amelia).count() == 2


def test_whose_access_was_taken_confirms_nothing(cast: Cast, frida_client: Client) -> None:
    Person.objects.filter(pk=cast.cleo.pk).update(is_active=False)
    reply = post_changes(frida_client, cast.amelia, second_name="cleo", second_secret=SECRET)
    assert (reply.status_code, "neither you nor Amelia" in reply.text) == (422, True)


def test_without_a_second_step_nobody_confirms(cast: Cast, frida_client: Client) -> None:
    Authenticator.objects.filter(user=cast.cleo).delete()
    reply = post_changes(frida_client, cast.amelia, second_name="cleo", second_secret=SECRET)
    assert (reply.status_code, "Cleo Example has no second step" in reply.text) == (422, True)
    Authenticator.objects.create(user=cast.cleo, type="recovery_codes", data={"seed": "x", "used_mask": 0})
    assert post_changes(frida_client, cast.amelia, second_name="cleo", second_secret=SECRET).status_code == 422


@pytest.mark.parametrize("name", ["bert", "Cleo"])
def test_two_change_an_address_and_both_are_named(cast: Cast, frida_client: Client, name: str) -> None:
    Person.objects.filter(username=name.lower()).update(email="second@school.example")
    assert post_changes(frida_client, cast.amelia, second_name=name, second_secret=SECRET).status_code == 302
    cast.amelia.refresh_from_db()
    assert (cast.amelia.email, cast.amelia.new_email) == ("amelia@school.example", NEW)
    told = JournalEntry.objects.get(what="new address asked for")
    assert (told.person_id, told.after["second_person"]) == (cast.frida.pk, f"{name.title()} Example")
    assert NEW not in str(told.after)
    assert [letter.to for letter in mail.outbox] == [["second@school.example"], ["amelia@school.example"]]
    assert "Frida Example changed how Amelia Example gets in" in mail.outbox[0].body
    who = f"Frida Example and {name.title()} Example"  # somebody who does not exist?
    assert f"{who} entered {NEW} as your new e-mail address" in mail.outbox[1].body
    text = frida_client.get(f"/journal/?person={cast.frida.pk}").text
    assert f"{name.title()} Example" in text


def test_two_reset_a_second_step(cast: Cast, frida_client: Client) -> None:
    add_codes(cast.amelia)
    typed = {"second_name": "bert", "second_secret": SECRET}
    assert frida_client.post(f"/people/{cast.amelia.pk}/reset-second-step/", typed).status_code == 302
    assert not Authenticator.objects.filter(user=cast.amelia).exists()
    assert JournalEntry.objects.get(what="second step reset").after == {"second_person": "Bert Example"}


def test_it_takes_one_where_nobody_signed_yet_or_nothing_opens(cast: Cast, frida_client: Client) -> None:
    assert (
        post_changes(frida_client, cast.amelia, email="amelia@school.example", family_name="Other").status_code == 302
    )
    guest = Person.objects.create_user(
        "gerda", given_name="Gerda", family_name="Example", reference="T-9", roles=["instructor"],
    )  # fmt: skip
    assert "second person" not in frida_client.get(f"/people/{guest.pk}/").text
    actions.edit_person(person=guest, changes={"email": "g@school.example"}, by=cast.frida, at=cast.at())
    guest.refresh_from_db()
    assert guest.email == "g@school.example"
    assert "second person" not in frida_client.get(f"/people/{cast.frida.pk}/").text
    actions.edit_person(person=cast.frida, changes={"email": "f@school.example"}, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="A second person"):
        actions.edit_person(person=cast.dora, changes={"email": "d@school.example"}, by=cast.frida, at=cast.at())


def test_a_password_is_not_guessed_beside_an_administrator(cast: Cast, frida_client: Client) -> None:
    cache.clear()
    for _ in range(password_attempts.MAX_ATTEMPTS):
        post_changes(frida_client, cast.amelia, second_name="cleo", second_secret="wrong")
    reply = post_changes(frida_client, cast.amelia, second_name="cleo", second_secret=SECRET)
    assert "Too many wrong passwords: wait 5 minutes. Nothing was changed." in reply.text
    told = JournalEntry.objects.filter(what="wrong password as second person", about_id=cast.cleo.pk)
    assert [entry.person_id for entry in told] == [None] * password_attempts.MAX_ATTEMPTS  # anybody may have typed it
    cache.clear()
    actions.edit_person(
        person=cast.amelia, changes={"email": NEW}, by=cast.frida, at=cast.at(), confirmation=CONFIRMED_BY_CLEO
    )

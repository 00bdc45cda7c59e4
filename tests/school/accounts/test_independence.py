"""Who stands behind an account, and who confirms what: an administrator does not make their own second person.

That two accounts of one person are one person is common practice of the four-eyes principle; the 30 days are the
project's own.
"""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from school import actions as school_actions
from school.accounts import actions, waiting
from school.accounts.independence import Controllers, can_somebody_confirm
from school.accounts.second_person import Confirmation
from school.errors import Refusal
from school.models import JournalEntry, Person, Role
from tests.cast import SECRET, Cast
from tests.school.accounts.login_helpers import add_second_step

NEW = "amelia@elsewhere.example"


@pytest.fixture
def frida(cast: Cast) -> Person:
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@school.example")
    frida: Person = cast.frida
    return frida


def add(cast: Cast, name: str, *roles: Role, by: Person | None, days_ago: int = 1) -> Person:
    """Somebody with a password and a second step: whoever added them may have set up both."""
    person = school_actions.add_person(
        username=name, given_name=name.title(), family_name="Example", reference=name, roles=list(roles), by=by,
        at=cast.at(days_ago=days_ago), password=SECRET,
    )  # fmt: skip
    add_second_step(person)
    return person


def change_address(cast: Cast, by: Person, second: str) -> Person:
    return actions.edit_person(
        person=Person.objects.get(pk=cast.amelia.pk), changes={"email": NEW}, by=by, at=cast.at(),
        confirmation=Confirmation(second, SECRET),
    )  # fmt: skip


def assert_refused(cast: Cast, by: Person, second: str) -> None:
    with pytest.raises(Refusal, match="cannot confirm this: in the last 30 days"):
        change_address(cast, by, second)
    cast.amelia.refresh_from_db()
    assert cast.amelia.new_email_from is None


def test_who_was_added_does_not_confirm(cast: Cast, frida: Person) -> None:
    add(cast, "gerda", Role.INSTRUCTOR, by=frida)
    assert_refused(cast, frida, "gerda")


def test_whoever_was_added_long_ago_does(cast: Cast, frida: Person) -> None:
    add(cast, "gerda", Role.INSTRUCTOR, by=frida, days_ago=31)
    assert change_address(cast, frida, "gerda").new_email == NEW


@pytest.mark.parametrize("act", ["roles", "invited", "access", "address", "second step"])
def test_who_was_given_a_role_or_a_way_in_does_not_confirm(cast: Cast, frida: Person, act: str) -> None:
    gerda = add(cast, "gerda", Role.INSTRUCTOR, by=None, days_ago=400)
    Person.objects.filter(pk=gerda.pk).update(email="gerda@school.example")
    other = add(cast, "otto", Role.INSTRUCTOR, by=None, days_ago=400)
    if act == "roles":
        actions.change_roles(person=gerda, roles=["instructor", "admin"], by=frida, at=cast.at(days_ago=2))
    elif act == "invited":
        Person.objects.filter(pk=gerda.pk).update(password="!")
        actions.invite(person=gerda, by=frida, at=cast.at(days_ago=2))
        gerda.set_password(SECRET)
        Person.objects.filter(pk=gerda.pk).update(password=gerda.password)
    elif act == "access":
        actions.revoke_access(person=gerda, reason="left", by=frida, at=cast.at(days_ago=3))
        actions.restore_access(person=gerda, by=frida, at=cast.at(days_ago=2))
    elif act == "address":
        actions.edit_person(
            person=gerda, changes={"email": "g@elsewhere.example"}, by=frida, at=cast.at(days_ago=2),
            confirmation=Confirmation("otto", SECRET),
        )  # fmt: skip
    else:
        actions.reset_second_step(
            person=gerda, by=frida, at=cast.at(days_ago=2), confirmation=Confirmation("otto", SECRET)
        )
        add_second_step(gerda)
    assert_refused(cast, frida, "gerda")
    assert change_address(cast, frida, other.username).new_email == NEW


def test_the_accounts_of_one_administrator_do_not_confirm_each_other(cast: Cast, frida: Person) -> None:
    """Frida adds Greta as administrator, and Greta adds Hanna: whoever acts, Frida may be all three."""
    greta = add(cast, "greta", Role.ADMIN, by=frida)
    hanna = add(cast, "hanna", Role.INSTRUCTOR, by=greta)
    add_second_step(frida)
    assert_refused(cast, frida, "hanna")  # two steps away
    assert_refused(cast, greta, "hanna")
    assert_refused(cast, greta, "frida")  # the one who was added acts, the one who added confirms
    ida = add(cast, "ida", Role.CHIEF, by=frida)
    assert_refused(cast, greta, ida.username)  # two that Frida added
    controllers = Controllers(cast.at())
    assert controllers.behind(hanna) == {hanna.pk, greta.pk, frida.pk}


def test_two_administrators_stay_independent_though_both_gave_somebody_a_role(cast: Cast, frida: Person) -> None:
    other = add(cast, "otto", Role.ADMIN, by=None, days_ago=400)
    actions.change_roles(person=cast.bert, roles=["instructor", "chief"], by=frida, at=cast.at(days_ago=3))
    actions.change_roles(person=cast.bert, roles=["instructor"], by=other, at=cast.at(days_ago=2))
    assert change_address(cast, frida, "otto").new_email == NEW


def test_names_and_documents_give_nobody_an_account(cast: Cast, frida: Person) -> None:
    add_second_step(cast.cleo)
    actions.edit_person(person=cast.cleo, changes={"given_name": "Cleopatra"}, by=frida, at=cast.at(days_ago=2))
    assert change_address(cast, frida, "cleo").new_email == NEW


# A school where nobody else can confirm


def person_page(frida: Person, person: Person) -> str:
    client = Client()
    client.force_login(frida)
    text: str = client.get(f"/people/{person.pk}/").text
    return " ".join(text.split())


def test_a_school_with_one_administrator_is_told_that_the_change_waits(cast: Cast, frida: Person) -> None:
    assert not can_somebody_confirm(cast.amelia, frida, cast.at())
    text = person_page(frida, cast.amelia)
    assert "Nobody at the school can confirm a new e-mail address" in text
    assert "it waits 48 hours" in text
    assert "second_name" not in text
    person = actions.edit_person(person=cast.amelia, changes={"email": NEW}, by=frida, at=cast.at())
    assert person.email == "amelia@school.example"
    assert person.new_email_from == cast.at() + timedelta(hours=48)
    entry = JournalEntry.objects.get(what="new address asked for")
    assert (entry.person_id, entry.about_id, set(entry.after)) == (frida.pk, cast.amelia.pk, {"from"})
    add_second_step(cast.cleo)  # from now on somebody can
    assert "second_name" in person_page(frida, cast.dora)
    with pytest.raises(Refusal, match="A second person confirms this"):
        actions.edit_person(person=cast.dora, changes={"email": NEW}, by=frida, at=cast.at())


def test_whoever_made_everybody_unfit_makes_it_known(cast: Cast, frida: Person, mailoutbox: list[Any]) -> None:
    """Frida gives every other member of staff a role: nobody can confirm, and administrators and chiefs hear of it."""
    add_second_step(cast.cleo)
    otto = add(cast, "otto", Role.ADMIN, by=None, days_ago=400)
    Person.objects.filter(pk=otto.pk).update(email="otto@school.example")
    for person, roles in ((cast.cleo, ["instructor", "admin"]), (otto, ["admin", "instructor"])):
        actions.change_roles(person=person, roles=roles, by=frida, at=cast.at(days_ago=1))
    actions.edit_person(person=cast.amelia, changes={"email": NEW}, by=frida, at=cast.at())
    assert [letter.to for letter in mailoutbox] == [["amelia@school.example"], ["otto@school.example"]]
    assert "Nobody else could confirm it" in mailoutbox[1].body
    assert "Frida Example entered a new e-mail address for Amelia Example" in mailoutbox[1].body


def test_of_whom_nobody_can_be_told_is_changed_by_nobody_alone(
    cast: Cast, frida: Person, mailoutbox: list[Any]
) -> None:
    with pytest.raises(Refusal, match="No e-mail address of Bert Example is on record"):
        actions.edit_person(person=cast.bert, changes={"email": NEW}, by=frida, at=cast.at())
    Person.objects.filter(pk=cast.bert.pk).update(email="bert@school.example")
    person = actions.edit_person(person=cast.bert, changes={"email": ""}, by=frida, at=cast.at())
    later = cast.at() + timedelta(hours=48)
    person = waiting.settle(person=person, at=later)
    assert person.email == ""
    # Emptied first and entered anew then: the earlier address is told for 30 days.
    mailoutbox.clear()
    actions.edit_person(person=person, changes={"email": NEW}, by=frida, at=later)
    assert ["bert@school.example"] in [letter.to for letter in mailoutbox]


def test_the_question_costs_few_queries(cast: Cast, frida: Person, django_assert_max_num_queries: Any) -> None:
    for number in range(12):
        add(cast, f"guest{number}", Role.INSTRUCTOR, by=frida)
    with django_assert_max_num_queries(2):
        assert not can_somebody_confirm(cast.amelia, frida, cast.at())

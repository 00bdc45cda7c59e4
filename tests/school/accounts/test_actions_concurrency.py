"""Two who change accounts at one moment, each on a connection of their own: one order comes about, and it is whole."""

import time
from functools import partial
from threading import Event
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.db import transaction
from django.test import Client
from django.utils import timezone

from grading.evidence import chain
from school import actions as school_actions
from school.accounts import actions
from school.accounts.invitation_links import find_open_invitation, sign_link
from school.errors import Refusal
from school.models import Invitation, JournalEntry, Person, Role
from tests.cast import SECRET, Cast
from tests.concurrency import refusals, run_together
from tests.factories import add_person
from tests.school.accounts.login_helpers import NEW_PASSWORD

TIMES = 3


def add_administrator(cast: Cast, name: str = "Gerda", *roles: Role) -> Person:
    return add_person(name, f"N-{name}", Role.ADMIN, *roles, at=cast.at(8, 100))


def add_guest(number: int, email: str = "guest@school.example") -> Person:
    return Person.objects.create_user(
        f"guest{number}", given_name="Guest", family_name="Example", reference=f"G-{number}", roles=["instructor"],
        email=email,
    )  # fmt: skip


# Invitations


def test_invited_twice_at_once_one_letter_opens(transactional_cast: Cast) -> None:
    cast, somebody = transactional_cast, add_guest(1)
    for _ in range(TIMES):
        at = timezone.now()
        run_together(
            *(partial(actions.invite, person=somebody, by=by, at=at) for by in (cast.frida, get_administrator(cast)))
        )
        opens = [link for link in map(sign_link, Invitation.objects.all()) if find_open_invitation(link, at)]
        assert len(opens) == 1
    assert len(mail.outbox) == 2 * TIMES


def get_administrator(cast: Cast) -> Person:
    return Person.objects.filter(reference="N-Gerda").first() or add_administrator(cast)


def test_one_invitation_accepted_twice_at_once_sets_one_password(transactional_cast: Cast) -> None:
    cast = transactional_cast
    words = (NEW_PASSWORD, NEW_PASSWORD + " and another")
    for number in range(TIMES):
        somebody, at = add_guest(number, f"guest{number}@school.example"), timezone.now()
        link = sign_link(actions.invite(person=somebody, by=cast.frida, at=at))
        done = run_together(*(partial(actions.accept_invitation, link=link, password=word, at=at) for word in words))
        assert refusals(done) == [actions.INVALID_LINK_REFUSAL]
        stands = words[next(place for place, one in enumerate(done) if isinstance(one, Person))]
        assert Person.objects.get(pk=somebody.pk).check_password(stands)
        assert EmailAddress.objects.filter(user=somebody).count() == 1
    assert JournalEntry.objects.filter(what="invitation accepted").count() == TIMES


def test_two_people_with_one_address_accept_at_once_and_it_is_confirmed_for_one(transactional_cast: Cast) -> None:
    cast = transactional_cast
    for number in range(TIMES):
        at, address = timezone.now(), f"family{number}@school.example"
        two = [add_guest(2 * number + 10, address), add_guest(2 * number + 11, address)]
        links = [sign_link(actions.invite(person=one, by=cast.frida, at=at)) for one in two]
        done = run_together(
            *(partial(actions.accept_invitation, link=link, password=NEW_PASSWORD, at=at) for link in links)
        )
        assert refusals(done) == []
        assert sorted(EmailAddress.objects.filter(email=address).values_list("verified", flat=True)) == [False, True]


def test_inviting_against_taking_the_access(transactional_cast: Cast) -> None:
    cast, other = transactional_cast, add_administrator(transactional_cast)
    for number in range(TIMES):
        somebody, at = add_guest(number), timezone.now()
        done = run_together(
            partial(actions.invite, person=somebody, by=cast.frida, at=at),
            partial(actions.revoke_access, person=somebody, reason="left", by=other, at=at),
        )
        assert all("may not log in" in sentence for sentence in refusals(done))
        assert not any(find_open_invitation(sign_link(sent), at) for sent in Invitation.objects.filter(person=somebody))


def test_a_letter_to_an_address_that_was_changed_since_opens_nothing(cast: Cast) -> None:
    """The address was mistyped: whoever got the letter is a stranger."""
    somebody, at = add_guest(1), timezone.now()
    link = sign_link(actions.invite(person=somebody, by=cast.frida, at=at))
    assert find_open_invitation(link, at)
    actions.edit_person(person=somebody, changes={"email": "right@school.example"}, by=cast.frida, at=at)
    assert find_open_invitation(link, at) is None
    assert Client().get(f"/invitation/{link}/").status_code == 410
    with pytest.raises(Refusal, match="no longer works"):
        actions.accept_invitation(link=link, password=NEW_PASSWORD, at=at)


# Roles and access


@pytest.mark.parametrize("act", ["roles", "access"])
def test_two_administrators_turn_on_each_other_and_one_remains(transactional_cast: Cast, act: str) -> None:
    cast = transactional_cast
    for number in range(TIMES):
        two = (Person.objects.active_with_role(Role.ADMIN).get(), add_administrator(cast, f"Admin{number}"))
        acts: list[Any] = []
        for by, other in (two, two[::-1]):
            changed = {"person": other, "by": by, "at": cast.at()}
            if act == "roles":
                acts.append(partial(actions.change_roles, roles=["instructor"], **changed))
            else:
                acts.append(partial(actions.revoke_access, reason="left", **changed))
        assert refusals(run_together(*acts)) == ["Only the administrator manages people. Nothing was changed."]
        assert Person.objects.active_with_role(Role.ADMIN).count() == 1


@pytest.mark.parametrize("act", ["roles", "access", "both"])
def test_two_administrators_take_the_last_two_chiefs_at_once_and_one_remains(
    transactional_cast: Cast, act: str
) -> None:
    cast, other = transactional_cast, add_administrator(transactional_cast)
    for number in range(TIMES):
        two = (
            Person.objects.active_with_role(Role.CHIEF).get(),
            add_person(f"Chief{number}", f"C-{number}", Role.CHIEF, at=cast.at(8, 100)),
        )
        by_role, by_access = (
            [
                partial(actions.change_roles, person=chief, roles=["instructor"], by=by, at=cast.at())
                if how == "roles"
                else partial(actions.revoke_access, person=chief, reason="left", by=by, at=cast.at())
                for chief, by in zip(two, (cast.frida, other), strict=True)
            ]
            for how in ("roles", "access")
        )
        acts = {"roles": by_role, "access": by_access, "both": [by_role[0], by_access[1]]}[act]
        assert refusals(run_together(*acts)) == [actions.LAST_CHIEF_REFUSAL]
        assert Person.objects.active_with_role(Role.CHIEF).count() == 1


def test_one_chief_remains_and_a_school_without_one_can_name_one(cast: Cast) -> None:
    with pytest.raises(Refusal, match="appoint another chief instructor first"):
        actions.change_roles(person=cast.amelia, roles=["instructor"], by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="appoint another chief instructor first"):
        actions.revoke_access(person=cast.amelia, reason="left", by=cast.frida, at=cast.at())
    actions.change_roles(person=cast.amelia, roles=["chief"], by=cast.frida, at=cast.at())
    actions.change_roles(person=cast.bert, roles=["instructor", "chief"], by=cast.frida, at=cast.at())
    actions.revoke_access(person=cast.amelia, reason="left", by=cast.frida, at=cast.at())
    Person.objects.filter(pk=cast.bert.pk).update(roles=["instructor"])
    actions.change_roles(person=cast.cleo, roles=["instructor", "student"], by=cast.frida, at=cast.at())
    actions.change_roles(person=cast.bert, roles=["instructor", "chief"], by=cast.frida, at=cast.at())


# What is one person's alone


def test_one_login_name_and_one_school_number_are_given_once(transactional_cast: Cast) -> None:
    cast, other = transactional_cast, add_administrator(transactional_cast)
    for number in range(TIMES):
        new = {"given_name": "New", "family_name": "Example", "roles": [Role.STUDENT], "at": cast.at()}
        names = [("new", f"N-{number}a"), ("New", f"N-{number}b")], [("one", f"N-{number}"), ("two", f"N-{number}")]
        for pair, taken in zip(names, ("login name", "school number"), strict=True):
            acts = [
                partial(school_actions.add_person, username=f"{username}{number}", reference=reference, by=by, **new)
                for (username, reference), by in zip(pair, (cast.frida, other), strict=True)
            ]
            assert [taken in one for one in refusals(run_together(*acts))] == [True]


def test_one_school_number_is_not_given_by_adding_and_by_changing_at_once(transactional_cast: Cast) -> None:
    cast, other, added = transactional_cast, add_administrator(transactional_cast), Event()
    new = {"given_name": "New", "family_name": "Example", "roles": [Role.STUDENT], "at": cast.at()}

    @transaction.atomic
    def add() -> None:
        school_actions.add_person(username="new", reference="N-1", by=other, **new)
        added.set()
        time.sleep(0.3)  # the other has come as far as it can

    def edit() -> None:
        added.wait(10)
        actions.edit_person(person=cast.bert, changes={"reference": "N-1"}, by=cast.frida, at=cast.at())

    assert ["school number" in one for one in refusals(run_together(add, edit))] == [True]
    assert Person.objects.get(reference="N-1").username == "new"


def test_who_edits_a_student_and_who_writes_about_them_do_not_wait_for_each_other(transactional_cast: Cast) -> None:
    """One holds the people and asks for the enrolments; the other holds the enrolments and names the people."""
    cast, turn_taken = transactional_cast, Event()

    @transaction.atomic
    def write() -> None:
        chain.lock_for_sealing(cast.enrolment)
        turn_taken.set()
        time.sleep(0.5)  # the other has come as far as it can
        school_actions.record_paper(person=cast.dora, kind="english", issued=cast.today, by=cast.frida, at=cast.at())

    def edit() -> None:
        turn_taken.wait(10)
        actions.edit_person(person=cast.dora, changes={"given_name": "Dorothea"}, by=cast.frida, at=cast.at())

    run_together(write, edit)
    assert set(JournalEntry.objects.values_list("what", flat=True)) >= {"paper recorded", "person changed"}


def test_the_page_says_that_a_login_name_was_taken_meanwhile(cast: Cast, client: Client, monkeypatch: Any) -> None:
    """The form had looked before the other one was kept."""
    client.force_login(cast.frida)
    typed = {
        "given_name": "Gerda", "family_name": "Example", "reference": "T-9", "username": "gerda", "roles": ["student"],
    }  # fmt: skip
    monkeypatch.setattr("school.forms.AddPersonForm.clean_username", lambda form: "BERT")
    reply = client.post("/people/add/", typed)
    assert (reply.status_code, "login name" in reply.text) == (422, True)
    assert "Gerda" in reply.text
    assert SECRET not in reply.text

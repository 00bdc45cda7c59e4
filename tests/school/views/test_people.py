"""People as the administrator keeps them: invited, edited, given roles, shut out. And aircraft and aerodromes."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.core import mail
from django.test import Client
from django.utils import timezone

from grading.evidence.audit.check import run_audit
from grading.models import Seal, Signature
from school import places
from school.accounts import actions, emails, waiting
from school.accounts.housekeeping import delete_expired
from school.accounts.invitation_links import find_open_invitation, sign_link
from school.errors import Refusal
from school.models import Aerodrome, Aircraft, Invitation, JournalEntry, Paper, Person, Role, Runway
from tests.app_role import app_role, app_role_rights
from tests.cast import SECRET, Cast
from tests.factories import fly_lesson
from tests.school.accounts.login_helpers import (
    CONFIRMED_BY_CLEO,
    NEW_PASSWORD,
    add_second_step,
    is_logged_in,
    log_in,
    mailed_links,
)

__all__ = ["app_role_rights"]


@pytest.fixture
def guest(cast: Cast) -> Person:
    """Somebody on record who has no password yet."""
    return Person.objects.create_user(
        "gerda", given_name="Gerda", family_name="Example", reference="T-9", roles=["instructor"],
        email="gerda@school.example",
    )  # fmt: skip


def journal_entry(what: str) -> JournalEntry:
    return JournalEntry.objects.get(what=what)


def post_person_page(client: Client, person: Person, act: str = "", **sent: Any) -> Any:
    return client.post(f"/people/{person.pk}/{act}", sent)


# Invitations


def test_an_invited_person_sets_the_password_and_so_confirms_the_address(cast: Cast, guest: Person) -> None:
    admin = Client()
    admin.force_login(cast.frida)
    assert "not invited" in admin.get("/people/?q=gerda").text
    assert post_person_page(admin, guest, "invite/").status_code == 302
    assert mail.outbox[0].to == ["gerda@school.example"]
    assert "Frida Example invites you" in mail.outbox[0].body
    (link,) = mailed_links()
    assert link not in admin.get(f"/people/{guest.pk}/").text  # the administrator does not learn it
    assert "invited, until" in admin.get("/people/?q=gerda").text
    client = Client()
    assert "Gerda Example" in client.get(link).text
    assert client.post(link, {"password1": "short", "password2": "short"}).status_code == 422
    assert client.post(link, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD + "x"}).status_code == 422
    assert not EmailAddress.objects.exists()
    done = client.post(link, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})
    assert done.headers["Location"] == "/login/"
    assert not is_logged_in(client)
    assert log_in(client, "gerda@school.example", NEW_PASSWORD).status_code == 302
    address = EmailAddress.objects.get()
    assert (address.email, address.verified, address.primary) == ("gerda@school.example", True, True)
    assert (journal_entry("invited").person_id, journal_entry("invited").about_id) == (cast.frida.pk, guest.pk)
    assert journal_entry("invitation accepted").person_id == guest.pk
    assert "active" in admin.get("/people/?q=gerda").text
    again = Client().post(link, {"password1": SECRET, "password2": SECRET})  # used twice
    assert again.status_code == 410
    assert log_in(Client(), "gerda", NEW_PASSWORD).status_code == 302


def link_opens(link: str) -> bool:
    reply = Client().get(f"/invitation/{link}/")
    assert reply.status_code in (200, 410)
    return reply.status_code == 200


def test_a_link_that_is_late_tampered_or_replaced_opens_nothing_and_says_the_same(cast: Cast, guest: Person) -> None:
    now = timezone.now()
    first = actions.invite(person=guest, by=cast.frida, at=now - timedelta(hours=1))
    link = sign_link(first)
    assert link_opens(link)
    wrong = [link[:-1] + ("a" if link[-1] != "a" else "b"), "x" + link[1:], link.split(":")[0], first.uid.hex, "x"]
    assert not any(link_opens(one) for one in wrong)
    answers = {Client().get(f"/invitation/{one}/").text.replace(one, "") for one in wrong}
    second = actions.invite(person=guest, by=cast.frida, at=now)
    assert [link_opens(link), link_opens(sign_link(second))] == [False, True]
    late = now + timedelta(days=7)
    assert find_open_invitation(sign_link(second), late - timedelta(seconds=1)) == second
    assert find_open_invitation(sign_link(second), late) is None
    Invitation.objects.filter(pk=second.pk).update(invited_at=now - timedelta(days=8))
    Invitation.objects.filter(pk=first.pk).update(invited_at=now - timedelta(days=9))
    assert not link_opens(sign_link(second))
    with pytest.raises(Refusal, match="no longer works"):
        actions.accept_invitation(link=sign_link(second), password=NEW_PASSWORD, at=now)
    assert "invitation expired" in _people(cast)
    assert len({one.split("<h1>")[1].split("</p>")[0] for one in answers}) == 1


def _people(cast: Cast) -> str:
    client = Client()
    client.force_login(cast.frida)
    return client.get("/people/").text


def test_a_mistyped_address_is_told_of_the_mistake_and_of_nothing_else(cast: Cast, guest: Person) -> None:
    """The stranger behind it has no account here, and nobody knows a password of theirs."""
    mail.outbox.clear()
    old = guest.email
    actions.edit_person(person=guest, changes={"email": "gerda@elsewhere.example"}, by=cast.frida, at=cast.at())
    (told,) = mail.outbox
    assert told.to == [old]
    assert "this address was entered there by mistake" in told.body
    assert not [word for word in ("password", "device", "Was it not you", guest.username) if word in told.body]
    # To an address that was never there before, the first e-mail is the invitation.
    actions.invite(person=guest, by=cast.frida, at=cast.at())
    assert [(letter.to, "/invitation/" in letter.body) for letter in mail.outbox[1:]] == [
        (["gerda@elsewhere.example"], True)
    ]


@pytest.mark.parametrize("name", sorted(emails.ALLAUTH_EMAILS))
def test_no_notice_says_that_somebody_knows_a_password(name: str) -> None:
    _, text = emails.ALLAUTH_EMAILS[name]
    assert "knows your password" not in text
    if emails.NOT_YOU_ADVICE in text:
        assert "If you did this, there is nothing to do." in text
        assert "If you have no account at this school" in text


def test_who_is_not_invited(cast: Cast, guest: Person) -> None:
    with pytest.raises(Refusal, match="already has a password"):
        actions.invite(person=cast.bert, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="administrator manages"):
        actions.invite(person=guest, by=cast.amelia, at=cast.at())
    actions.edit_person(person=guest, changes={"email": ""}, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="no e-mail address"):
        actions.invite(person=guest, by=cast.frida, at=cast.at())
    actions.revoke_access(person=guest, reason="left", by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="may not log in"):
        actions.invite(person=guest, by=cast.frida, at=cast.at())
    assert not Invitation.objects.exists()


def test_a_letter_that_cannot_be_sent_invites_nobody(
    cast: Cast, guest: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def down(letter: Any) -> None:
        raise ConnectionRefusedError("no mail server")

    monkeypatch.setattr("django.core.mail.EmailMessage.send", down)
    client = Client()
    client.force_login(cast.frida)
    reply = post_person_page(client, guest, "invite/")
    assert reply.status_code == 422
    assert "could not be sent" in reply.text
    assert not Invitation.objects.exists()
    assert not JournalEntry.objects.filter(what="invited").exists()


def test_an_invitation_ends_with_the_access(cast: Cast, guest: Person) -> None:
    link = sign_link(actions.invite(person=guest, by=cast.frida, at=timezone.now()))
    actions.revoke_access(person=guest, reason="left", by=cast.frida, at=cast.at())
    assert not link_opens(link)


# Editing


def test_a_person_is_added_and_edited(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.frida)
    typed = {
        "given_name": "Gerda", "family_name": "Example", "reference": "T-9", "username": "gerda",
        "email": "Gerda@School.example", "born": "1990-02-03", "roles": ["instructor"],
    }  # fmt: skip
    for wrong in ({"username": "BERT"}, {"reference": "T-1"}, {"roles": []}, {"username": "two words"}):
        assert client.post("/people/add/", typed | wrong).status_code == 422
    made = client.post("/people/add/", typed)
    person = Person.objects.get(username="gerda")
    assert made.headers["Location"] == f"/people/{person.pk}/"
    assert (person.email, person.has_usable_password()) == ("gerda@school.example", False)
    changed = typed | {"family_name": "Other", "email": "other@school.example"}
    assert client.post(f"/people/{person.pk}/", changed).status_code == 302
    told = journal_entry("person changed")
    assert (told.before["family_name"], told.after["family_name"]) == ("Example", "Other")
    assert "school.example" not in str((told.before, told.after))  # an address is not kept for good
    assert mail.outbox[-1].to == ["gerda@school.example"]
    assert client.post(f"/people/{person.pk}/", changed | {"reference": "T-1"}).status_code == 422
    assert client.post(f"/people/{person.pk}/", changed).status_code == 302  # nothing new, no entry
    assert JournalEntry.objects.filter(what="person changed").count() == 1
    paper = {"number": "C-9", "issued": "2025-01-01", "recent_experience_until": "2027-01-31"}
    assert (
        post_person_page(client, person, "certificate/", **paper | {"recent_experience_until": ""}).status_code == 422
    )
    assert post_person_page(client, person, "certificate/", **paper).status_code == 302
    assert Paper.objects.get(person=person).number == "C-9"
    assert "C-9" in client.get(f"/people/{person.pk}/").text


def test_a_new_address_of_the_administrator_is_not_a_confirmed_one(cast: Cast) -> None:
    EmailAddress.objects.create(user=cast.bert, email="bert@school.example", verified=True, primary=True)
    add_second_step(cast.cleo)
    person = actions.edit_person(
        person=cast.bert,
        changes={"email": "b@other.example"},
        by=cast.frida,
        at=cast.at(),
        confirmation=CONFIRMED_BY_CLEO,
    )
    waiting.settle(person=person, at=cast.at() + timedelta(hours=48))
    assert not EmailAddress.objects.filter(verified=True).exists()


def test_what_is_signed_keeps_the_name_of_its_day(cast: Cast, app_role_rights: None) -> None:
    lesson = fly_lesson(cast, circuits=1)
    sealed = list(Seal.objects.values_list("number", "canonical", "digest"))
    for person, name in ((cast.bert, "Bertram"), (cast.dora, "Dorothea")):
        actions.edit_person(person=person, changes={"given_name": name}, by=cast.frida, at=cast.at(13))
    assert list(Seal.objects.values_list("number", "canonical", "digest")) == sealed
    assert [row.name for row in Signature.objects.all()] == ["Bert Example"]
    with app_role():
        check = run_audit(by=cast.frida, at=cast.at(14))
    assert (check.found, check.seals) == (0, len(sealed))
    client = Client()
    client.force_login(cast.frida)
    text = client.get(f"/lessons/{lesson.uid}/").text
    assert "Bert Example" in text.split("Instructor: signed")[1]


# Roles and access


def test_nobody_raises_themselves(cast: Cast) -> None:
    roles = [Role.ADMIN, Role.CHIEF]
    for who in ("amelia", "bert", "dora"):
        with pytest.raises(Refusal, match="administrator manages"):
            actions.change_roles(person=getattr(cast, who), roles=roles, by=getattr(cast, who), at=cast.at())
        client = Client()
        client.force_login(getattr(cast, who))
        assert post_person_page(client, getattr(cast, who), "roles/", roles=roles).status_code == 403
        assert client.post("/people/add/", {"roles": roles}).status_code == 403
    with pytest.raises(Refusal, match="your own roles"):
        actions.change_roles(person=cast.frida, roles=[*roles, Role.INSTRUCTOR], by=cast.frida, at=cast.at())
    assert {row.username: row.roles for row in Person.objects.filter(roles__contains=["admin"])} == {"frida": ["admin"]}


def test_roles_are_changed_with_an_entry(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.frida)
    assert post_person_page(client, cast.bert, "roles/", roles=["instructor", "chief"]).status_code == 302
    assert Person.objects.get(pk=cast.bert.pk).roles == ["instructor", "chief"]
    told = journal_entry("roles changed")
    assert (told.before, told.after) == ({"roles": ["instructor"]}, {"roles": ["instructor", "chief"]})
    assert post_person_page(client, cast.bert, "roles/", roles=["owner"]).status_code == 422
    assert post_person_page(client, cast.bert, "roles/").status_code == 422


def test_one_administrator_remains(cast: Cast) -> None:
    with pytest.raises(Refusal, match="Another administrator must"):
        actions.revoke_access(person=cast.frida, reason="tired", by=cast.frida, at=cast.at())
    actions.change_roles(person=cast.amelia, roles=["chief", "admin"], by=cast.frida, at=cast.at())
    actions.change_roles(person=cast.frida, roles=["instructor"], by=cast.amelia, at=cast.at())
    # Frida's page was opened before that: what she was then does not count any more.
    with pytest.raises(Refusal, match="administrator manages"):
        actions.change_roles(person=cast.amelia, roles=["chief"], by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="Another administrator must"):
        actions.revoke_access(person=cast.amelia, reason="left", by=cast.amelia, at=cast.at())
    assert Person.objects.active_with_role(Role.ADMIN).count() == 1


def test_access_taken_away_ends_every_session_at_once_and_for_good(cast: Cast) -> None:
    first, second, unlisted = Client(), Client(), Client()
    log_in(first, "bert")
    log_in(second, "bert")
    unlisted.force_login(cast.bert)  # stands in no list of sessions
    assert all(map(is_logged_in, (first, second, unlisted)))
    with pytest.raises(Refusal, match="Write why"):
        actions.revoke_access(person=cast.bert, reason=" ", by=cast.frida, at=cast.at())
    actions.revoke_access(person=cast.bert, reason="has left", by=cast.frida, at=cast.at())
    assert not any(map(is_logged_in, (first, second, unlisted)))
    assert "do not match" in log_in(Client(), "bert").text
    assert journal_entry("access taken away").after == {"reason": "has left"}
    actions.restore_access(person=cast.bert, by=cast.frida, at=cast.at())
    assert not any(map(is_logged_in, (first, second, unlisted)))
    assert log_in(Client(), "bert").status_code == 302
    assert journal_entry("access given back").person_id == cast.frida.pk


def test_a_letter_for_a_forgotten_password_opens_nothing_once_the_access_was_taken(cast: Cast) -> None:
    Person.objects.filter(pk=cast.bert.pk).update(email="bert@school.example")
    EmailAddress.objects.create(user=cast.bert, email="bert@school.example", verified=True, primary=True)

    def opens(again: bool) -> bool:
        """`again`: the access was taken and given back between asking for the letter and opening its link."""
        mail.outbox.clear()
        Client().post("/password-forgotten/", {"email": "bert@school.example"})
        client, (link,) = Client(), mailed_links()
        if again:
            actions.revoke_access(person=cast.bert, reason="left", by=cast.frida, at=cast.at())
            actions.restore_access(person=cast.bert, by=cast.frida, at=cast.at())
        reply = client.get(link, follow=True)
        page = reply.redirect_chain[-1][0] if reply.redirect_chain else link
        client.post(page, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})
        changed = Person.objects.get(pk=cast.bert.pk).check_password(NEW_PASSWORD)
        Person.objects.filter(pk=cast.bert.pk).update(password=cast.bert.password)
        return changed

    assert [opens(again=False), opens(again=True)] == [True, False]


def test_whoever_was_erased_is_not_let_in_again(cast: Cast) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(username=f"erased {cast.dora.pk}", is_active=False)
    with pytest.raises(Refusal, match="erased"):
        actions.restore_access(person=cast.dora, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="erased"):
        actions.edit_person(person=cast.dora, changes={"given_name": "Dora"}, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="erased"):
        actions.change_roles(person=cast.dora, roles=["instructor"], by=cast.frida, at=cast.at())


@pytest.mark.parametrize("more", [0, 3])
def test_the_list_takes_a_fixed_number_of_queries(
    cast: Cast, client: Client, django_assert_num_queries: Any, more: int
) -> None:
    for number in range(more):
        guest = Person.objects.create_user(f"g{number}", given_name="G", family_name="X", reference=f"G-{number}")
        Invitation.objects.create(person=guest, email="g@x.example", invited_at=cast.at(), invited_by=cast.frida)
    client.force_login(cast.frida)
    client.get("/people/")
    with django_assert_num_queries(4):
        assert client.get("/people/?q=e&role=").status_code == 200


def test_what_has_run_out_is_cleared(cast: Cast) -> None:
    client = Client()
    log_in(client, "bert", "wrong")
    log_in(client, "bert")
    assert delete_expired(timezone.now()) == (0, 0)
    assert is_logged_in(client)
    sessions, counters = delete_expired(timezone.now() + timedelta(days=15))
    assert (sessions, counters > 0) == (1, True)
    assert not is_logged_in(client)


# Aircraft and aerodromes


def test_an_aircraft_goes_out_of_service_and_comes_back(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.amelia)
    page = f"/aircraft/{cast.aircraft.pk}/service/"
    assert client.post(page, {"in_service": "no"}).status_code == 422
    assert client.post(page, {"in_service": "no", "reason": "annual inspection"}).status_code == 302
    assert not Aircraft.objects.get(pk=cast.aircraft.pk).in_service
    assert journal_entry("aircraft taken out of service").after == {"reason": "annual inspection"}
    assert client.post(page, {"in_service": "yes"}).status_code == 302
    assert Aircraft.objects.get(pk=cast.aircraft.pk).in_service
    assert client.post("/aircraft/", {"registration": "qq-xxa", "type": cast.type.pk}).status_code == 422
    assert client.post("/aircraft/", {"registration": "qq-xxb", "type": cast.type.pk}).status_code == 302
    assert Aircraft.objects.get(registration="QQ-XXB").in_service


def test_aerodromes_and_runways_are_kept(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.frida)
    typed = {"ident": "zzzy", "name": "Other", "elevation_ft": 20, "variation_deg": "-1.5", "circuit_height_ft": 1000}
    assert client.post("/aerodromes/", typed | {"ident": "ZZZX"}).status_code == 422
    made = client.post("/aerodromes/", typed)
    other = Aerodrome.objects.get(ident="ZZZY")
    assert made.headers["Location"] == f"/aerodromes/{other.pk}/"
    runway = {"designator": "07l", "heading_magnetic": 68, "length_ft": 3000, "circuit": "right"}
    assert client.post(f"/aerodromes/{other.pk}/runways/", runway | {"heading_magnetic": 90}).status_code == 422
    assert client.post(f"/aerodromes/{other.pk}/runways/", runway).status_code == 302
    assert client.post(f"/aerodromes/{other.pk}/runways/", runway).status_code == 422
    one = Runway.objects.get(aerodrome=other)
    sent = {f"r{one.pk}-{name}": value for name, value in (runway | {"length_ft": 2800}).items()}
    assert client.post(f"/aerodromes/runways/{one.pk}/", sent).status_code == 302
    assert (Runway.objects.get(pk=one.pk).length_ft, journal_entry("runway changed").before) == (
        2800,
        {"length_ft": 3000},
    )
    changed = typed | {"ident": "ZZZY", "name": "Another"}
    assert client.post(f"/aerodromes/{other.pk}/", changed | {"ident": "ZZZX"}).status_code == 422
    assert client.post(f"/aerodromes/{other.pk}/", changed).status_code == 302
    assert journal_entry("aerodrome changed").after == {"name": "Another"}
    assert client.get(f"/aerodromes/{other.pk}/").status_code == 200


def test_what_wind_on_record_rests_on_stays(cast: Cast, app_role_rights: None) -> None:
    fly_lesson(cast, circuits=1)
    heading = {"designator": "18", "heading_magnetic": 184, "length_ft": 3000, "circuit": "left"}
    with pytest.raises(Refusal, match="has been used"):
        places.edit_runway(runway=cast.runway, changes=heading, by=cast.frida, at=cast.at())
    places.edit_runway(
        runway=cast.runway, changes=heading | {"heading_magnetic": 180, "circuit": "right"}, by=cast.frida, at=cast.at()
    )
    with pytest.raises(Refusal, match="is used in the records"):
        places.edit_aerodrome(aerodrome=cast.runway.aerodrome, changes={"ident": "ZZZZ"}, by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="administrator and the chief instructor manage"):
        places.add_aerodrome(ident="ZZZZ", name="X", elevation_ft=1, by=cast.bert, at=cast.at())
    with app_role():
        assert run_audit(by=cast.frida, at=cast.at(14)).found == 0

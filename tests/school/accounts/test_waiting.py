"""A new address and an unconfirmed reset wait 48 hours, and their person is told and can stop them (project's own)."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.core import mail
from django.test import Client
from django.utils import timezone

from grading.operations import daily
from school.accounts import actions, waiting
from school.errors import Refusal
from school.models import JournalEntry, Person
from tests.cast import SECRET, Cast
from tests.school.accounts.login_helpers import add_codes, is_logged_in, log_in, mailed_links
from tests.shared_state import shared_state

OLD, NEW = "bert@school.example", "bert@elsewhere.example"


@shared_state
def asked(cast: Cast) -> Cast:
    """Frida alone entered a new address for Bert; nobody else has a second step. The clock of the pages is the real."""
    Person.objects.filter(pk=cast.bert.pk).update(email=OLD)
    EmailAddress.objects.create(user=cast.bert, email=OLD, verified=True, primary=True)
    actions.edit_person(person=cast.bert, changes={"email": NEW}, by=cast.frida, at=timezone.now())
    return cast


def bert(cast: Cast) -> Person:
    return Person.objects.get(pk=cast.bert.pk)


def link_of(person: Person, kind: str = waiting.ADDRESS) -> str:
    return f"/account-change/{waiting.sign_link(person, kind)}/"


def let_pass(cast: Cast) -> None:
    """48 hours pass."""
    past = timezone.now() - timedelta(seconds=1)
    Person.objects.filter(pk=cast.bert.pk, new_email_from__isnull=False).update(new_email_from=past)
    Person.objects.filter(pk=cast.bert.pk, second_step_reset_from__isnull=False).update(second_step_reset_from=past)


def forget_password(email: str) -> list[str]:
    """Ask for a new password with this address; the addresses that got a link."""
    mail.outbox.clear()
    assert Client().post("/password-forgotten/", {"email": email}).status_code == 302
    return [letter.to[0] for letter in mail.outbox if "account bert" in letter.body]


def events() -> list[tuple[str, int | None]]:
    rows = JournalEntry.objects.filter(what__in=[f"new address {word}" for word in ("stopped", "in force")])
    return list(rows.order_by("pk").values_list("what", "person_id"))


def test_a_new_address_opens_nothing_for_48_hours(asked: Cast) -> None:
    assert (bert(asked).email, bert(asked).new_email) == (OLD, NEW)
    assert forget_password(NEW) == []
    assert forget_password(OLD) == [OLD]
    let_pass(asked)
    assert forget_password(NEW) == [NEW]
    assert forget_password(OLD) == []
    assert (bert(asked).email, bert(asked).new_email_from) == (NEW, None)
    assert not EmailAddress.objects.filter(user=asked.bert, verified=True).exists()  # nobody confirmed it
    assert events() == [("new address in force", None)]


def test_the_work_of_the_day_puts_it_in_force_too(asked: Cast) -> None:
    daily.clear_sessions(timezone.now())
    assert bert(asked).email == OLD
    let_pass(asked)
    daily.clear_sessions(timezone.now())
    assert bert(asked).email == NEW


def test_the_earlier_address_is_told_at_once_and_stops_it(cast: Cast, mailoutbox: list[Any]) -> None:
    Person.objects.filter(pk=cast.bert.pk).update(email=OLD)
    Person.objects.filter(pk=cast.amelia.pk).update(email="amelia@school.example")
    actions.edit_person(person=cast.bert, changes={"email": NEW}, by=cast.frida, at=timezone.now())
    assert [letter.to for letter in mailoutbox] == [[OLD], ["amelia@school.example"]]
    assert f"Frida Example entered {NEW} as your new e-mail address" in mailoutbox[0].body
    (link,) = mailed_links()
    stranger = Client()
    page = stranger.get(link)
    assert page.status_code == 200
    assert NEW in page.text
    assert bert(cast).new_email == NEW  # to look is not to act: programs that check e-mails open every link
    assert "The change is stopped" in stranger.post(link, {"stop": ""}, follow=True).text
    assert (bert(cast).email, bert(cast).new_email_from) == (OLD, None)
    assert events() == [("new address stopped", cast.bert.pk)]
    assert mailoutbox[-1].to == ["amelia@school.example"]
    assert "Bert Example stopped the new e-mail address of Bert Example" in mailoutbox[-1].body
    assert [stranger.get(link).status_code, stranger.post(link).status_code] == [410, 410]


def test_whoever_reads_the_earlier_address_may_agree(asked: Cast) -> None:
    assert "The new address is in use" in Client().post(link_of(bert(asked)), {"use_now": ""}, follow=True).text
    assert forget_password(NEW) == [NEW]
    assert events() == [("new address in force", asked.bert.pk)]


def test_a_link_that_is_tampered_late_or_of_a_replaced_change_opens_nothing(asked: Cast) -> None:
    first = link_of(bert(asked))
    actions.edit_person(
        person=asked.bert, changes={"email": "third@elsewhere.example"}, by=asked.frida,
        at=timezone.now() + timedelta(seconds=1),
    )  # fmt: skip
    second = link_of(bert(asked))
    wrong = [first, second[:-3] + "xy/", "/account-change/x/"]
    assert [Client().post(one, {"use_now": ""}).status_code for one in wrong] == [410] * 3
    assert Client().get(second).status_code == 200
    let_pass(asked)
    assert Client().post(second, {"stop": ""}).status_code == 410
    assert bert(asked).email == OLD


def test_the_same_address_again_does_not_wait_anew(asked: Cast) -> None:
    before = bert(asked).new_email_from
    actions.edit_person(
        person=asked.bert, changes={"email": NEW, "given_name": "Bertram"}, by=asked.frida, at=timezone.now()
    )
    assert (bert(asked).new_email_from, bert(asked).given_name) == (before, "Bertram")


def test_a_person_stops_it_on_their_account_page(asked: Cast) -> None:
    client, other = Client(), Client()
    client.force_login(asked.bert)
    other.force_login(asked.cleo)
    assert NEW in client.get("/account/").text
    assert NEW not in other.get("/account/").text
    reply = other.post("/account/stop-change/", {"kind": "address"}, follow=True)
    assert "is no longer waiting" in reply.text  # Cleo's own, of which there is none
    assert bert(asked).new_email == NEW
    assert "The change is stopped" in client.post("/account/stop-change/", {"kind": "address"}, follow=True).text
    assert bert(asked).new_email_from is None
    assert "Stop the" not in client.get("/account/").text


def test_an_administrator_withdraws_it_and_nobody_else_does(asked: Cast) -> None:
    change = waiting.waiting_changes(bert(asked), timezone.now())[0]
    for somebody in (asked.amelia, asked.cleo, asked.dora):
        with pytest.raises(Refusal):
            waiting.stop(change=change, by=somebody, at=timezone.now())
    client = Client()
    client.force_login(asked.frida)
    assert "Withdraw the new e-mail address" in client.get(f"/people/{asked.bert.pk}/").text
    assert client.post(f"/people/{asked.bert.pk}/stop-change/", {"kind": "address"}).status_code == 302
    assert bert(asked).new_email_from is None
    assert events() == [("new address stopped", asked.frida.pk)]
    assert client.post(f"/people/{asked.bert.pk}/stop-change/", {"kind": "address"}).status_code == 422


def test_what_waits_ends_with_the_access(asked: Cast) -> None:
    actions.revoke_access(person=asked.bert, reason="left", by=asked.frida, at=timezone.now())
    assert bert(asked).new_email_from is None
    actions.restore_access(person=asked.bert, by=asked.frida, at=timezone.now())
    assert forget_password(OLD) == [OLD]


def test_the_own_address_of_an_administrator_waits_too(cast: Cast) -> None:
    """A session left open would otherwise be enough to get another password."""
    Person.objects.filter(pk=cast.frida.pk).update(email="frida@school.example")
    actions.edit_person(person=cast.frida, changes={"email": NEW}, by=cast.frida, at=timezone.now())
    assert Person.objects.get(pk=cast.frida.pk).email == "frida@school.example"
    assert mail.outbox[0].to == ["frida@school.example"]


@pytest.mark.parametrize("act", ["", "action_primary", "action_remove"])
def test_an_address_that_was_only_typed_opens_nothing(cast: Cast, act: str) -> None:
    """It stands in allauth's table beside the one in use until it is confirmed."""
    Person.objects.filter(pk=cast.bert.pk).update(email=OLD)
    client = Client()
    log_in(client, "bert")
    client.post("/account/confirm/?next=/account/e-mail/", {"password": SECRET})
    client.post("/account/e-mail/", {"email": NEW, "action_add": ""})
    assert EmailAddress.objects.filter(user=cast.bert, email=NEW).exists()
    if act:
        client.post("/account/e-mail/", {"email": OLD if act == "action_remove" else NEW, act: ""})
    assert bert(cast).email == OLD
    assert forget_password(NEW) == []
    assert forget_password(OLD) == [OLD]


# The reset of a second step


def test_a_reset_that_nobody_confirmed_waits_and_is_told(cast: Cast) -> None:
    Person.objects.filter(pk=cast.bert.pk).update(email=OLD)
    add_codes(cast.bert)
    office, device = Client(), Client()
    office.force_login(cast.frida)
    device.force_login(bert(cast))
    assert "so it waits 48 hours" in " ".join(office.get(f"/people/{cast.bert.pk}/").text.split())
    assert "takes effect on" in office.post(f"/people/{cast.bert.pk}/reset-second-step/", follow=True).text
    assert Authenticator.objects.filter(user=cast.bert).count() == 2
    assert mail.outbox[0].to == [OLD]
    assert "asked to remove the second step" in mail.outbox[0].body
    assert "use_now" not in Client().get(link_of(bert(cast), waiting.SECOND_STEP)).text
    assert log_in(Client(), "bert").headers["Location"] == "/login/second-step/"
    again = office.post(f"/people/{cast.bert.pk}/reset-second-step/")
    assert (again.status_code, "already waiting" in again.text) == (422, True)
    assert is_logged_in(device)
    let_pass(cast)
    assert log_in(Client(), "bert").headers["Location"] == "/"
    assert not Authenticator.objects.filter(user=cast.bert).exists()
    assert not is_logged_in(device)
    (entry,) = JournalEntry.objects.filter(what="second step reset")
    assert (entry.person_id, entry.before) == (None, {"kinds": ["recovery_codes", "totp"]})


def test_whoever_has_the_second_step_still_stops_its_reset(cast: Cast) -> None:
    add_codes(cast.bert)
    actions.reset_second_step(person=cast.bert, by=cast.frida, at=timezone.now())
    client = Client()
    client.force_login(bert(cast))
    assert "Your second step is removed on" in client.get("/account/").text
    client.post("/account/stop-change/", {"kind": "second step"})
    let_pass(cast)
    assert log_in(Client(), "bert").headers["Location"] == "/login/second-step/"
    assert JournalEntry.objects.get(what="second step reset stopped").person_id == cast.bert.pk


def test_after_a_new_address_the_earlier_one_is_told_of_a_reset_too(asked: Cast) -> None:
    """One administrator changed the address, waited, and goes on: the owner of the account hears of it."""
    let_pass(asked)
    daily.clear_sessions(timezone.now())
    add_codes(asked.bert)
    mail.outbox.clear()
    actions.reset_second_step(person=bert(asked), by=asked.frida, at=timezone.now())
    assert [letter.to for letter in mail.outbox] == [[NEW], [OLD]]
    late = timezone.now() + timedelta(days=31)
    assert waiting.told_addresses(bert(asked), late) == [NEW]

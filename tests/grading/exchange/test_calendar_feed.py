"""What runs out, as a calendar. Form: RFC 5545, sections 3.4, 3.6.1 (events), 3.3.4 (dates), 3.1 (lines), read back by
the library icalendar, which this project did not write."""

import uuid
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.test import Client
from icalendar import Calendar

from school import actions
from school.accounts.actions import restore_access, revoke_access
from school.models import JournalEntry, Paper, Person
from tests.cast import SECRET, Cast
from tests.factories import fly_lesson
from tests.school.accounts.login_helpers import NEW_PASSWORD, log_in, mailed_links


def read_calendar(client: Client, address: str) -> dict[str, date]:
    reply = client.get(address)
    assert reply.status_code == 200
    assert reply.headers["Content-Type"].startswith("text/calendar")
    assert all(len(line) <= 75 for line in reply.content.split(b"\r\n"))
    events = Calendar.from_ical(reply.content).walk("VEVENT")
    return {str(event["summary"]): event.decoded("dtstart") for event in events}


def add_medical(cast: Cast) -> date:
    until = cast.today + timedelta(days=40)
    actions.record_paper(
        person=cast.dora, kind=Paper.Kind.MEDICAL, medical_class="3", issued=cast.today - timedelta(days=30),
        expires=until, by=cast.frida, at=cast.at(),
    )  # fmt: skip
    return until


def test_each_sees_what_concerns_them(cast: Cast) -> None:
    until = add_medical(cast)
    seen = {}
    for who in ("dora", "emil", "bert", "cleo", "frida"):
        client = Client()
        client.force_login(getattr(cast, who))
        assert client.post("/expiry-dates/").status_code == 302
        getattr(cast, who).refresh_from_db()
        seen[who] = read_calendar(Client(), f"/expiry-dates/{getattr(cast, who).calendar_key}.ics")
        assert f"{getattr(cast, who).calendar_key}.ics" in client.get("/expiry-dates/").text
    of_dora = {name: {k: v for k, v in found.items() if "Dora" in k} for name, found in seen.items()}
    assert of_dora["dora"] == of_dora["bert"] == of_dora["frida"]
    assert list(of_dora["dora"].values()) == [until]
    assert of_dora["emil"] == of_dora["cleo"] == {}
    assert any("Cleo" in name for name in seen["cleo"])
    assert not any("Bert" in name for name in seen["cleo"])


def test_a_new_address_ends_the_old_one(cast: Cast, client: Client) -> None:
    first = actions.create_calendar_address(person=cast.dora, at=cast.at())
    second = actions.create_calendar_address(person=cast.dora, at=cast.at())
    assert client.get(f"/expiry-dates/{first}.ics").status_code == 404
    assert client.get(f"/expiry-dates/{second}.ics").status_code == 200
    assert client.get(f"/expiry-dates/{uuid.uuid4()}.ics").status_code == 404


def is_readable(key: uuid.UUID) -> bool:
    return Client().get(f"/expiry-dates/{key}.ics").status_code == 200


def test_the_address_ends_with_a_new_password(cast: Cast) -> None:
    key = actions.create_calendar_address(person=cast.bert, at=cast.at())
    client = Client()
    log_in(client, "bert")
    wrong = {"oldpassword": "wrong", "password1": NEW_PASSWORD, "password2": NEW_PASSWORD}
    client.post("/account/password/", wrong)
    assert is_readable(key)
    client.post("/account/password/", wrong | {"oldpassword": SECRET})
    assert not is_readable(key)
    assert JournalEntry.objects.get(what="calendar address ended").person_id == cast.bert.pk
    assert "Create an address" in client.get("/expiry-dates/").text
    client.post("/expiry-dates/")  # renewed by hand
    assert is_readable(Person.objects.get(pk=cast.bert.pk).calendar_key)
    assert not is_readable(key)


def test_the_address_ends_with_a_password_set_by_e_mail(cast: Cast) -> None:
    Person.objects.filter(pk=cast.bert.pk).update(email="bert@school.example")
    key = actions.create_calendar_address(person=cast.bert, at=cast.at())
    client = Client()
    client.post("/password-forgotten/", {"email": "bert@school.example"})
    page = client.get(mailed_links()[-1]).headers["Location"]
    client.post(page, {"password1": NEW_PASSWORD, "password2": NEW_PASSWORD})
    assert not is_readable(key)


def test_the_address_ends_with_the_access_and_does_not_come_back_with_it(cast: Cast) -> None:
    key = actions.create_calendar_address(person=cast.bert, at=cast.at())
    revoke_access(person=cast.bert, reason="left", by=cast.frida, at=cast.at())
    assert not is_readable(key)
    restore_access(person=cast.bert, by=cast.frida, at=cast.at())
    assert not is_readable(key)


@pytest.mark.parametrize("students", [1, 2])
def test_its_queries_do_not_grow(
    cast: Cast, client: Client, django_assert_num_queries: Callable, students: int
) -> None:
    add_medical(cast)
    fly_lesson(cast)
    if students == 2:
        fly_lesson(cast, enrolment=cast.other_enrolment)
    client.force_login(cast.amelia)
    client.get("/expiry-dates/")
    with django_assert_num_queries(8):
        client.get("/expiry-dates/")

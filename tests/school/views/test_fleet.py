"""One aircraft: corrected until a lesson rests on it; its documents, recorded, renewed, voided and shown in time.

Kinds and intervals of documents are common practice of general aviation; no rule is cited for them.
"""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.core import mail
from django.db import DatabaseError, transaction
from django.test import Client

from grading.evidence import register
from grading.evidence.audit.check import audit_records
from grading.exchange.calendar_feed import expiries_for
from grading.operations.reminder_mail import send_reminders
from grading.pages.offline_pack import build_offline_pack
from school import fleet
from school.aircraft_documents import CAUTION_DAYS, fleet_expiries
from school.errors import Refusal
from school.models import Aircraft, AircraftPaper, JournalEntry, Person
from tests.cast import Cast
from tests.factories import begin_lesson


def record(cast: Cast, kind: str, since: int, left: int | None, aircraft: Aircraft | None = None) -> AircraftPaper:
    return fleet.record_aircraft_paper(
        aircraft=aircraft or cast.aircraft, kind=kind, issued=cast.today - timedelta(days=since),
        expires=None if left is None else cast.today + timedelta(days=left), by=cast.frida, at=cast.at(9),
    )  # fmt: skip


def test_an_aircraft_is_corrected_until_a_lesson_rests_on_it(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = f"/aircraft/{cast.aircraft.pk}/"
    record(cast, "annual", 10, 300)  # its own documents do not count
    assert client.post(page, {"registration": "qq-xxb", "type": cast.type.pk}).status_code == 302
    cast.aircraft.refresh_from_db()
    assert cast.aircraft.registration == "QQ-XXB"
    assert JournalEntry.objects.get(what="aircraft changed").before["registration"] == "QQ-XXA"
    Aircraft.objects.create(registration="QQ-XXC", type=cast.type)
    taken = client.post(page, {"registration": "QQ-xxc", "type": cast.type.pk})
    assert (taken.status_code, "Another aircraft has this registration" in taken.text) == (422, True)
    assert 'value="QQ-xxc"' in taken.text
    begin_lesson(cast)
    shown = client.get(page).text
    assert "so both stay" in " ".join(shown.split())
    assert 'name="registration"' not in shown
    used = client.post(page, {"registration": "QQ-XXD", "type": cast.type.pk})
    assert (used.status_code, "is in the records of lessons" in used.text, "QQ-XXD" in used.text) == (422, True, True)
    with pytest.raises(Refusal, match="Only the administrator"):
        fleet.correct_aircraft(aircraft=cast.aircraft, registration="QQ-X", type=cast.type, by=cast.bert, at=cast.at(9))


def test_a_document_is_recorded_renewed_voided_and_sealed(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    register.open_register(cast.at(8))
    page, day = f"/aircraft/{cast.aircraft.pk}/documents/", cast.today - timedelta(days=400)
    form = {"kind": "annual", "number": "A-1", "issued": day, "expires": day + timedelta(days=365)}
    wrong = client.post(page, form | {"expires": day - timedelta(days=1)})
    assert (wrong.status_code, "expires before it was issued" in wrong.text) == (422, True)
    assert 'value="A-1"' in wrong.text
    late = client.post(page, form | {"issued": cast.today + timedelta(days=9), "expires": ""})
    assert (late.status_code, "does not exist yet" in late.text) == (422, True)
    assert client.post(page, form).status_code == 302
    first = AircraftPaper.objects.get()
    assert [row.what for row in fleet_expiries(cast.today, 0)] == ["Annual inspection"]
    assert '<b class="now">expired</b>' in client.get(f"/aircraft/{cast.aircraft.pk}/").text
    # A renewal takes its place, and voiding the renewal brings it back.
    client.post(page, {"kind": "annual", "issued": cast.today, "expires": cast.today + timedelta(days=365)})
    assert fleet_expiries(cast.today, 60) == []
    second = AircraftPaper.objects.latest("pk")
    assert client.post(f"/aircraft/documents/{second.pk}/void/", {"reason": " "}).status_code == 422
    assert client.post(f"/aircraft/documents/{second.pk}/void/", {"reason": "Another aircraft"}).status_code == 302
    again = client.post(f"/aircraft/documents/{second.pk}/void/", {"reason": "Twice"})
    assert (again.status_code, "already voided" in again.text) == (422, True)
    assert [row.until for row in fleet_expiries(cast.today, 0)] == [first.expires]
    acts = list(JournalEntry.objects.filter(subject_kind="school.aircraftpaper").order_by("pk").values_list("what"))
    assert acts == [("aircraft document added",)] * 2 + [("aircraft document voided",)]
    register.catch_up(cast.at(14))
    assert [str(finding) for finding in audit_records().findings] == []
    with pytest.raises(DatabaseError), transaction.atomic():
        AircraftPaper.objects.filter(pk=first.pk).update(expires=None)
    with pytest.raises(DatabaseError), transaction.atomic():
        AircraftPaper.objects.filter(pk=first.pk).delete()
    with pytest.raises(Refusal, match="is no document of an aircraft"):
        record(cast, "warrant", 1, None)


def test_what_expires_is_said_on_every_page_in_time_and_stops_nothing(cast: Cast, client: Client) -> None:
    other = Aircraft.objects.create(registration="QQ-XXB", type=cast.type)
    record(cast, "insurance", 300, -1)
    record(cast, "transponder", 300, CAUTION_DAYS)
    record(cast, "annual", 300, CAUTION_DAYS + 1)
    record(cast, "registration", 300, None)
    record(cast, "annual", 300, -30, other)
    Person.objects.filter(pk__in=(cast.amelia.pk, cast.frida.pk)).update(email="office@example.org")
    client.force_login(cast.bert)
    lesson = begin_lesson(cast, 14)
    page = BeautifulSoup(client.get(f"/lessons/{lesson.uid}/").text, "html.parser").find(id="before-flight")
    said = [row.text for row in page.select(".flight-band b, .flight-warnings b")]
    assert said == ["Insurance expired", f"Transponder test expires in {CAUTION_DAYS} days"]
    assert "QQ-XXA, last day" in page.text
    # Of the day of the lesson: the day before yesterday nothing had expired.
    earlier = begin_lesson(cast, 14, days_ago=2)
    page = BeautifulSoup(client.get(f"/lessons/{earlier.uid}/").text, "html.parser").find(id="before-flight")
    assert [row.text for row in page.select("b")] == ["Insurance expires tomorrow"]
    ground = begin_lesson(cast, 1)
    assert "Insurance" not in client.get(f"/lessons/{ground.uid}/").text
    pack = build_offline_pack(cast.bert, cast.today)
    assert [(row["registration"], row["caution"]) for row in pack["students"][0]["aircraft"]] == [
        ("QQ-XXA", "Insurance expired"), ("QQ-XXB", "Annual inspection expired"),
    ]  # fmt: skip
    listed = [(row.name, row.what) for row in expiries_for(cast.bert, cast.today)]
    assert listed[:3] == [
        ("QQ-XXB", "Annual inspection"), ("QQ-XXA", "Insurance"), ("QQ-XXA", "Transponder test")
    ]  # fmt: skip
    assert not [row for row in expiries_for(cast.dora, cast.today) if row.name.startswith("QQ-")]
    page = client.get("/expiry-dates/").text
    assert ("QQ-XXA" in page, "Expired:\n      annual inspection of QQ-XXB" in page) == (True, True)
    client.force_login(cast.frida)
    Aircraft.objects.create(registration="QQ-XXN", type=cast.type)
    listed = BeautifulSoup(client.get("/aircraft/").text, "html.parser").select("td[data-l=Documents]")
    # No document is no proof that all is in force.
    assert ["Insurance expired" in cell.text for cell in listed] == [True, False, False]
    assert listed[2].text.strip() == "none recorded"
    # One e-mail each to chief and administrator: of what expired yesterday, and of what will in seven days.
    assert send_reminders(cast.today).startswith("2 due on")
    assert ["QQ-XXA: Insurance: expired on" in letter.body for letter in mail.outbox] == [True, True]
    # Out of service nobody is told any more.
    Aircraft.objects.update(in_service=False)
    assert fleet_expiries(cast.today, 60) == []
    assert send_reminders(cast.today).startswith("0 due on")

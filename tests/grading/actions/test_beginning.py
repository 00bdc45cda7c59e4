"""A solo that no release allows begins with a written reason: by the action, the page without script, and a tablet."""

import json
import uuid
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import beginning, decisions
from grading.models import DeviceEvent, Seal
from grading.pages import offline_pack
from grading.reading.inspection_facts import collect_findings
from lessons.models import Enrolment, Lesson
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state

SOLO, DUAL = 17, 14
REASON = "Her instructor fell ill and asked me to supervise."


def begin(cast: Cast, unit: int = SOLO, **more: Any) -> Lesson:
    return beginning.begin_lesson(
        enrolment=cast.enrolment, unit=cast.units[unit], on=cast.today, instructor=cast.bert, by=cast.bert,
        at=cast.at(9), aircraft=cast.aircraft, runway=cast.runway, **more,
    )  # fmt: skip


@shared_state
def released(cast: Cast) -> Cast:
    make_ready(cast)
    sign_release(cast)
    return cast


@pytest.mark.parametrize("reason", ["", "  \n "])
def test_a_solo_without_a_release_is_not_begun_without_a_reason(cast: Cast, reason: str) -> None:
    with pytest.raises(beginning.ReasonNeeded, match="No release allows this solo"):
        begin(cast, outside_release=reason)
    assert not Lesson.objects.exists()
    assert not JournalEntry.objects.filter(what="lesson begun").exists()


def test_the_reason_is_stored_sealed_shown_and_found(cast: Cast, client: Client) -> None:
    lesson = begin(cast, outside_release=f" {REASON} ")
    assert JournalEntry.objects.get(what="solo begun outside a release").after["reason"] == REASON
    record_entries(cast, lesson, **{"lesson.solo_minutes": "0.5"})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    assert json.loads(Seal.objects.get(subject=lesson.uid).canonical)["outside_release"] == REASON
    client.force_login(cast.bert)
    assert REASON in client.get(f"/lessons/{lesson.uid}/").text
    found = collect_findings(Enrolment.objects.for_pages(), cast.at(13), whole_school=True)
    [finding] = [row for row in found if row.kind == "solo_with_reason"]
    assert "No release for solo was in force on that day." in finding.sentence


def test_a_release_in_force_needs_no_reason_and_a_withdrawn_one_does(released: Cast) -> None:
    cast = released
    assert begin(cast, outside_release="not needed").outside_release == ""
    decisions.withdraw_release(
        release=decisions.Release.objects.get(enrolment=cast.enrolment), reason="Wind", by=cast.bert, at=cast.at(14)
    )
    with pytest.raises(beginning.ReasonNeeded):
        begin(cast)


def test_a_runway_outside_the_release_needs_a_reason(released: Cast) -> None:
    other = type(released.runway).objects.create(
        aerodrome=released.runway.aerodrome, designator="36", heading_magnetic=360, length_ft=3000
    )
    released.runway = other
    with pytest.raises(beginning.ReasonNeeded):
        begin(released)


def test_a_dual_unit_begins_without_one_and_keeps_none(cast: Cast) -> None:
    assert begin(cast, DUAL, outside_release="typed before the unit was changed").outside_release == ""


def test_the_plain_form_asks_for_the_reason_and_keeps_what_was_chosen(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    address = f"/lessons/begin/{cast.enrolment.uid}/"
    assert "outside_release" not in client.get(address).text
    sent = {
        "enrolment": cast.enrolment.pk, "unit": cast.units[SOLO].pk, "on": cast.today.isoformat(),
        "aircraft": cast.aircraft.pk, "runway": cast.runway.pk,
    }  # fmt: skip
    reply = client.post(address, sent)
    page = BeautifulSoup(reply.content, "html.parser")
    assert reply.status_code == 422
    assert "unreleased" in page.find(id="before-flight")["class"]
    assert page.find("textarea", {"name": "outside_release"}).find_next(role="alert").text.startswith("No release")
    assert page.find(id="id_unit").find("option", selected=True)["value"] == str(cast.units[SOLO].pk)
    assert not Lesson.objects.exists()
    assert client.post(address, sent | {"outside_release": REASON}).status_code == 302
    assert Lesson.objects.get().outside_release == REASON


def send_begin(client: Client, cast: Cast, **more: str) -> tuple[dict[str, Any], uuid.UUID]:
    lesson = uuid.uuid4()
    event = {
        "id": str(uuid.uuid4()), "kind": "begin", "seq": 1, "enrolment": str(cast.enrolment.uid),
        "unit": cast.units[SOLO].pk, "on": cast.today.isoformat(), "aircraft": cast.aircraft.pk, **more,
    }  # fmt: skip
    body = {"person": cast.bert.pk, "device": str(uuid.uuid4()), "events": [event]}
    client.force_login(cast.bert)
    answer = client.post(f"/lessons/{lesson}/entries/batch/", json.dumps(body), content_type="application/json").json()
    return answer["results"][0], lesson


def test_a_tablet_sends_the_reason_and_without_one_the_flight_is_not_lost(cast: Cast, client: Client) -> None:
    """The release may have been withdrawn while the tablet was away: what was flown is recorded, and asked about."""
    _, first = send_begin(client, cast, reason=REASON)
    assert Lesson.objects.get(uid=first).outside_release == REASON
    told, second = send_begin(client, cast)
    assert "Write under Hours why it was flown anyway" in told["said"]
    assert DeviceEvent.objects.filter(outcome="refused").count() == 0
    lesson = Lesson.objects.get(uid=second)
    record_entries(cast, lesson, **{"lesson.solo_minutes": "0.5"})
    record_circuit(cast, lesson, 1)
    with pytest.raises(Refusal, match="Solo outside a release"):
        sign_lesson(cast, lesson)


def test_the_pack_of_a_tablet_says_which_solo_has_no_release(
    released: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(offline_pack, "UNIT_OFFSETS", range(-len(released.units), len(released.units)))
    client.force_login(released.bert)
    for expected in (False, True):
        packed = client.get("/tablet/offline/").json()
        [dora] = [row for row in packed["students"] if row["uid"] == str(released.enrolment.uid)]
        unreleased = {unit["pk"] for unit in dora["units"] if unit["unreleased"]}
        assert unreleased == ({released.units[SOLO].pk, released.units[SOLO + 1].pk} if expected else set())
        if not expected:
            decisions.withdraw_release(
                release=decisions.Release.objects.get(enrolment=released.enrolment), reason="Wind", by=released.bert,
                at=released.at(14),
            )  # fmt: skip

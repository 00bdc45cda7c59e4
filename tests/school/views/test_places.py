"""Types of aircraft: added, corrected until something rests on them; flaps and horsepower decide what solo asks."""

from typing import Any

import pytest
from django.test import Client

from grading.actions import decisions
from grading.evidence import register
from grading.evidence.audit.check import audit_records
from grading.reading import verdict_cache
from grading.rules.readiness import State
from school import places
from school.errors import Refusal
from school.models import Aircraft, AircraftType, JournalEntry
from tests.cast import Cast


def state_of(cast: Cast, key: str) -> State | None:
    rows = decisions.derive_verdict(cast.enrolment, cast.today).requirements
    return next((row.state for row in rows if row.key == key), None)


def test_a_type_of_unknown_horsepower_is_asked_for_it_and_then_judged(cast: Cast, client: Client) -> None:
    """14 CFR 61.31(f)(1): more than 200 horsepower."""
    AircraftType.objects.filter(pk=cast.type.pk).update(horsepower=None)
    cast.enrolment.aircraft_type.refresh_from_db()
    assert state_of(cast, "high_performance_endorsement") is State.NOT_KNOWN
    verdict_cache.get_or_derive_one(cast.enrolment, cast.today)
    client.force_login(cast.frida)
    assert "The horsepower is not recorded" in client.get("/aircraft/").text
    page, name = f"/aircraft/types/{cast.type.pk}/", f"t{cast.type.pk}"
    assert client.post(page, {f"{name}-horsepower": "0"}).status_code == 422
    assert client.post(page, {f"{name}-horsepower": "200", f"{name}-flaps": "on"}).status_code == 302
    cast.enrolment.aircraft_type.refresh_from_db()
    assert state_of(cast, "high_performance_endorsement") is None
    # What was stored rests on the type: the change marks it as stale.
    assert verdict_cache.get_or_derive_one(cast.enrolment, cast.today)[1] is not None
    assert JournalEntry.objects.filter(what="aircraft type changed").count() == 1
    assert "The horsepower is not recorded" not in client.get("/aircraft/").text


@pytest.mark.parametrize("who", ["bert", "dora"])
def test_only_who_keeps_the_aircraft_records_it(cast: Cast, client: Client, who: str) -> None:
    client.force_login(getattr(cast, who))
    assert client.post(f"/aircraft/types/{cast.type.pk}/", {}).status_code == 403


TYPED: dict[str, Any] = {
    "name": "Quillon 1",
    "retractable": "on",
    "constant_speed_propeller": "on",
    "flaps": "on",
    "horsepower": "180",
    "stall_landing_kt": "50",
    "stall_clean_kt": "55",
    "demonstrated_crosswind_kt": "15",
}


def test_a_second_type_is_added_corrected_and_sealed(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    assert client.get("/aircraft/types/add/").text.count("<label") <= 10
    assert client.post("/aircraft/types/add/", TYPED).status_code == 302
    one = AircraftType.objects.get(code="quillon-1")
    assert (one.is_complex, one.tailwheel, one.horsepower, one.stall_clean_kt) == (True, False, 180, 55)
    assert JournalEntry.objects.get(what="aircraft type added").after["code"] == "quillon-1"

    assert client.post("/aircraft/", {"registration": "QQ-NEW", "type": one.pk}).status_code == 302
    edit = f"/aircraft/types/{one.pk}/edit/"
    assert "everything can still be corrected" in client.get(edit).text
    assert client.post(edit, TYPED | {"stall_landing_kt": "51"}).status_code == 302
    one.refresh_from_db()
    assert one.stall_landing_kt == 51
    assert JournalEntry.objects.get(what="aircraft type changed").before == {"stall_landing_kt": 50}
    register.open_register(cast.at(9))
    assert [str(finding) for finding in audit_records().findings] == []


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"stall_clean_kt": "49"}, "It is below the one with flap"),
        ({"name": "{same}"}, "is a type of the school already"),
        ({"horsepower": "0"}, "greater than or equal to 1"),
        ({"name": ""}, "required"),
    ],
)
def test_a_type_that_cannot_be_is_refused_and_what_was_typed_stays(
    wrong: dict[str, str], sentence: str, cast: Cast, client: Client
) -> None:
    client.force_login(cast.amelia)
    typed = TYPED | {name: value.format(same=cast.type.name.upper()) for name, value in wrong.items()}
    page = client.post("/aircraft/types/add/", typed)
    assert page.status_code == 422
    assert sentence in page.text
    assert 'value="15"' in page.text
    assert AircraftType.objects.count() == 1


def test_the_numbers_of_a_type_in_use_stay(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    edit, before = f"/aircraft/types/{cast.type.pk}/edit/", cast.type.stall_landing_kt
    assert "its numbers stay" in client.get(edit).text
    page = client.post(edit, TYPED)
    assert page.status_code == 422
    assert "has gates or students: its numbers stay" in page.text
    cast.type.refresh_from_db()
    assert cast.type.stall_landing_kt == before
    with pytest.raises(Refusal, match="Only the administrator and the chief instructor manage"):
        places.add_type(name="X", by=cast.bert, at=cast.at(9))


def test_each_type_gets_a_code_of_its_own(cast: Cast) -> None:
    fields = {name: getattr(cast.type, name) for name in places.ALL_TYPE_FIELDS}
    names = ["Longnamed Trainer Mark One", "Longnamed Trainer Mark Two", "Ж", "Щ"]
    added = [places.add_type(**fields | {"name": name}, by=cast.frida, at=cast.at(9)) for name in names]
    assert [one.code for one in added] == ["longnamed-trainer-ma", "longnamed-trainer-2", "type", "type-2"]
    assert Aircraft.objects.filter(type__in=added).count() == 0

"""Flaps and horsepower of a type are recorded on the page of aircraft, and decide what is asked before solo."""

import pytest
from django.test import Client

from grading.actions import decisions
from grading.reading import verdict_cache
from grading.rules.readiness import State
from school.models import AircraftType, JournalEntry
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

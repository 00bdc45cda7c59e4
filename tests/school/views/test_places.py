"""Types of aircraft: added, corrected until something rests on them; flaps and horsepower decide what solo asks."""

from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import decisions
from grading.evidence import register
from grading.evidence.audit.check import audit_records
from grading.reading import verdict_cache
from grading.reading.facts import facts_for_all
from grading.rules.readiness import State
from lessons.models import Enrolment, Lesson
from school import places
from school.errors import Refusal
from school.models import Aircraft, AircraftType, JournalEntry
from school.models.aircraft import ISSUE_FIELDS
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries


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
    assert len(BeautifulSoup(client.get("/aircraft/types/add/").text, "html.parser").select(".formgrid label")) <= 10
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


def test_a_type_in_use_gets_new_figures_and_earlier_lessons_keep_theirs(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    register.open_register(cast.at(9, 3))
    yesterday = begin_lesson(cast, days_ago=1)
    edit = f"/aircraft/types/{cast.type.pk}/edit/"
    page = BeautifulSoup(client.get(edit).text, "html.parser")
    assert "Lessons of earlier days keep theirs" in " ".join(page.main.text.split())
    names = {field["name"] for field in page.select(".formgrid input")}
    assert names == {*ISSUE_FIELDS, "reason"}
    before = {name: getattr(cast.type, name) for name in ISSUE_FIELDS}
    typed = {name: "on" if value is True else value for name, value in before.items() if value not in (False, None)}
    same = client.post(edit, typed | {"reason": "Looked again"})
    assert (same.status_code, "No figure differs" in same.text) == (422, True)
    assert client.post(edit, typed | {"demonstrated_crosswind_kt": "9"}).status_code == 422
    new = typed | {"demonstrated_crosswind_kt": "9", "horsepower": "190", "reason": "Flight manual, revision 4"}
    assert client.post(edit, new).status_code == 302
    cast.type.refresh_from_db()
    assert (cast.type.issue, cast.type.demonstrated_crosswind_kt, cast.type.horsepower) == (2, 9, 190)
    entry = JournalEntry.objects.get(what="figures of a type issued")
    assert (entry.before["horsepower"], entry.after["reason"]) == (before["horsepower"], "Flight manual, revision 4")

    # Yesterday's lesson is flown against the figures of its day, today's against the new ones.
    record_entries(cast, yesterday, **{"lesson.wind_direction": "270", "lesson.wind_speed_kt": "10"})
    today = begin_lesson(cast)
    record_entries(cast, today, **{"lesson.wind_direction": "270", "lesson.wind_speed_kt": "10"})
    client.force_login(cast.bert)
    pages = [client.get(f"/lessons/{one.uid}/").text for one in (yesterday, today)]
    assert ["demonstrated 9 kt" in page for page in pages] == [False, True]
    flown = [Lesson.objects.for_pages().get(pk=one.pk).type_flown for one in (yesterday, today)]
    assert [{name: getattr(kind, name) for name in ISSUE_FIELDS} == before for kind in flown] == [True, False]
    facts = [facts_for_all([Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)], day) for day in (
        yesterday.on, cast.today)]  # fmt: skip
    power = [found[cast.enrolment.pk].aircraft_type.horsepower for found in facts]
    assert power == [before["horsepower"], 190]

    # The same day again corrects the issue, and the seals hold.
    client.force_login(cast.amelia)
    assert client.post(edit, new | {"horsepower": "195"}).status_code == 302
    cast.type.refresh_from_db()
    assert (cast.type.issue, len(cast.type.earlier_issues), cast.type.on(yesterday.on).issue) == (2, 1, 1)
    register.catch_up(cast.at(14))
    assert [str(finding) for finding in audit_records().findings] == []
    with pytest.raises(Refusal, match="figures are changed by a new issue"):
        places.edit_type(aircraft_type=cast.type, changes={"name": "X"}, by=cast.frida, at=cast.at(9))
    with pytest.raises(Refusal, match="Only the administrator and the chief instructor manage"):
        places.add_type(name="X", by=cast.bert, at=cast.at(9))


def test_each_type_gets_a_code_of_its_own(cast: Cast) -> None:
    fields = {name: getattr(cast.type, name) for name in places.ALL_TYPE_FIELDS}
    names = ["Longnamed Trainer Mark One", "Longnamed Trainer Mark Two", "Ж", "Щ"]
    added = [places.add_type(**fields | {"name": name}, by=cast.frida, at=cast.at(9)) for name in names]
    assert [one.code for one in added] == ["longnamed-trainer-ma", "longnamed-trainer-2", "type", "type-2"]
    assert Aircraft.objects.filter(type__in=added).count() == 0

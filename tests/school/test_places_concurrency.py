"""The same aircraft, aerodrome or runway put on record twice at one moment: once it is, once a sentence says so."""

from functools import partial
from typing import Any

import pytest
from django.test import Client

from school import actions, places
from school.models import Aerodrome, Aircraft, Runway
from tests.cast import Cast
from tests.concurrency import run_concurrently

TIMES = 3
FIELD = {"name": "Two Windows", "elevation_ft": 10}


def refusals(*acts: Any) -> list[str]:
    return [one for one in run_concurrently(lambda act: act(), list(acts), len(acts)) if isinstance(one, str)]


def test_the_same_is_put_on_record_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    by = {"by": cast.frida, "at": cast.at()}
    for number in range(TIMES):
        registration, ident, designator = f"QQ-XX{number}", f"ZZX{number}", f"0{number + 1}"
        runway = {"designator": designator, "heading_magnetic": 10, "length_ft": 2000}
        for act, model, found in (
            (partial(actions.add_aircraft, registration=registration, type=cast.type, **by), Aircraft,
             {"registration": registration}),
            (partial(places.add_aerodrome, ident=ident, **FIELD, **by), Aerodrome, {"ident": ident}),
            (partial(places.add_runway, aerodrome=cast.runway.aerodrome, **runway, **by), Runway,
             {"designator": designator}),
        ):  # fmt: skip
            assert ["already" in said for said in refusals(act, act)] == [True]
            assert model.objects.filter(**found).count() == 1


def test_two_directions_do_not_get_one_name(transactional_cast: Cast) -> None:
    cast, by = transactional_cast, {"by": transactional_cast.frida, "at": transactional_cast.at()}
    add = partial(places.add_runway, aerodrome=cast.runway.aerodrome, length_ft=2000, **by)
    for number in range(TIMES):
        new = f"3{number}"
        one, other = (add(designator=f"{place}{number + 1}", heading_magnetic=10) for place in (0, 1))
        change = {"designator": new, "heading_magnetic": 10}
        said = refusals(
            partial(places.edit_runway, runway=one, changes=change, **by),
            partial(places.edit_runway, runway=other, changes=change, **by),
            partial(add, designator=new, heading_magnetic=10),
        )
        assert ["already" in sentence for sentence in said] == [True, True]
        assert Runway.objects.filter(designator=new).count() == 1


@pytest.mark.parametrize(
    ("address", "form", "known", "typed"),
    [
        ("/aircraft/", "AddAircraftForm.clean_registration", "QQ-XXA", {"registration": "QQ-NEW"}),
        ("/aerodromes/", "AerodromeForm.clean_ident", "ZZZX", {"ident": "ZZXN", "name": "New Field"}),
    ],
)
def test_the_page_says_that_it_came_on_record_meanwhile(
    cast: Cast, client: Client, monkeypatch: Any, address: str, form: str, known: str, typed: dict[str, str]
) -> None:
    """The form had looked before the other one was kept."""
    client.force_login(cast.frida)
    monkeypatch.setattr(f"school.forms.{form}", lambda form: known)
    sent = {"type": cast.type.pk, "elevation_ft": 10, "variation_deg": 0, "circuit_height_ft": 1000, **typed}
    reply = client.post(address, sent)
    assert (reply.status_code, "already on record" in reply.text) == (422, True)
    assert next(iter(typed.values())) in reply.text

"""The gates of a new type begin from a typical circuit: drawn at each change, saved once, never over others."""

from django.test import Client

from lessons import publishing
from lessons.models import GateDraft, GateSet
from school import places
from school.models import AircraftType
from tests.cast import Cast

CIRCUIT = {"kind": "complex", "height_ft": "800", "width_ft": "3500"}


def new_type(cast: Cast) -> AircraftType:
    fields = {name: getattr(cast.type, name) for name in places.ALL_TYPE_FIELDS}
    return places.add_type(
        **fields | {"name": "Quillon 1", "tailwheel": False, "retractable": False}, by=cast.frida, at=cast.at(9)
    )


def test_a_circuit_is_drawn_and_becomes_the_draft(cast: Cast, client: Client) -> None:
    one = new_type(cast)
    client.force_login(cast.amelia)
    address = f"/gates/{one.code}/begin/"
    assert address in client.get(f"/gates/{one.code}/").text
    page = client.get(address).text
    # What fits the type and the home aerodrome is filled in, and drawn.
    assert '<option value="tricycle" selected>' in page
    assert page.count("<svg") >= 2
    assert "starting point" in page

    drawn = client.post(address, CIRCUIT, headers={"HX-Request": "true"}).text
    assert "<html" not in drawn
    assert "height 800 ft" in drawn
    assert "Wheels up" in drawn
    assert "height 800 ft" in client.post(address, CIRCUIT).text  # the same without script
    assert not GateDraft.objects.filter(aircraft_type=one).exists()

    assert client.post(address, CIRCUIT | {"act": "begin"}).headers["Location"] == f"/gates/{one.code}/edit/"
    draft = GateDraft.objects.get(aircraft_type=one)
    assert len(draft.content["gates"]) == 10
    assert "No errors found in these gates." in client.get(f"/gates/{one.code}/edit/").text
    assert address not in client.get(f"/gates/{one.code}/").text
    publishing.publish_gates(aircraft_type=one, raw=draft.content, reason="", by=cast.amelia, at=cast.at(9))
    assert GateSet.objects.filter(aircraft_type=one, published=True).count() == 1


def test_gates_and_drafts_are_not_replaced(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    before = GateDraft.objects.count()
    page = client.post(f"/gates/{cast.type.code}/begin/", CIRCUIT | {"act": "begin"})
    assert page.status_code == 422
    assert "has gates or a draft of them already" in page.text
    one = new_type(cast)
    assert client.post(f"/gates/{one.code}/begin/", CIRCUIT | {"act": "begin"}).status_code == 302
    assert client.post(f"/gates/{one.code}/begin/", CIRCUIT | {"act": "begin"}).status_code == 422
    assert GateDraft.objects.count() == before + 1


def test_numbers_that_are_no_circuit_are_named(cast: Cast, client: Client) -> None:
    one = new_type(cast)
    client.force_login(cast.amelia)
    wrong = CIRCUIT | {"height_ft": "200", "width_ft": ""}
    page = client.post(f"/gates/{one.code}/begin/", wrong | {"act": "begin"})
    assert page.status_code == 422
    assert "greater than or equal to 500" in page.text
    drawn = client.post(f"/gates/{one.code}/begin/", wrong, headers={"HX-Request": "true"})
    assert (drawn.status_code, "greater than or equal to 500" in drawn.text) == (200, True)
    assert not GateDraft.objects.exists()

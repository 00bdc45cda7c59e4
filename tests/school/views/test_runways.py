"""Where a runway lies is typed from the chart, all of it optional, and what cannot be true is refused in a sentence."""

from decimal import Decimal
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.db import IntegrityError, transaction
from django.test import Client

from school import places
from school.errors import Refusal
from school.models import JournalEntry, Obstacle, Runway
from tests.cast import Cast

TREES = {"name": "Row of trees", "before_ft": 1140, "side_ft": -120, "height_ft": 55}
MAST = {"name": "Mast", "before_ft": -900, "side_ft": 700, "height_ft": 210}


def typed(*obstacles: dict[str, Any], **fields: Any) -> dict[str, Any]:
    """Return what the form sends, with rows of obstacles."""
    sent = {"obstacle-TOTAL_FORMS": len(obstacles), "obstacle-INITIAL_FORMS": 0}
    for number, row in enumerate(obstacles):
        sent |= {f"obstacle-{number}-{name}": value for name, value in row.items()}
    return sent | fields


@pytest.fixture
def page(cast: Cast, client: Client) -> str:
    client.force_login(cast.frida)
    return f"/aerodromes/runways/{cast.runway.pk}/place/"


def test_a_place_is_typed_shown_changed_and_cleared(cast: Cast, client: Client, page: str) -> None:
    """A heading of 180° magnetic with no variation is 180° true."""
    place = {"threshold_latitude": "47.500000", "threshold_longitude": "-8.25", "heading_true": "181.5"}
    reply = client.post(page, typed(TREES, MAST, **place, aiming_point_ft="400"))
    assert (reply.status_code, reply.headers["Location"]) == (302, f"/aerodromes/{cast.runway.aerodrome_id}/")
    runway = Runway.objects.get(pk=cast.runway.pk)
    assert (runway.threshold_latitude, runway.threshold_longitude) == (Decimal("47.5"), Decimal("-8.25"))
    assert (runway.heading_true, runway.touchdown_ft) == (Decimal("181.5"), 400)
    assert list(runway.obstacles.order_by("pk").values("name", "before_ft", "side_ft", "height_ft")) == [TREES, MAST]
    entry = JournalEntry.objects.get(what="obstacles of a runway changed")
    assert entry.after == {"obstacles": [TREES, MAST]}
    shown = BeautifulSoup(client.get(page).text, "html.parser")
    assert [shown.select_one(f"#id_{name}")["value"] for name in ("aiming_point_ft", "obstacle-0-height_ft")] == [  # type: ignore[index]
        "400",
        "55",
    ]
    # Sent again as it is shown, nothing is written.
    assert client.post(page, typed(TREES, MAST, **place, aiming_point_ft="400")).status_code == 302
    assert JournalEntry.objects.filter(what="obstacles of a runway changed").count() == 1
    assert JournalEntry.objects.filter(what="position of a runway changed").count() == 1
    # One obstacle is struck, and the rest of the place is emptied.
    assert client.post(page, typed(TREES | {"DELETE": "on"}, MAST)).status_code == 302
    runway.refresh_from_db()
    assert (runway.threshold_latitude, runway.heading_true, runway.aiming_point_ft) == (None, None, None)
    assert runway.touchdown_ft == runway.length_ft / 6
    assert [row.name for row in runway.obstacles.all()] == ["Mast"]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"threshold_latitude": "47.5"}, "enter both, or neither"),
        ({"threshold_longitude": "8.5"}, "enter both, or neither"),
        ({"threshold_latitude": "91", "threshold_longitude": "8"}, "less than or equal to 90"),
        ({"heading_true": "190"}, "With the variation of 0.0° that is 190° magnetic, and runway 18 has 180°"),
        ({"aiming_point_ft": "3000"}, "The runway is 3,000 ft long: the aiming point lies on it."),
    ],
)
def test_a_place_that_cannot_be_is_refused_in_a_sentence(
    cast: Cast, client: Client, page: str, fields: dict[str, str], sentence: str
) -> None:
    reply = client.post(page, typed(**fields))
    assert reply.status_code == 422
    assert sentence in reply.text
    assert not JournalEntry.objects.filter(what="position of a runway changed").exists()


@pytest.mark.parametrize(
    "wrong", [{"name": "x" * 41}, {"height_ft": "0"}, {"before_ft": ""}, {"side_ft": "far"}, {"name": ""}]
)
def test_an_obstacle_that_is_wrong_keeps_the_rest_from_being_saved(
    cast: Cast, client: Client, page: str, wrong: dict[str, str]
) -> None:
    reply = client.post(page, typed(MAST, TREES | wrong, aiming_point_ft="400"))
    assert reply.status_code == 422
    assert 'role="alert"' in reply.text
    assert not Obstacle.objects.exists()
    assert Runway.objects.get(pk=cast.runway.pk).aiming_point_ft is None


def test_a_runway_whose_only_rows_are_obstacles_was_not_flown_from(cast: Cast) -> None:
    places.place_runway(runway=cast.runway, place={}, obstacles=[TREES], by=cast.frida, at=cast.at())
    changed = {"designator": "18", "heading_magnetic": 184, "length_ft": 3000, "circuit": "left"}
    places.edit_runway(runway=cast.runway, changes=changed, by=cast.frida, at=cast.at())
    assert Runway.objects.get(pk=cast.runway.pk).heading_magnetic == 184


def test_only_who_keeps_aerodromes_places_a_runway(cast: Cast) -> None:
    with pytest.raises(Refusal, match="administrator and the chief instructor manage"):
        places.place_runway(runway=cast.runway, place={}, obstacles=[TREES], by=cast.bert, at=cast.at())


def test_the_database_refuses_half_a_position(cast: Cast) -> None:
    with pytest.raises(IntegrityError, match="runway_threshold"), transaction.atomic():
        Runway.objects.filter(pk=cast.runway.pk).update(threshold_latitude="47.5")
    assert Runway.objects.get(pk=cast.runway.pk).threshold_latitude is None


def test_a_runway_is_not_made_shorter_than_its_aiming_point(cast: Cast, client: Client, page: str) -> None:
    assert client.post(page, typed(aiming_point_ft="1200")).status_code == 302
    edit, name = f"/aerodromes/runways/{cast.runway.pk}/", f"r{cast.runway.pk}"
    shorter = {f"{name}-designator": "18", f"{name}-heading_magnetic": "180", f"{name}-circuit": "left"}
    reply = client.post(edit, shorter | {f"{name}-length_ft": "1200"})
    assert reply.status_code == 422
    sentence = "The aiming point lies 1,200 ft past the threshold, and the runway would be 1,200 ft long"
    assert sentence in reply.text
    assert Runway.objects.get(pk=cast.runway.pk).length_ft == cast.runway.length_ft
    assert client.post(edit, shorter | {f"{name}-length_ft": "1201"}).status_code == 302
    assert Runway.objects.get(pk=cast.runway.pk).length_ft == 1201
    # Placed by an action that no form looked at, it is refused too.
    with pytest.raises(Refusal, match="would be 1,201 ft long"):
        places.place_runway(
            runway=cast.runway, place={"aiming_point_ft": 1201}, obstacles=[], by=cast.frida, at=cast.at()
        )
    assert Runway.objects.get(pk=cast.runway.pk).aiming_point_ft == 1200

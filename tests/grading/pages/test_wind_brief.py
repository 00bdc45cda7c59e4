"""What the wind does to the circuit: on the lesson page before a flight, and on the student's page the evening before.

Geometry by hand: 12 kt from 110° on runway 18 come 70° off its left, 12 × sin 70 = 11.3 kt across, 18 × sin 70 = 16.9
kt in the gust.
"""

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from django.test import Client

from grading.pages.wind_brief import wind_brief
from lessons.rules.units import KNOTS_AND_FEET
from lessons.rules.wind import Wind
from school import places
from school.models import Runway, School
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.ready_student import make_ready, sign_release

SOLO_CIRCUITS = 14
WIND = {"wind_direction": "110", "wind_speed_kt": "12", "wind_gust_kt": "18"}


def brief_of(reply: Any) -> Tag:
    found = BeautifulSoup(reply.content, "html.parser").select_one("#wind-brief")
    assert found is not None
    return found


@pytest.fixture
def flown(cast: Cast, client: Client) -> str:
    """Bert's lesson of circuits with the wind entered; its address."""
    lesson = begin_lesson(cast, SOLO_CIRCUITS)
    record_entries(cast, lesson, **{f"lesson.{name}": value for name, value in WIND.items()})
    client.force_login(cast.bert)
    return f"/lessons/{lesson.uid}/"


def test_the_lesson_page_draws_the_wind_of_the_day(cast: Cast, client: Client, flown: str) -> None:
    brief = brief_of(client.get(flown))
    sentence = brief.select_one(".wind-keep").text  # type: ignore[union-attr]
    assert re.fullmatch(r"Begin the turn .*: \d+° of bank (at first, \d+° at the end|all the way); take .*\.", sentence)
    assert "Crosswind 11 kt from the left, headwind 4 kt; crosswind up to 17 kt in the gust." in brief.text
    # Who cannot see the plan hears the sentence, and reads every number as a table.
    plan = brief.select_one("svg.wind-plan")
    assert plan is not None
    assert (plan["role"], sentence in plan["aria-label"]) == ("img", True)
    assert len(brief.select("svg.wind-triangle[role=img]")) == 4
    assert [row.text for row in brief.select("tbody th")] == ["Upwind", "Crosswind", "Downwind", "Base", "Final"]
    assert "not a permission to fly" in brief.text


def test_a_changed_wind_sends_the_pictures_again(cast: Cast, client: Client, flown: str) -> None:
    calm = {"lesson.wind_direction": "", "lesson.wind_speed_kt": "0", "lesson.wind_gust_kt": ""}
    assert client.post(f"{flown}entries/", calm).status_code == 302
    assert "Hardly any wind" in brief_of(client.get(flown)).text


@pytest.mark.parametrize(
    ("wind", "sentence"),
    [
        ({"wind_direction": "", "wind_speed_kt": "8"}, "The wind has no direction"),
        ({"wind_speed_kt": ""}, "Enter the wind and the runway"),
        ({"wind_direction": "180", "wind_speed_kt": "60", "wind_gust_kt": ""}, "stalls at 52 kt"),
    ],
)
def test_what_cannot_be_drawn_says_so(
    cast: Cast, client: Client, flown: str, wind: dict[str, str], sentence: str
) -> None:
    sent = {"wind_direction": "", "wind_gust_kt": ""} | wind
    assert client.post(f"{flown}entries/", {f"lesson.{name}": value for name, value in sent.items()}).status_code == 302
    brief = brief_of(client.get(flown))
    assert sentence in brief.text
    assert brief.select("svg") == []


def test_a_lesson_on_the_ground_has_no_circuit(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    assert "wind-brief" not in client.get(f"/lessons/{begin_lesson(cast, 1).uid}/").text


def test_obstacles_are_drawn_and_told(cast: Cast, client: Client, flown: str) -> None:
    trees = {"name": "Trees <tall>", "before_ft": 900, "side_ft": -130, "height_ft": 55}
    places.place_runway(
        runway=cast.runway, place={"aiming_point_ft": 400}, obstacles=[trees], by=cast.frida, at=cast.at()
    )
    brief = brief_of(client.get(flown))
    assert "Trees <tall> 55 ft" in [text.text for text in brief.select("svg.wind-plan text")]
    assert "Trees <tall>, 55 ft high, 900 ft before the threshold, 130 ft left of the centreline" in brief.text


def test_an_obstacle_far_away_is_told_and_not_drawn(cast: Cast, client: Client, flown: str) -> None:
    plain = brief_of(client.get(flown)).select_one("svg.wind-plan")
    far = {"name": "mast", "before_ft": 28000, "side_ft": 0, "height_ft": 900}
    places.place_runway(runway=cast.runway, place={}, obstacles=[far], by=cast.frida, at=cast.at())
    brief = brief_of(client.get(flown))
    assert brief.select_one("svg.wind-plan") == plain
    assert "mast, 900 ft high, 28,000 ft before the threshold." in brief.text


def test_a_type_without_gates_has_no_pictures(cast: Cast) -> None:
    brief = wind_brief(None, 52, cast.runway, Wind(180, 10), KNOTS_AND_FEET)
    assert brief.refused.startswith("This type has no gates in force")


@pytest.fixture
def evening(cast: Cast, client: Client) -> dict[str, str]:
    client.force_login(cast.dora)
    return {"runway": str(cast.runway.pk), "direction": "110", "reference": "magnetic", "speed": "12", "gust": "18"}


def test_a_student_looks_at_tomorrows_wind(cast: Cast, client: Client, evening: dict[str, str]) -> None:
    assert "wind-brief" not in client.get("/me/").text
    reply = client.get("/me/", evening)
    assert "crosswind up to 17 kt in the gust" in brief_of(reply).text
    section = BeautifulSoup(reply.content, "html.parser").select_one("#wind")
    assert section is not None
    # Demonstrated for this type: 12 kt.
    assert "Crosswind including gusts exceeds the 12 kt demonstrated for this type." in section.text


def test_the_release_speaks_too(cast: Cast, client: Client, evening: dict[str, str]) -> None:
    make_ready(cast)
    released = sign_release(cast)
    reply = client.get("/me/", evening | {"speed": str(released.max_wind_kt + 1), "gust": ""})
    assert f"Wind including gusts exceeds the release limit of {released.max_wind_kt} kt." in reply.text


def test_a_true_direction_is_turned_by_the_variation(cast: Cast, client: Client, evening: dict[str, str]) -> None:
    """By hand: 10° of easterly variation make 190° true 180° magnetic, straight down runway 18."""
    Runway.objects.get(pk=cast.runway.pk).aerodrome.__class__.objects.update(variation_deg=10)
    reply = client.get("/me/", evening | {"direction": "190", "reference": "true", "gust": ""})
    assert "Crosswind 0 kt, headwind 12 kt." in brief_of(reply).text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"speed": ""}, "This field is required."),
        ({"speed": "-1"}, "greater than or equal to 0"),
        ({"speed": "20", "gust": "10"}, "A gust cannot be weaker than the steady wind."),
        ({"direction": ""}, "A wind has a direction"),
        ({"direction": "361"}, "less than or equal to 360"),
        ({"runway": "987654321"}, "Select a valid choice"),
    ],
)
def test_a_wind_that_cannot_be_is_refused_at_its_field(
    cast: Cast, client: Client, evening: dict[str, str], typed: dict[str, str], sentence: str
) -> None:
    reply = client.get("/me/", evening | typed)
    assert reply.status_code == 200
    assert sentence in reply.text
    assert "wind-keep" not in reply.text


@pytest.mark.parametrize("obstacles", [0, 6])
def test_the_queries_of_a_typed_wind_do_not_grow(
    cast: Cast, client: Client, evening: dict[str, str], django_assert_num_queries: Any, obstacles: int
) -> None:
    rows = [{"name": f"mast {row}", "before_ft": 900, "side_ft": 200, "height_ft": 60} for row in range(obstacles)]
    places.place_runway(runway=cast.runway, place={}, obstacles=rows, by=cast.frida, at=cast.at())
    client.get("/me/", evening)
    client.get("/me/", evening)
    with django_assert_num_queries(9):
        assert client.get("/me/", evening).status_code == 200


def test_a_metric_school_reads_its_own_units(cast: Cast, client: Client, evening: dict[str, str]) -> None:
    """By hand: 12 kt at 700 ft are 16.8 kt or 31 km/h; 88 kt are 163 km/h, 700 ft 213 m. Reported winds stay in kt."""
    trees = {"name": "Trees", "before_ft": 900, "side_ft": -130, "height_ft": 55}
    places.place_runway(runway=cast.runway, place={}, obstacles=[trees], by=cast.frida, at=cast.at())
    School.objects.update(speed_unit="km/h", length_unit="m")
    brief = brief_of(client.get("/me/", evening))
    row = next(row for row in brief.select("tbody tr") if "Downwind" in row.text)
    assert [cell.text for cell in row.select("td")][:3] == ["213 m", "163 km/h", "31 km/h"]
    assert "Trees, 17 m high, 274 m before the threshold, 40 m left of the centreline" in brief.text
    assert "Trees 17 m" in [text.text for text in brief.select("svg.wind-plan text")]
    assert "300 m" in [text.text for text in brief.select("svg.wind-plan text")]
    assert not re.search(r"\d\sft\b", str(brief))
    # What is left in knots is the wind as it was typed, and its components.
    said = re.sub(r"(Crosswind|headwind|crosswind up to|gust|110°) \d+ kt", "", brief.get_text(" "))
    assert not re.search(r"\d\skt\b", said)
    brief = brief_of(client.get("/me/", evening | {"direction": "180", "speed": "60", "gust": ""}))
    assert re.search(r"The wind is \d+ km/h at \d+ m, as is assumed here, and the type stalls at 96 km/h", brief.text)

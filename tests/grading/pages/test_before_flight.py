"""What the lesson page says before a flight: the release, documents, endorsement, critical faults and wind, in order.

Source: 14 CFR 61.87(n) (endorsement within 90 days), eCFR text read in a copy. The crosswind of the wind table is
geometry: 20 kt from 60 degrees off the runway are 20 x sin 60 = 17.3 kt across.
"""

from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import decisions
from lessons.models import Lesson
from school import actions as school_actions
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state

SOLO, DUAL, GROUND = 17, 14, 1


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


@shared_state
def released(cast: Cast) -> Cast:
    make_ready(cast)
    sign_release(cast)
    return cast


def block_of(client: Client, lesson: Lesson) -> BeautifulSoup:
    return BeautifulSoup(client.get(f"/lessons/{lesson.uid}/").content, "html.parser").find(id="before-flight")


def warnings_of(client: Client, lesson: Lesson) -> list[str]:
    return [row.text for row in block_of(client, lesson).select(".flight-band b, .flight-warnings b")]


def write_wind(cast: Cast, lesson: Lesson, direction: str, speed: str, gust: str = "") -> None:
    wind = {"wind_direction": direction, "wind_speed_kt": speed, "wind_gust_kt": gust}
    record_entries(cast, lesson, **{f"lesson.{name}": value for name, value in wind.items()})


def test_nothing_is_said_where_nothing_is_wrong(cast: Cast, bert: Client) -> None:
    assert warnings_of(bert, begin_lesson(cast, DUAL)) == []
    assert warnings_of(bert, begin_lesson(cast, GROUND)) == []


def test_it_stands_before_everything_else_and_inverted_for_a_solo_without_release(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast, SOLO)
    main = BeautifulSoup(bert.get(f"/lessons/{lesson.uid}/").content, "html.parser").find("main")
    block = main.find(True)
    assert (block["id"], block["class"]) == ("before-flight", ["before-flight", "unreleased"])
    assert "No release of Dora Example for solo by day is in force" in block.find(class_="flight-band").text
    assert "No reason is given" in block.text
    assert warnings_of(bert, lesson)[0] == "Not released for this solo"
    # The law's own requirements and the endorsement (14 CFR 61.87(n)) follow.
    assert {"Medical in force", "No endorsement for solo in force"} <= set(warnings_of(bert, lesson))


def test_a_solo_within_its_release_asks_for_the_wind_only(released: Cast, client: Client) -> None:
    client.force_login(released.bert)
    lesson = begin_lesson(released, SOLO)
    assert warnings_of(client, lesson) == ["Not compared with the release yet"]
    assert block_of(client, lesson)["class"] == ["before-flight"]
    write_wind(released, lesson, "180", "8")
    assert warnings_of(client, lesson) == []
    # Gusts count: the release is for 12 kt.
    write_wind(released, lesson, "180", "8", "13")
    assert warnings_of(client, lesson) == ["Wind beyond the release"]
    assert "Wind up to 13 kt, released for 12 kt." in block_of(client, lesson).text


def test_a_withdrawn_release_is_none(released: Cast, client: Client) -> None:
    client.force_login(released.bert)
    lesson = begin_lesson(released, SOLO)
    given = decisions.Release.objects.get(enrolment=released.enrolment)
    decisions.withdraw_release(release=given, reason="Wind", by=released.bert, at=released.at(14))
    assert warnings_of(client, lesson) == ["Not released for this solo"]


@pytest.mark.parametrize(
    ("wind", "beyond"),
    [
        (("180", "20"), False),
        (("240", "20"), True),  # 17.3 kt across, 12 kt demonstrated
        (("240", "13"), False),  # 11.3 kt across
        (("240", "13", "14"), True),  # 12.1 kt across in the gust
    ],
)
def test_crosswind_beyond_the_demonstrated_counts_gusts(
    cast: Cast, bert: Client, wind: tuple[str, ...], beyond: bool
) -> None:
    lesson = begin_lesson(cast, DUAL)
    write_wind(cast, lesson, *wind)
    assert warnings_of(bert, lesson) == (["Wind beyond the demonstrated crosswind"] if beyond else [])


def test_an_expired_medical_is_said_with_its_day(cast: Cast, bert: Client) -> None:
    expired = cast.today - timedelta(days=28)
    school_actions.record_paper(
        person=cast.dora, kind="medical", medical_class="3", issued=cast.today - timedelta(days=700), expires=expired,
        by=cast.frida, at=cast.at(8),
    )  # fmt: skip
    lesson = begin_lesson(cast, DUAL)
    assert warnings_of(bert, lesson) == ["Medical expired"]
    assert f"{expired.day} {expired:%b %Y}, 28 days ago." in block_of(bert, lesson).text


def test_an_open_critical_fault_is_said_until_it_is_flown_clean(cast: Cast, bert: Client) -> None:
    flown = begin_lesson(cast, 8, 1)
    record_entries(cast, flown, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, flown, 1, **{"approach.fault.final-slow": "on"})
    sign_lesson(cast, flown, 1)
    lesson = begin_lesson(cast, DUAL)
    [said] = warnings_of(bert, lesson)
    assert said.startswith("Critical fault open: ")
    assert "Lesson 1, circuit 1. Attempts without it since: 0 of 3." in block_of(bert, lesson).text
    fly_lesson(cast, circuits=3)
    assert warnings_of(bert, lesson) == []

"""What signing fills in and asks for: hours from block times, and a wind that has a speed."""

import json

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import recording
from grading.models import Seal
from lessons.models import Lesson
from school.errors import Refusal
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

TIMES = {"lesson.off_blocks": "09:05", "lesson.on_blocks": "10:00"}
UNTIL_SIGNED = "Block time 0.9: recorded as"


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


@pytest.mark.parametrize(
    ("unit", "entered", "dual", "solo"),
    [
        (8, {}, 55, 0),
        (17, {"lesson.outside_release": "A trial."}, 0, 55),
        (16, {}, 55, 0),
        (8, {"lesson.dual_minutes": "0:40"}, 40, 0),
        (8, {"lesson.solo_minutes": "0:20", "lesson.outside_release": "A trial."}, 0, 20),
    ],
)
def test_block_times_fill_the_hours_that_nobody_entered(
    cast: Cast, unit: int, entered: dict[str, str], dual: int, solo: int
) -> None:
    lesson = begin_lesson(cast, unit, instructor=cast.cleo)
    record_entries(cast, lesson, **TIMES, **entered)
    record_circuit(cast, lesson, 1)
    for line in ("engine_failure_after_takeoff", "circuit_emergencies", "go_around"):
        if unit == 16:
            record_entries(cast, lesson, **{f"manoeuvre.{line}.level": "perform"})
    sign_lesson(cast, lesson)
    assert (lesson.dual_minutes, lesson.solo_minutes) == (dual, solo)
    minutes = json.loads(Seal.objects.get(subject=lesson.uid).canonical)["minutes"]
    assert (minutes["dual"], minutes["solo"]) == (dual, solo)


def test_hours_from_block_times_are_told_before_signing_and_undone_with_them(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **TIMES)
    page = bert.get(f"/lessons/{lesson.uid}/").text
    assert f"{UNTIL_SIGNED} dual" in page
    assert "Enter the hours flown" not in page
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at(10))
    page = bert.get(f"/lessons/{lesson.uid}/").text
    assert UNTIL_SIGNED not in page
    assert "Enter the hours flown" in page
    assert Lesson.objects.get().dual_minutes == 0


def test_the_signed_record_shows_block_times_takeoffs_and_landings(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **TIMES, **{"lesson.takeoffs": "4", "lesson.landings": "3"})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    page = BeautifulSoup(bert.get(f"/lessons/{lesson.uid}/").content, "html.parser")
    hours = {row.dt.text: row.dd.text for row in page.select("dl.hours div")}
    assert (hours["Dual"], hours["Takeoffs"], hours["Landings"]) == ("0.9", "4", "3")
    assert "Off blocks 09:05, on blocks 10:00 UTC: block time 0.9." in " ".join(page.main.text.split())


WIND = {"lesson.wind_direction": "250", "lesson.wind_speed_kt": "10", "lesson.wind_gust_kt": "18"}


@pytest.mark.parametrize("order", [(0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)])
def test_a_wind_is_entered_and_cleared_in_any_order(cast: Cast, order: tuple[int, ...]) -> None:
    lesson = begin_lesson(cast)
    fields = [list(WIND)[place] for place in order]
    for field in fields:
        record_entries(cast, lesson, **{field: WIND[field]})
    for field in fields:
        record_entries(cast, lesson, **{field: ""})
    lesson.refresh_from_db()
    assert (lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt) == (None, None, None)


def test_a_wind_without_its_speed_is_not_signed(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"}, **WIND)
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"lesson.wind_speed_kt": ""})
    said = "A wind has a speed: enter it, or clear the direction and the gust."
    assert said in bert.get(f"/lessons/{lesson.uid}/").text
    with pytest.raises(Refusal, match="A wind has a speed"):
        sign_lesson(cast, lesson)


def test_a_gust_below_the_wind_is_refused_at_its_field_of_a_plain_form(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    sent = {"lesson.wind_speed_kt": "20", "lesson.wind_gust_kt": "15", "lesson.remarks": "Typed"}
    reply = bert.post(f"/lessons/{lesson.uid}/entries/", sent)
    page = BeautifulSoup(reply.content, "html.parser")
    gust = page.find(id="l-gust")
    assert (reply.status_code, gust["value"], gust["aria-invalid"]) == (422, "15", "true")
    assert gust.has_attr("autofocus")
    assert "15 kt is less than 20 kt" in page.find(id=gust["aria-describedby"]).text
    assert page.find(id="l-remarks").text == "Typed"


def test_a_wrong_password_is_said_at_its_field(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    reply = bert.post(f"/lessons/{lesson.uid}/sign/", {"secret": "wrong"})
    secret = BeautifulSoup(reply.content, "html.parser").find(id="secret")
    assert (reply.status_code, secret["aria-invalid"], secret.has_attr("autofocus")) == (422, "true", True)
    assert "Wrong password" in secret.find_next(id=secret["aria-describedby"]).text
    sign_lesson(cast, lesson)
    bert.force_login(cast.dora)
    reply = bert.post(
        f"/lessons/{lesson.uid}/acknowledge/", {"secret": SECRET[::-1], "act": "signed", "remark": "Mine"}
    )
    page = BeautifulSoup(reply.content, "html.parser")
    assert page.find(id="secret").has_attr("autofocus")
    assert page.find(id="remark").text == "Mine"

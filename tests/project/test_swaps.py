"""A swap equals a reload: what htmx is answered, put into the page, is the page loaded afresh."""

import uuid

import pytest
from bs4 import BeautifulSoup
from django.http import HttpResponse
from django.test import Client

from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.htmx_swaps import OUT_OF_BAND, apply_swap, comparable_lines

# Hints of how many were counted so far, in fields that may hold what is being typed: fresh at the next load.
HINTS = ("l-takeoffs", "l-landings")
FIRST = {
    "circuit.1.takeoff.level": "perform",
    "circuit.1.approach.level": "practice",
    "circuit.1.landing.level": "practice",
    "circuit.1.landing.help": "prompted",
}


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


def post(bert: Client, where: str, sent: dict[str, str], **headers: str) -> HttpResponse:
    found = bert.post(where, sent | {"tap": str(uuid.uuid4())}, headers={"HX-Request": "true"} | headers)
    assert found.status_code == 200
    return found


def load(bert: Client, page: str) -> BeautifulSoup:
    return BeautifulSoup(bert.get(page).text, "html.parser")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("circuit.1.landing.level", "perform"),
        ("circuit.1.landing.help", "took_control"),
        ("circuit.1.landing.fault.bounced", "on"),
        ("circuit.1.landing.criterion.held", "not_done"),
        ("circuit.1.approach.measure.final.speed", "80"),
        ("lesson.dual_minutes", "0:55"),
        ("lesson.runway", "{runway}"),
        ("lesson.wind_speed_kt", "14"),
        ("lesson.weather_report", "ZZZX {today:%d}1150Z 22030G38KT CAVOK 12/05 Q1013"),
        ("lesson.remarks", "Held off longer."),
    ],
)
def test_one_tap(cast: Cast, bert: Client, name: str, value: str) -> None:
    """The input tapped already shows itself in the browser; every other piece that changed comes with the answer."""
    lesson = begin_lesson(cast)
    value = value.format(runway=cast.runway.pk, today=cast.today)
    page = f"/lessons/{lesson.uid}/"
    before = bert.get(page).text
    reply = post(bert, f"{page}entries/", {name: value, "circuit": "1"}, **{"HX-Trigger-Name": name})
    pieces = [str(piece["id"]) for piece in BeautifulSoup(reply.content, "html.parser").select(f"[{OUT_OF_BAND}]")]
    assert {"missing", "undo", "refused", "saved"} <= set(pieces)
    grades = [piece for piece in pieces if piece.startswith("given-")]
    if name.startswith("circuit"):
        assert grades == [f"given-{name.split('.')[2]}"]  # the others stay as they are
    elif name in ("lesson.dual_minutes", "lesson.remarks", "lesson.runway"):
        assert grades == []
    after, fresh = apply_swap(before, reply, None), load(bert, page)
    for piece in set(pieces) - {"saved"}:  # names the second of its load
        assert comparable_lines(after, piece) == comparable_lines(fresh, piece)


@pytest.mark.parametrize("ending", ["full_stop", "touch_and_go", "go_around"])
def test_closing_a_circuit(cast: Cast, bert: Client, ending: str) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **FIRST)
    page = f"/lessons/{lesson.uid}/"
    before = bert.get(page).text
    sent = {"circuit": "1", "circuit.1.ending": ending, "circuit.1.closed": "on"}
    reply = post(bert, f"{page}entries/", sent, **{"HX-Target": "work"})
    assert comparable_lines(apply_swap(before, reply, "work"), without=HINTS) == comparable_lines(
        load(bert, page), without=HINTS
    )


def test_taking_back_a_tap(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **FIRST)
    page = f"/lessons/{lesson.uid}/"
    before = bert.get(page).text
    reply = post(bert, f"{page}undo/", {}, **{"HX-Target": "work"})
    after = apply_swap(before, reply, "work")
    assert comparable_lines(after) != comparable_lines(BeautifulSoup(before, "html.parser"))
    assert comparable_lines(after, without=HINTS) == comparable_lines(load(bert, page), without=HINTS)


@pytest.mark.parametrize("name", ["lesson.remarks", "lesson.wind_speed_kt", "lesson.runway"])
def test_taking_back_a_detail_shows_what_stood_there(cast: Cast, bert: Client, name: str) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{name: "" if name == "lesson.runway" else "13"})
    page = f"/lessons/{lesson.uid}/"
    before = bert.get(page).text
    reply = post(bert, f"{page}undo/", {}, **{"HX-Target": "work"})
    after, fresh = apply_swap(before, reply, "work"), load(bert, page)
    for part in ("work", "wind-form", "wind-said", "targets", "hours-form"):
        assert comparable_lines(after, part) == comparable_lines(fresh, part)

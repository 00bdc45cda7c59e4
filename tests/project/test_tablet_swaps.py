"""A swap equals a reload: what the batch answers a tablet, put into the page as taps.js does, is the page loaded again.

The road of a tablet is the only one by which pieces of the lesson page are exchanged: each kind of entry is sent on it.
"""

import uuid
from typing import Any

import pytest
from django.test import Client
from lxml.html import HtmlElement

from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries, sign_lesson
from tests.page_swaps import apply_batch_pieces, apply_tap, comparable_lines, parse_page, turn_pad

DEVICE, OTHER_DEVICE = str(uuid.uuid4()), str(uuid.uuid4())
OPENING = {
    "circuit.1.takeoff.level": "perform",
    "circuit.1.downwind.level": "practice",
    "circuit.1.approach.level": "practice",
    "circuit.1.landing.level": "practice",
    "circuit.1.landing.help": "prompted",
    "lesson.wind_direction": "170",
    "lesson.wind_speed_kt": "9",
    "lesson.dual_minutes": "0:50",
}


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


def entry_event(field: str, value: str, number: int = 1) -> dict[str, Any]:
    return {"id": str(uuid.uuid4()), "kind": "entry", "seq": number, "field": field, "value": value}


def load_page(bert: Client, lesson: Lesson) -> HtmlElement:
    return parse_page(bert.get(f"/lessons/{lesson.uid}/").text)


def send_batch(
    bert: Client, cast: Cast, page: HtmlElement, lesson: Lesson, *events: dict[str, Any], device: str = DEVICE
) -> dict[str, Any]:
    """Send events as sender.js does for the page that is open: with what it knows already and the pad it shows."""
    contact, pad = page.get_element_by_id("contact"), page.get_element_by_id("now")
    closed = [event["field"].split(".")[1] for event in events if event.get("field", "").endswith(".closed")]
    body = {
        "person": cast.bert.pk,
        "device": device,
        "since": int(contact.get("data-since")),
        "show": "changed",
        # circuits.js turns the pad to the next circuit as soon as one is closed, before anything is sent.
        "circuit": int(closed[-1]) + 1 if closed else int(pad.get("data-number")),
        "events": events,
    }
    url = page.get("data-batch").replace(str(uuid.UUID(int=0)), str(lesson.uid))
    reply = bert.post(url, body, content_type="application/json")
    assert reply.status_code == 200
    answer: dict[str, Any] = reply.json()
    assert [row["outcome"] for row in answer["results"]] == ["applied"] * len(events), answer["results"]
    return answer


def comparable_page(page: HtmlElement) -> list[str]:
    """Return the page without what the device holds by itself: what is open, and what circuits.js has read."""
    for details in page.xpath("//details[@open]"):
        del details.attrib["open"]
    for section in page.xpath("//*[@data-noted]"):
        del section.attrib["data-noted"]
    # What padview.js writes from the entries, at each tap and without the school; journeys look at it.
    for place in page.xpath("//*[@data-drawn]"):
        place.drop_tree()
    return comparable_lines(page)


CIRCUIT_ENTRIES = [
    ("circuit.1.landing.level", "perform"),
    ("circuit.1.landing.level", ""),
    ("circuit.1.landing.help", "took_control"),
    ("circuit.1.landing.fault.bounced", "on"),
    ("circuit.1.landing.criterion.held", "not_done"),
    ("circuit.1.approach.measure.final.speed", "80"),
    ("circuit.1.ending", "full_stop"),
    ("circuit.1.ending", "go_around"),
    ("circuit.1.took_control", "landing"),
    ("circuit.1.landing_kind", "wheel"),
    ("circuit.1.shown", "on"),
    ("circuit.1.approach.measure.final.speed", "78"),
    ("circuit.1.landing.kept", "gust"),
    ("circuit.1.closed", "to_standard"),
    ("grade.landing", "perform"),
]
DETAIL_ENTRIES = [
    ("lesson.wind_direction", "200"),
    ("lesson.wind_speed_kt", "14"),
    ("lesson.wind_gust_kt", "31"),
    ("lesson.wind_reference", "magnetic"),
    ("lesson.weather_report", "ZZZX {today:%d}1150Z 22030G38KT CAVOK 12/05 Q1013"),
    ("lesson.runway", "{runway}"),
    ("lesson.off_blocks", "09:05"),
    ("lesson.on_blocks", "10:00"),
    ("lesson.dual_minutes", "0:55"),
    ("lesson.solo_minutes", "0:20"),
    ("lesson.night_minutes", "0:10"),
    ("lesson.instrument_minutes", "0:10"),
    ("lesson.ground_minutes", "0:30"),
    ("lesson.takeoffs", "4"),
    ("lesson.landings", "3"),
    ("lesson.remarks", "Held off longer."),
    ("lesson.next_time", "Look further ahead."),
]


@pytest.mark.parametrize("opening", [{}, OPENING], ids=["empty", "begun"])
@pytest.mark.parametrize(("field", "value"), CIRCUIT_ENTRIES + DETAIL_ENTRIES)
def test_one_entry(cast: Cast, bert: Client, opening: dict[str, str], field: str, value: str) -> None:
    lesson = begin_lesson(cast)
    if field == "lesson.wind_gust_kt":
        opening = opening | {"lesson.wind_speed_kt": "10"}  # a gust without its wind is refused
    record_entries(cast, lesson, **opening)
    value = value.format(runway=cast.runway.pk, today=cast.today)
    page = load_page(bert, lesson)
    answer = send_batch(bert, cast, page, lesson, entry_event(field, value))
    if field.endswith(".closed"):
        turn_pad(page, 2)
    else:
        apply_tap(page, field, value)
    pieces = apply_batch_pieces(page, answer["html"])
    assert {"missing", "refused", "saved"} <= pieces
    assert not (field.endswith(".closed") and "work" in pieces)
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


def test_a_manoeuvre_flown_by_itself(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast, 14)
    page, field = load_page(bert, lesson), "manoeuvre.engine_failure_after_takeoff.level"
    answer = send_batch(bert, cast, page, lesson, entry_event(field, "perform"))
    apply_tap(page, field, "perform")
    assert "work" not in apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


def more_manoeuvres(page: HtmlElement, field: str) -> list[HtmlElement]:
    return [named for more in page.find_class("more-manoeuvres") for named in more.xpath(".//*[@name=$it]", it=field)]


def test_a_manoeuvre_outside_the_unit_becomes_a_line(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    page, field = load_page(bert, lesson), "manoeuvre.stalls.level"
    assert more_manoeuvres(page, field)
    assert not page.xpath("//*[@id='line-stalls']")
    answer = send_batch(bert, cast, page, lesson, entry_event(field, "practice"))
    assert "work" in apply_batch_pieces(page, answer["html"])
    assert page.xpath("//*[@id='line-stalls']")
    assert not more_manoeuvres(page, field)
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))
    record_entries(cast, lesson, **OPENING, **{"circuit.1.closed": "on"})
    sign_lesson(cast, Lesson.objects.get(pk=lesson.pk))
    assert "Stalls" in bert.get(f"/lessons/{lesson.uid}/").text


def test_another_aircraft_or_none(cast: Cast, bert: Client) -> None:
    """The head and the brief name the aircraft as of the load; what is written in the air follows at once."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **OPENING)
    page = load_page(bert, lesson)
    answer = send_batch(bert, cast, page, lesson, entry_event("lesson.aircraft", ""))
    assert {"work", "hours-form", "missing"} <= apply_batch_pieces(page, answer["html"])
    fresh = load_page(bert, lesson)
    for part in ("work", "hours-form", "missing"):
        assert comparable_lines(page, part) == comparable_lines(fresh, part)


def test_an_entry_on_the_next_circuit(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **OPENING, **{"circuit.1.closed": "on"})
    page, field = load_page(bert, lesson), "circuit.2.takeoff.level"
    answer = send_batch(bert, cast, page, lesson, entry_event(field, "explain"))
    apply_tap(page, field, "explain")
    assert "work" not in apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


def test_a_circuit_closed_with_its_levels_brings_no_more_than_it_changed(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    page = load_page(bert, lesson)
    entries = {"circuit.1.landing.level": "practice", "circuit.1.landing.fault.bounced": "on", "circuit.1.closed": "on"}
    events = [entry_event(field, value, number) for number, (field, value) in enumerate(entries.items())]
    answer = send_batch(bert, cast, page, lesson, *events)
    turn_pad(page, 2)
    assert "work" not in apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


def test_several_entries_in_one_batch(cast: Cast, bert: Client) -> None:
    """What waited without contact is sent together; another wind among it brings all of the work."""
    lesson = begin_lesson(cast)
    page = load_page(bert, lesson)
    entries = {**OPENING, "circuit.1.closed": "on", "lesson.remarks": "Calmer."}
    events = [entry_event(field, value, number) for number, (field, value) in enumerate(entries.items())]
    answer = send_batch(bert, cast, page, lesson, *events)
    assert {"work", "hours-form", "wind-form"} <= apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


def test_what_another_device_wrote(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    page, elsewhere = load_page(bert, lesson), load_page(bert, lesson)
    for field, value in (("lesson.wind_speed_kt", "21"), ("circuit.1.landing.fault.bounced", "on")):
        send_batch(bert, cast, elsewhere, lesson, entry_event(field, value), device=OTHER_DEVICE)
    answer = send_batch(bert, cast, page, lesson, entry_event("circuit.1.takeoff.level", "perform"))
    assert [row["field"] for row in answer["changes"]] == ["lesson.wind_speed_kt", "circuit.1.landing.fault.bounced"]
    assert "work" in apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("circuit.1.landing.level", "perform"),
        ("circuit.1.closed", "on"),
        ("lesson.remarks", "13"),
        ("lesson.wind_speed_kt", "13"),
        ("lesson.runway", ""),
    ],
)
def test_undo(cast: Cast, bert: Client, field: str, value: str) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **OPENING)
    record_entries(cast, lesson, **{field: value})
    page = load_page(bert, lesson)
    tap = page.xpath("//*[@id='undo']//form")[0].get("data-tap")
    before = comparable_page(load_page(bert, lesson))
    answer = send_batch(bert, cast, page, lesson, {"id": str(uuid.uuid4()), "kind": "undo", "seq": 1, "of": tap})
    assert "work" in apply_batch_pieces(page, answer["html"])
    assert comparable_page(page) == comparable_page(load_page(bert, lesson)) != before


@pytest.mark.parametrize(("act", "state"), [("signed", "signed"), ("discarded", "gone")])
def test_a_lesson_that_is_signed_or_discarded_swaps_nothing(cast: Cast, bert: Client, act: str, state: str) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **OPENING, **{"circuit.1.closed": "on", "lesson.wind_reference": "true"})
    page = load_page(bert, lesson)
    if act == "signed":
        sign_lesson(cast, lesson)
    else:
        assert bert.post(f"/lessons/{lesson.uid}/discard/", {"reason": "Rain"}).status_code == 302
    answer = send_batch(bert, cast, page, lesson)
    assert (answer["state"], answer["html"]) == (state, "")

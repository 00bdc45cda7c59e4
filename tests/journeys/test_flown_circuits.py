"""Circuits as flown and progress in the browser: at three widths no word lies on another, and nothing scrolls away."""

from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Page

from lessons.models import Lesson
from school import places
from tests.cast import Cast
from tests.cast_rows import build_once
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll

WIDTHS = (360, 760, 1180)
CIRCUITS = 22
# Pairs of words in one drawing whose boxes overlap by more than a pixel in both directions, as the browser sets them.
OVERLAPS = """() => [...document.querySelectorAll("svg.flown, svg.progress")]
    .filter((svg) => svg.checkVisibility())
    .flatMap((svg) => {
        const words = [...svg.querySelectorAll("text")].map((one) => [one.textContent, one.getBoundingClientRect()]);
        const over = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
            && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;
        return words.flatMap(([name, box], place) => words.slice(place + 1)
            .filter(([, other]) => over(box, other)).map(([other]) => `${name} / ${other}`));
    })"""
SHOWN = """() => [...document.querySelectorAll("svg.flown, svg.progress")].filter((svg) => svg.checkVisibility())
    .map((svg) => [svg.querySelectorAll("text").length,
        Math.min(...[...svg.querySelectorAll("text")].map((one) => one.getBoundingClientRect().height))])"""


def numbers(number: int) -> dict[str, str]:
    """Numbers inside and outside, on both sides, of every gate of the approach and some of the way out."""
    off = (number % 7 - 3) * 25
    return {
        "takeoff.measure.climb.speed": str(85 + off // 5),
        "takeoff.measure.first-turn.height": str(650 + off),
        "downwind.measure.abeam.height": str(700 + 3 * off),
        "downwind.measure.abeam.speed": str(88 - off // 4),
        "approach.measure.turn.height": str(380 - off),
        "approach.measure.turn.bank": str(22 + off // 8),
        "approach.measure.final.height": str(180 + off),
        "approach.measure.final.speed": str(68 + off // 5),
        "landing.measure.round-out.height": str(20 + number),
        "landing.measure.touchdown.distance": str(500 + 8 * off),
        "landing.help": "prompted" if number % 5 == 0 else "none",
    }


@build_once
def fly_lessons(cast: Cast) -> None:
    trees = {"name": "trees", "before_ft": 900, "side_ft": -130, "height_ft": 55}
    place = {"heading_true": Decimal("181.5"), "aiming_point_ft": 400}
    places.place_runway(runway=cast.runway, place=place, obstacles=[trees], by=cast.frida, at=cast.at())
    for days_ago, circuits in ((9, 3), (5, 1), (1, CIRCUITS)):
        lesson = begin_lesson(cast, 8, days_ago)
        wind = {"lesson.wind_direction": "210", "lesson.wind_speed_kt": "14", "lesson.wind_gust_kt": "20"}
        record_entries(cast, lesson, **{"lesson.dual_minutes": "1.5"}, **wind)
        for number in range(1, circuits + 1):
            record_circuit(cast, lesson, number, **numbers(number))
        sign_lesson(cast, lesson, days_ago)


def look_at(page: Page, address: str, width: int) -> list[Any]:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(address)
    shown: list[Any] = page.evaluate(SHOWN)
    assert shown, address
    assert page.evaluate(OVERLAPS) == [], (address, width)
    assert_no_sideways_scroll(page)
    return shown


@pytest.mark.parametrize("width", WIDTHS)
def test_no_word_lies_on_another(transactional_cast: Cast, enter: OpenPage, width: int) -> None:
    fly_lessons(transactional_cast)
    lesson = Lesson.objects.latest("on")
    page = enter("dora", (width, 900))
    for address, least in (
        (f"/lessons/{lesson.uid}/circuits/7/", 4),
        (f"/lessons/{lesson.uid}/circuits/", 4),
        ("/me/", 2),
    ):
        shown = look_at(page, address, width)
        assert len(shown) == least, address
        # Each figure has words, and none is set so small that it cannot be read.
        assert all(words >= 2 and height >= 12 for words, height in shown), (address, shown)


def test_the_table_of_a_circuit_is_whole_on_a_telephone_and_on_paper(transactional_cast: Cast, enter: OpenPage) -> None:
    fly_lessons(transactional_cast)
    lesson = Lesson.objects.latest("on")
    page = enter("dora", (390, 844))
    page.goto(f"/lessons/{lesson.uid}/circuits/7/")
    hidden = "() => { const box = document.querySelector('.scroll'); return box.scrollWidth - box.clientWidth; }"
    assert page.evaluate(hidden) <= 1
    # 190 mm of A4 and of Letter between margins are some 718 px.
    page.set_viewport_size({"width": 718, "height": 1000})
    page.emulate_media(media="print")
    for address in (f"/lessons/{lesson.uid}/circuits/7/", f"/lessons/{lesson.uid}/circuits/"):
        page.goto(address)
        assert page.evaluate(hidden) <= 1, address

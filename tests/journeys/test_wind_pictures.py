"""The wind and the circuit in a browser: no text on another and nothing cut, on a phone, a tablet and a desk."""

from decimal import Decimal
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from school import places
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll

SIZES = [(360, 780), (760, 1000), (1180, 900)]
WINDS = [("110", "12", "18"), ("340", "14", ""), ("180", "25", "")]
# By the boxes that the browser itself gives: what a person would see touching or cut.
FAULTS = """() => {
    const wrong = [];
    for (const svg of document.querySelectorAll('svg.wind-plan, svg.wind-triangle')) {
        const frame = svg.getBoundingClientRect();
        const texts = [...svg.querySelectorAll('text')].map((text) => [text.textContent, text.getBoundingClientRect()]);
        texts.forEach(([words, box], place) => {
            if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1
                || box.bottom > frame.bottom + 1) wrong.push(`cut: ${words}`);
            for (const [other, another] of texts.slice(place + 1)) {
                if (box.left < another.right - 1 && another.left < box.right - 1
                    && box.top < another.bottom - 3 && another.top < box.bottom - 3) {
                    wrong.push(`${words} on ${other}`);
                }
            }
        });
    }
    return wrong;
}"""
SMALLEST_TEXT = """() => Math.min(...[...document.querySelectorAll('svg.wind-plan text')].map((text) =>
    text.getAttribute('font-size') * text.ownerSVGElement.getBoundingClientRect().width / 360))"""


def assert_well_drawn(page: Page) -> None:
    expect(page.locator("svg.wind-plan")).to_be_visible()
    expect(page.locator("svg.wind-triangle")).to_have_count(4)
    assert page.evaluate(FAULTS) == []
    # Readable at arm's length: the smallest text of the page itself is as large.
    assert page.evaluate(SMALLEST_TEXT) >= 12


@pytest.mark.parametrize("size", SIZES)
def test_a_student_reads_tomorrows_wind(transactional_cast: Cast, enter: OpenPage, size: tuple[int, int]) -> None:
    cast = transactional_cast
    obstacles = [
        {"name": "trees", "before_ft": 900, "side_ft": -130, "height_ft": 55},
        {"name": "a mast on the long hill", "before_ft": 1400, "side_ft": 500, "height_ft": 210},
    ]
    place = {"aiming_point_ft": 400, "heading_true": Decimal("181.5")}
    places.place_runway(runway=cast.runway, place=place, obstacles=obstacles, by=cast.frida, at=cast.at())
    page = enter("dora", size)
    for direction, speed, gust in WINDS:
        page.goto("/me/")
        page.get_by_label("Wind from").fill(direction)
        page.get_by_label("of north").select_option("magnetic")
        page.get_by_label("Wind (kt)").fill(speed)
        page.get_by_label("Gusting to").fill(gust)
        page.get_by_role("button", name="Show the circuit in this wind").click()
        assert_well_drawn(page)
        assert_no_sideways_scroll(page)
    # Who cannot see the plan finds every number in the table.
    page.get_by_text("Read this as a table").click()
    expect(page.get_by_role("rowheader", name="Downwind")).to_be_visible()
    assert_no_sideways_scroll(page)
    # axe-core (the library), as in test_accessibility.py.
    found: Any = Axe().run(page, options={"resultTypes": ["violations"], "runOnly": ["wcag2a", "wcag2aa", "wcag22aa"]})
    assert [node["html"][:200] for rule in found.response["violations"] for node in rule["nodes"]] == []


@pytest.mark.parametrize("light", ["day", "sun", "night"])
def test_the_lesson_page_draws_it_again_when_the_wind_is_typed(
    transactional_cast: Cast, enter: OpenPage, light: str
) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast, 14)
    record_entries(cast, lesson, **{"lesson.wind_direction": "180", "lesson.wind_speed_kt": "8"})
    page = enter("bert", (820, 1180))
    page.goto(f"/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.evaluate("light => { document.documentElement.dataset.light = light; }", light)
    before = page.locator(".wind-keep").inner_text()
    page.get_by_text("Wind and runway").click()
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.locator("#l-speed").fill("20")
        page.locator("#l-speed").blur()
    expect(page.locator(".wind-keep")).not_to_have_text(before)
    assert_well_drawn(page)
    # Ink and ground of the drawing are those of the light, so that a line is never drawn in its own ground.
    ink, paper = page.evaluate(
        "() => { const svg = document.querySelector('svg.wind-plan');"
        " return [getComputedStyle(svg).color, getComputedStyle(document.body).backgroundColor]; }"
    )
    assert ink != paper


def test_on_paper_the_runway_keeps_its_outline(transactional_cast: Cast, enter: OpenPage) -> None:
    """Print has no tint: what is only tinted would be gone."""
    page = enter("dora", (760, 1000))
    page.goto(f"/me/?runway={transactional_cast.runway.pk}&direction=110&reference=magnetic&speed=12")
    page.emulate_media(media="print")
    rect = page.locator("svg.wind-plan rect")
    assert rect.evaluate("rect => [getComputedStyle(rect).stroke !== 'none', getComputedStyle(rect).strokeWidth]") == [
        True,
        "2px",
    ]
    assert_well_drawn(page)

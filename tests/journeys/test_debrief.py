"""A student on a telephone: from the own page to the debrief, the own view first, then both beside each other."""

import re
from typing import Any

import pytest
from django.core import mail
from playwright.sync_api import expect

from grading.models import OwnView
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll

PHONE = (390, 844)
# Three faults noted, a fourth that a number points to.
LONG = {
    "landing.measure.touchdown.distance": "1500", "landing.fault.floated": "on", "landing.level": "practice",
    "landing.measure.round-out.height": "40", "landing.fault.ballooned": "on",
    "approach.measure.final.speed": "79", "approach.fault.final-fast": "on",
}  # fmt: skip


@pytest.mark.parametrize("script", [True, False])
def test_a_student_writes_their_view_and_sees_both(transactional_cast: Cast, enter: OpenPage, script: bool) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.next_time": "Power off earlier."})
    for number in (1, 2, 3):
        record_circuit(cast, lesson, number, **(LONG if number == 2 else {}))
    sign_lesson(cast, lesson)
    page = enter("dora", PHONE, script=script)

    # One tap leads to the debrief, and one more unfolds it: the thing to do better is two taps away.
    page.goto("/me/")
    page.get_by_role("link", name="Debrief of lesson 1").tap()
    better = page.get_by_text("to do better: floated")
    expect(better).to_be_hidden()
    assert_no_sideways_scroll(page)
    unfold = page.get_by_text("Show the instructor’s levels without writing mine")
    unfold.tap()
    expect(better).to_be_visible()
    expect(page.locator("table.two-views")).to_contain_text("not written")
    assert_no_sideways_scroll(page)
    unfold.tap()

    page.get_by_label("How it went, in a line").fill("It felt stable.")
    for part, level in (("Takeoff", 4), ("Downwind", 4), ("Approach", 3), ("Landing", 3)):
        page.get_by_role("group", name=part).locator("label").nth(level - 1).tap()
    page.get_by_role("button", name="Save my view").tap()
    expect(page).to_have_url(re.compile("/debrief/$"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("to do better: floated.")
    rows = page.locator("table.two-views tbody tr")
    expect(rows.nth(2)).to_contain_text(re.compile(r"Approach\s+Practice\s+Practice"))
    expect(page.get_by_text("You wrote: “It felt stable.”")).to_be_visible()
    expect(page.get_by_role("button", name="Save my view")).to_have_count(0)
    assert_no_sideways_scroll(page)
    # Chromium writes each sheet of paper as an object of its own.
    margin = dict.fromkeys(("top", "bottom", "left", "right"), "10mm")
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper, margin=margin)
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, paper
    assert OwnView.objects.get().levels == {
        "takeoff": "perform", "downwind": "perform", "approach": "practice", "landing": "practice",
    }  # fmt: skip
    page.goto(f"/lessons/{lesson.uid}/")
    page.get_by_role("link", name="Debrief").tap()
    expect(page.get_by_role("link", name="Read and sign lesson 1")).to_be_visible()


def test_from_the_message_to_the_picture_in_two_taps(
    transactional_cast: Cast, enter: OpenPage, live_server: Any, settings: Any
) -> None:
    settings.PUBLIC_ADDRESS = live_server.url
    cast = transactional_cast
    Person.objects.filter(pk=cast.dora.pk).update(email="dora@student.example")
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    for number in (1, 2, 3):
        record_circuit(cast, lesson, number, **(LONG if number == 2 else {}))
    instructor = enter("bert", (820, 1180))
    instructor.goto(f"/lessons/{lesson.uid}/#sign")
    instructor.wait_for_selector("html[data-ready]", state="attached")
    instructor.locator("input[name=secret]").fill(SECRET)
    instructor.get_by_role("button", name="Sign").tap()
    expect(instructor.get_by_text("is signed and final")).to_be_visible()

    (letter,) = mail.outbox
    (link,) = re.findall(r"http\S+", letter.body)
    page = enter("dora", PHONE)
    page.goto(link)  # the first tap: the link of the message
    better, picture = page.get_by_text("to do better: floated"), page.locator(".debrief-fault svg.flown:visible").first
    expect(picture).to_be_hidden()
    page.get_by_text("Show the instructor’s levels without writing mine").tap()
    expect(better).to_be_visible()
    expect(picture).to_be_visible()
    assert_no_sideways_scroll(page)

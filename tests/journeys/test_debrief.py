"""A student on a telephone: from the own page to the debrief, the own view first, then both beside each other."""

import re
from typing import Any

import pytest
from django.core import mail
from playwright.sync_api import Page, expect

from grading.models import OwnView
from grading.pages.debrief import PRINTED_CHANGES
from grading.pages.debrief_faults import PRINTED_FULL, PRINTED_LINES
from lessons.published_content import faults_by_manoeuvre
from lessons.rules.scale import Part
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll

PHONE = (390, 844)
PARTS = {part.value for part in Part}
# Three faults noted, a fourth that a number points to.
LONG = {
    "landing.measure.touchdown.distance": "1500", "landing.fault.floated": "on", "landing.level": "practice",
    "landing.measure.round-out.height": "40", "landing.fault.ballooned": "on",
    "approach.measure.final.speed": "79", "approach.fault.final-fast": "on",
}  # fmt: skip


def assert_on_one_page(page: Page) -> None:
    # Chromium writes each sheet of paper as an object of its own.
    margin = dict.fromkeys(("top", "bottom", "left", "right"), "10mm")
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper, margin=margin)
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, paper


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

    page.get_by_label("How it went, in one line").fill("It felt stable.")
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
    assert_on_one_page(page)
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


# Every number of the approach outside, on the side that points to a fault.
ALL_OUTSIDE = {
    "takeoff.measure.climb.speed": "99", "downwind.measure.abeam.height": "999", "approach.measure.turn.bank": "45",
    "approach.measure.turn.height": "600", "approach.measure.turn.speed": "95", "approach.measure.final.height": "300",
    "approach.measure.final.speed": "85", "landing.measure.round-out.height": "60",
    "landing.measure.touchdown.distance": "1500",
}  # fmt: skip


@pytest.mark.parametrize("noted", [True, False])
def test_all_faults_of_the_syllabus_in_one_lesson_are_printed_on_one_page(
    transactional_cast: Cast, enter: OpenPage, noted: bool
) -> None:
    """Noted by the instructor, or only pointed to by numbers that all have a picture."""
    cast = transactional_cast
    lesson = begin_lesson(cast)
    long = "Keep the nose up, look to the far end, hold off; then the brakes, gently. " * 4
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.next_time": long, "lesson.remarks": long})
    known = {code: rows for code, rows in faults_by_manoeuvre(lesson.unit.stage.syllabus_id).items() if code in PARTS}
    faults = {f"{code}.fault.{row.code}": "on" for code, rows in known.items() for row in rows}
    for number in range(1, 7):
        record_circuit(cast, lesson, number, "practice", **(faults if noted else {}), **ALL_OUTSIDE)
    sign_lesson(cast, lesson)
    page = enter("bert", (820, 1180))
    page.goto(f"/lessons/{lesson.uid}/debrief/")
    # On the screen nothing is shortened.
    shown, short = page.locator(".debrief-fault:visible"), page.locator(".paper-only b:visible")
    many = len({row.pk for rows in known.values() for row in rows}) if noted else shown.count()
    expect(shown).to_have_count(many)
    expect(page.locator(".paper-only:visible")).to_have_count(0)
    assert_on_one_page(page)
    page.emulate_media(media="print")
    left = max(many - PRINTED_FULL - PRINTED_LINES, 0)
    expect(shown).to_have_count(PRINTED_FULL)
    expect(short).to_have_count(many - PRINTED_FULL - left)
    assert bool(left) is noted
    if noted:
        expect(page.get_by_text(f"and {left} more: on the record of lesson 1, page “Debrief”")).to_be_visible()
        changes = page.locator("li:visible", has_text="attempts in a row without it close it")
        expect(changes).to_have_count(PRINTED_CHANGES)
    else:
        expect(page.locator(".debrief-fault figure:visible")).to_have_count(PRINTED_FULL)

"""A signature drawn on the tablet by whoever likes to; whoever does not signs as before."""

import json

from playwright.sync_api import expect

from grading.models import Signature
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.journeys.devices import PHONE, TABLET, OpenPage, assert_no_sideways_scroll


def test_instructor_draws_and_the_student_signs_by_keyboard(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(cast, lesson, 1)
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/#sign")
    frame, clear = page.locator(".drawn canvas"), page.get_by_role("button", name="Clear")
    frame.scroll_into_view_if_needed()
    expect(clear).to_be_disabled()
    box = frame.bounding_box()
    assert box is not None
    assert abs(box["width"] / box["height"] - 3) < 0.05

    def stroke(*points: tuple[float, float]) -> None:
        for place, (x, y) in enumerate(points):
            page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=4)
            if place == 0:
                page.mouse.down()
        page.mouse.up()

    stroke((0.1, 0.2), (0.9, 0.2))
    clear.click()
    assert page.locator("input[name=drawn]").input_value() == ""
    stroke((0.1, 0.5), (0.5, 0.9), (0.9, 0.5))
    stroke((0.5, 0.1), (0.5, 0.1))
    assert_no_sideways_scroll(page)
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    expect(page.get_by_role("img", name="Signature drawn by the instructor")).to_be_visible()
    lines = json.loads(Signature.objects.get().drawn)
    assert len(lines) == 2
    assert [round(value / 10) for value in (*lines[0][0], *lines[0][-1])] == [6, 10, 54, 10]

    page = enter("dora", PHONE)
    page.goto(f"/lessons/{lesson.uid}/")
    assert_no_sideways_scroll(page)
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_label("Your password").press("Enter")
    expect(page.get_by_text("Student: signed")).to_be_visible()
    assert Signature.objects.get(capacity="student").drawn == ""


def test_without_script_there_is_no_frame_and_the_form_signs(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(cast, lesson, 1)
    page = enter("bert", TABLET, script=False)
    page.goto(f"/lessons/{lesson.uid}/")
    expect(page.locator(".drawn")).to_be_hidden()
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    expect(page.get_by_text("Instructor: signed")).to_be_visible()

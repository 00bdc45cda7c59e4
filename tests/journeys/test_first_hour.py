"""From an empty installation to the first signed lesson with a circuit and a number, by the pages alone.

Each field that is filled in and each key that is pressed counts as one act of two seconds (the project's own measure).
"""

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from grading.models import Measure
from lessons.models import Lesson
from tests.cast import SECRET
from tests.factories import opening_form
from tests.journeys.devices import DESKTOP

SECONDS_AN_ACT, MOST_SECONDS = 2, 10 * 60


class Newcomer:
    """Somebody who does one thing after the other, and counts them."""

    def __init__(self, page: Page) -> None:
        self.page, self.acts = page, 0

    def type_all(self, typed: dict[str, str]) -> None:
        """Fill in those of the fields on this page that are named."""
        for field in self.page.locator("main form :is(input:not([type=hidden]), select)").all():
            name = field.get_attribute("name") or ""
            if name not in typed:
                continue
            self.acts += 1
            if field.get_attribute("type") == "checkbox":
                field.check()
            elif field.evaluate("field => field.tagName") == "SELECT":
                field.select_option(typed[name])
            else:
                field.fill(typed[name])

    def press(self, name: str, role: Any = "button", where: str = "body") -> None:
        self.acts += 1
        self.page.locator(where).get_by_role(role, name=name, exact=True).first.click()

    def tap(self, where: str, answer: bool = True) -> None:
        """Press a key of the circuit pad, which the server answers or not."""
        self.acts += 1
        key = self.page.locator(where).first
        if not answer:
            key.click()
            return
        with self.page.expect_response(lambda reply: "/entries/" in reply.url and reply.status == 200):
            key.click()

    def next_step(self, name: str) -> None:
        self.press("School", "link")
        self.press("First steps", "link")
        self.press(name, "link", "main")


@pytest.fixture
def page(browser: Browser, live_server: Any) -> Iterator[Page]:
    """A browser that nobody has logged in with."""
    size: Any = {"width": DESKTOP[0], "height": DESKTOP[1]}
    context = browser.new_context(viewport=size, has_touch=True, base_url=live_server.url)
    yield context.new_page()
    context.close()


def test_an_empty_school_has_its_first_lesson_within_ten_minutes(transactional_db: None, page: Page) -> None:
    one, typed = Newcomer(page), opening_form()
    page.goto("/set-up/")
    for _ in range(4):
        one.type_all(typed)
        one.press("Go on")
    one.type_all(typed)
    one.press("Set up the school")
    one.type_all({"login": "nora", "username": "nora", "password": SECRET})
    one.press("Log in")

    expect(page.get_by_role("heading", level=1)).to_have_text("3 steps to the first lesson.")
    one.press("Gates of the Trainer 1", "link")
    one.press("Begin the draft with these numbers")
    one.press("Publish issue 1")
    one.next_step("Students")
    one.type_all(
        {
            "given_name": "Ada",
            "family_name": "Early",
            "reference": "S-1",
            "username": "ada",
            "born": "2001-02-03",
        }
    )
    one.press("Enrol")
    one.next_step("First lesson")
    page.locator("main a", has_text="Begin a lesson").first.click()
    one.acts += 1
    one.acts += 2
    page.get_by_label("Unit").select_option(label="Unit 8: First circuits")
    page.get_by_label("Aircraft").select_option(index=1)
    one.press("Open the lesson")
    page.wait_for_url("**/lessons/*/")
    one.press("Open the circuit pad", "link")
    for part in ("takeoff", "downwind", "approach", "landing"):
        one.tap(f'fieldset[id$="1-{part}"] label.key')
    one.tap("#pad-circuit-1-approach .numbers > summary", answer=False)
    one.tap('[id="circuit.1.approach.measure.final.height"]', answer=False)
    for digit in "33":
        one.tap(f'[data-digit="{digit}"]', answer=False)
    one.tap('[data-digit="0"]')
    one.tap('[data-digit="done"]', answer=False)
    one.press("Close as tapped")
    expect(page.locator("#pad-name")).to_have_text("Circuit 2")
    page.get_by_role("link", name="Back to lesson 1").click()
    one.acts += 3
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.get_by_label("Dual").fill("0.9")
        page.get_by_label("Landings", exact=True).focus()
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    one.acts += 1
    expect(page.get_by_text("Instructor: signed")).to_be_visible()

    page.goto("/first-steps/")
    expect(page.get_by_role("heading", level=1)).to_have_text("The school is set up: every first step is done.")
    assert Lesson.objects.get().is_signed
    assert Measure.objects.filter(value=330).count() == 1
    assert one.acts * SECONDS_AN_ACT < MOST_SECONDS, f"{one.acts} acts"

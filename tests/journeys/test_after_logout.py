"""Once somebody has logged out, the device shows nothing of theirs: not by the key “back”, not out of its storage."""

import re

from playwright.sync_api import expect

from tests.cast import Cast
from tests.factories import fly_lesson
from tests.journeys.devices import TABLET, OpenPage


def test_back_shows_nothing_after_logging_out(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    page = enter("amelia", TABLET)
    page.goto("/students/")
    page.get_by_label("Name or number").fill("Dora")
    expect(page).to_have_url(re.compile("q=Dora"))
    page.goto("/students/?q=Dora")
    expect(page.get_by_text("Dora Example").first).to_be_visible()
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_label("Password")).to_be_visible()
    assert page.evaluate("JSON.stringify(localStorage) + JSON.stringify(sessionStorage)").count("Dora") == 0
    for _ in range(2):
        page.go_back()
        expect(page.get_by_label("Password")).to_be_visible()
        assert "Dora Example" not in page.content()

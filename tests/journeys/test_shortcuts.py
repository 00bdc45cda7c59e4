"""By keyboard alone: the list of keys, two keys to a page, off where the user wants none (WCAG 2.1.4, Level A)."""

from playwright.sync_api import expect

from tests.cast import Cast
from tests.journeys.devices import DESKTOP, OpenPage


def test_two_keys_lead_to_a_page_and_can_be_turned_off(transactional_cast: Cast, enter: OpenPage) -> None:
    page = enter("amelia", DESKTOP)
    expect(page.get_by_role("button", name="Keys of the keyboard")).to_be_visible()  # the script is there
    page.keyboard.press("?")
    keys = page.get_by_role("dialog", name="Keys of the keyboard")
    expect(keys).to_be_visible()
    page.keyboard.press("Escape")
    expect(keys).to_be_hidden()
    page.keyboard.press("l")  # a letter alone leads nowhere, on a page just opened too
    page.wait_for_timeout(100)
    assert page.url.endswith("/students/")
    page.keyboard.press("g")
    page.keyboard.press("l")
    page.wait_for_url("**/lessons/")
    page.keyboard.press("g")
    page.keyboard.press("f")
    page.wait_for_url("**/find/")
    page.get_by_label("Name, school number").press_sequentially("gl?dora")  # typing is typing
    expect(page.get_by_label("Name, school number")).to_have_value("gl?dora")
    page.get_by_role("button", name="Keys of the keyboard").click()
    page.get_by_label("Use these keys on this device").uncheck()
    page.get_by_role("button", name="Close").click()
    page.reload()
    page.get_by_role("heading", level=1).click()
    page.keyboard.press("g")
    page.keyboard.press("s")
    page.keyboard.press("?")
    expect(page.get_by_role("dialog", name="Keys of the keyboard")).to_be_hidden()
    assert page.url.split("?")[0].endswith("/find/")

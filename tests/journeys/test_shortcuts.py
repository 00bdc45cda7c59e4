"""By keyboard alone: F2 opens the list of pages, a letter follows its link; it can be turned off (WCAG 2.1.4)."""

from playwright.sync_api import expect

from tests.cast import Cast
from tests.journeys.devices import DESKTOP, OpenPage


def test_the_list_leads_to_a_page_by_a_letter_and_can_be_turned_off(transactional_cast: Cast, enter: OpenPage) -> None:
    page = enter("amelia", DESKTOP)
    page.get_by_text("Students in training").or_(page.get_by_role("heading", level=1)).first.wait_for()
    page.keyboard.press("F2")
    keys = page.get_by_role("dialog", name="Keyboard shortcuts")
    expect(keys).to_be_visible()
    page.keyboard.press("Escape")
    expect(keys).to_be_hidden()
    for letter in ("l", "g", "?"):  # a character alone does nothing outside the list
        page.keyboard.press(letter)
    page.wait_for_timeout(100)
    expect(keys).to_be_hidden()
    assert page.url.endswith("/students/")
    page.keyboard.press("F2")
    page.keyboard.press("l")
    page.wait_for_url("**/lessons/")
    page.locator("#person-menu summary").click()
    page.get_by_role("button", name="Keyboard shortcuts").click()
    page.get_by_label("Use these keys on this device").uncheck()
    page.get_by_role("button", name="Close").click()
    page.reload()
    page.get_by_role("heading", level=1).click()
    page.keyboard.press("F2")
    expect(page.get_by_role("dialog", name="Keyboard shortcuts")).to_be_hidden()


def test_the_board_is_walked_by_keys_and_they_can_be_turned_off(transactional_cast: Cast, enter: OpenPage) -> None:
    page = enter("amelia", DESKTOP)
    names = page.locator(".bt a.who")
    expect(names).to_have_count(2)
    page.keyboard.press("ArrowDown")  # scrolls, as everywhere: no student is chosen yet
    expect(page.locator(".bt a.who:focus")).to_have_count(0)
    page.keyboard.press("j")
    expect(names.nth(0)).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(names.nth(1)).to_be_focused()
    page.keyboard.press("j")  # the last one stays
    expect(names.nth(1)).to_be_focused()
    page.keyboard.press("k")
    expect(names.nth(0)).to_be_focused()
    page.keyboard.press("/")
    search = page.get_by_label("Name or number")
    expect(search).to_be_focused()
    page.keyboard.type("j/emil")  # letters of a word are no keys
    expect(search).to_have_value("j/emil")
    page.goto("/students/")
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    page.wait_for_url("**/students/*-*/")
    page.goto("/students/")
    page.evaluate("localStorage.setItem('shortcuts-off', 'yes')")
    page.keyboard.press("j")
    page.keyboard.press("/")
    expect(page.locator(":focus")).to_have_count(0)


def test_a_menu_of_the_head_closes_with_escape_and_beside_it(transactional_cast: Cast, enter: OpenPage) -> None:
    page = enter("amelia", DESKTOP)
    menu = page.locator("#person-menu")
    menu.locator("summary").click()
    expect(page.get_by_role("button", name="Log out")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Log out")).to_be_hidden()
    expect(menu.locator("summary")).to_be_focused()
    menu.locator("summary").click()
    page.get_by_role("heading", level=1).click()
    expect(page.get_by_role("button", name="Log out")).to_be_hidden()

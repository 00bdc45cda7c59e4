"""What a tablet holds, and what it says of it, when the browser forgets: nothing is called saved that is not."""

from playwright.sync_api import Page, expect

from grading.models import Attempt, DeviceEvent
from tests.cast import Cast
from tests.factories import begin_lesson
from tests.journeys.devices import (
    PRESS_KEYS_SCRIPT,
    NewDevice,
    open_lesson,
    wait_until,
    wait_until_saved,
)
from tests.journeys.network import Network

ALL_SAVED = "All saved in the school’s record"
LANDING, TAKEOFF = "circuit-1-landing-perform", "circuit-1-takeoff-practice"


def clear_storage(page: Page, kinds: str = "indexeddb,cache_storage") -> None:
    """As the browser does it, by itself or for somebody who clears its data, while the page is open."""
    origin = page.evaluate("location.origin")
    page.context.new_cdp_session(page).send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": kinds})


def test_a_storage_cleared_under_an_open_lesson_is_said_and_everything_is_sent_from_the_page(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast))
    wait_until(lambda: page.evaluate("caches.keys()"))
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, [LANDING, TAKEOFF])
    expect(page.locator("#saved")).to_contain_text("2 taps wait on this tablet")
    clear_storage(page)
    expect(page.locator("#alarm")).to_contain_text("cleared while this page was open. 2 taps are kept from this page")
    expect(page.locator("#saved")).not_to_contain_text("All saved")
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-approach-practice"])
    expect(page.locator("#saved")).to_contain_text("3 taps wait on this tablet")
    network.on = True
    wait_until_saved(page)
    assert list(DeviceEvent.objects.order_by("pk").values_list("sequence", "outcome")) == [
        (1, "applied"),
        (2, "applied"),
        (3, "applied"),
    ]
    assert DeviceEvent.objects.values("device").distinct().count() == 1
    assert set(Attempt.objects.values_list("part", "level")) == {
        ("landing", "perform"),
        ("takeoff", "practice"),
        ("approach", "practice"),
    }
    expect(page.locator("#notes li")).to_have_count(0)  # nothing is told as another device's

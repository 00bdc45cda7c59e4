"""What a tablet holds, and what it says of it, when the browser forgets: nothing is called saved that is not."""

import json
from datetime import timedelta
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from grading.models import Attempt, DeviceEvent, Tap
from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import begin_lesson
from tests.journeys.devices import (
    ONLINE_SCRIPT,
    PRESS_KEYS_SCRIPT,
    NewDevice,
    log_in,
    open_lesson,
    wait_for_offline_pack,
    wait_until,
    wait_until_saved,
)
from tests.journeys.network import Network

LANDING, TAKEOFF = "circuit-1-landing-perform", "circuit-1-takeoff-practice"
NO_STORAGE = """Object.defineProperty(window, "indexedDB", { value: undefined });
    CacheStorage.prototype.open = () => Promise.reject(new DOMException("private", "SecurityError"));"""
A_YEAR_AHEAD = "const now = Date.now.bind(Date); Date.now = () => now() + 365 * 86400000;"
NOT_PROMISED = "StorageManager.prototype.persist = StorageManager.prototype.persisted = async () => false"


# A page of this lesson, the frame, and whose they are.
KEPT = """(async () => { const names = await caches.keys();
    const named = (stem) => names.find((name) => name.startsWith(stem));
    const frame = named("frame-"), pages = named("kept-");
    return Boolean(frame && pages && names.includes("tablet") && (await caches.match("/tablet/", { cacheName: frame }))
        && (await caches.match(location.pathname, { cacheName: pages }))); })()"""


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
    # The pages that open without network are there again.
    wait_until(lambda: page.evaluate(KEPT))
    network.on = False
    page.reload()
    expect(page.locator("#as-of")).to_contain_text("No contact with the school")
    expect(page.locator(f"#{LANDING}")).to_be_checked()


def test_two_pages_of_one_lesson_each_send_what_was_made_on_them_after_a_clearing(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    first = open_lesson(context, network, lesson)
    second = context.new_page()
    second.goto(f"/lessons/{lesson.uid}/")
    second.wait_for_selector("html[data-ready]", state="attached")
    network.on = False
    first.evaluate(PRESS_KEYS_SCRIPT, [LANDING])
    second.evaluate(PRESS_KEYS_SCRIPT, [TAKEOFF])
    expect(second.locator("#saved")).to_contain_text("2 taps wait")
    clear_storage(first)
    for page in (first, second):
        page.bring_to_front()
        page.evaluate(ONLINE_SCRIPT)  # looks after the storage, as the page does by itself every few seconds
    expect(second.locator("#saved")).to_contain_text("2 taps wait")
    network.on = True
    for page in (first, second):
        wait_until_saved(page)
    assert sorted(DeviceEvent.objects.values_list("sequence", flat=True)) == [1, 2]
    assert Tap.objects.count() == 2
    for page in (first, second):
        expect(page.locator(f"#{LANDING}")).to_be_checked()
        expect(page.locator(f"#{TAKEOFF}")).to_be_checked()


def test_a_storage_that_the_browser_cleared_while_nobody_looked_is_said(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    page = open_lesson(context, network, lesson)
    page.route("**/batch/", lambda route: route.abort())
    page.evaluate(PRESS_KEYS_SCRIPT, [LANDING])
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    page.goto("about:blank")
    context.new_cdp_session(page).send(
        "Storage.clearDataForOrigin", {"origin": network.url, "storageTypes": "indexeddb,cache_storage,service_workers"}
    )
    page.goto(f"{network.url}/lessons/{lesson.uid}/")
    expect(page.locator("#alarm")).to_contain_text("cleared its storage: 1 tap had not been sent to the school")
    page.reload()
    page.wait_for_selector("html[data-ready]", state="attached")
    expect(page.locator("#alarm")).to_have_count(0)  # once


def test_a_browser_without_any_storage_says_that_taps_are_in_this_page_only(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(service_workers="block"), begin_lesson(transactional_cast)
    context.add_init_script(NO_STORAGE)
    page = context.new_page()
    log_in(page, network, "bert")
    page.goto(f"/lessons/{lesson.uid}/")
    expect(page.get_by_role("alert").first).to_contain_text("This tablet cannot save anything")
    page.get_by_role("button", name="Continue, with network only").click()
    page.wait_for_selector("html[data-ready]", state="attached")
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, [LANDING])
    expect(page.locator("#saved")).to_contain_text("1 tap waits in this page only: keep it open")
    assert page.evaluate("dispatchEvent(new Event('beforeunload', { cancelable: true }))") is False
    network.on = True
    wait_until_saved(page)
    assert page.evaluate("dispatchEvent(new Event('beforeunload', { cancelable: true }))") is True
    assert Attempt.objects.get().level == "perform"


def test_a_clock_that_is_a_year_ahead_dates_nothing(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    context.add_init_script(A_YEAR_AHEAD)
    page = open_lesson(context, network, lesson)
    page.evaluate(PRESS_KEYS_SCRIPT, [LANDING])
    wait_until_saved(page)
    event = DeviceEvent.objects.get()
    now = timezone.now()
    assert event.device_time is not None
    assert event.tap_time is not None
    assert event.device_time - now > timedelta(days=364)
    assert abs(event.tap_time - now) < timedelta(minutes=2)
    assert Tap.objects.get().at <= now


def test_a_refusal_to_promise_the_storage_is_said_once_and_only_while_taps_wait(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    context.add_init_script(NOT_PROMISED)
    page = open_lesson(context, network, lesson)
    expect(page.locator("#notes")).to_be_hidden()
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, [LANDING])
    expect(page.locator("#notes")).to_contain_text("This browser may clear its storage")
    page.get_by_role("button", name="Dismiss").click()
    page.evaluate(PRESS_KEYS_SCRIPT, [TAKEOFF])
    expect(page.locator("#saved")).to_contain_text("2 taps wait")
    expect(page.locator("#notes")).not_to_contain_text("promised")
    network.on = True
    wait_until_saved(page)


def test_an_entry_that_arrives_before_its_lesson_began_waits_for_it(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = device().new_page()
    log_in(page, network, "bert")
    wait_for_offline_pack(page, network)

    def without_beginning(route: Any) -> None:
        sent = json.loads(route.request.post_data)
        sent["events"] = [event for event in sent["events"] if event["kind"] != "begin"]
        route.continue_(post_data=json.dumps(sent))

    # From here on: what is on its way when the network comes back would bring the beginning.
    page.route("**/batch/", without_beginning)
    network.on = False
    page.goto("/tablet/")
    page.get_by_label("Student").select_option(label="Emil Example")
    page.get_by_label("Aircraft").select_option(index=0)
    page.get_by_role("button", name="Open the lesson").click()
    page.wait_for_url("**/lessons/*/")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.locator("#l-remarks").fill("Walked around.")
    page.locator("#l-remarks").blur()
    expect(page.locator("#saved")).to_contain_text("2 taps wait")

    network.on = True
    page.evaluate(ONLINE_SCRIPT)
    expect(page.locator("#saved")).to_contain_text("The beginning of their lesson has not reached the school yet")
    assert not DeviceEvent.objects.exists()
    assert not Lesson.objects.exists()
    page.unroute("**/batch/")
    page.evaluate(ONLINE_SCRIPT)
    wait_until(lambda: Lesson.objects.filter(remarks="Walked around.").exists())
    wait_until_saved(page)

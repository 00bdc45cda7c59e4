"""What a hand does to a tablet that a test with a quick disk and a steady network does not."""

from typing import Any

import pytest
from playwright.sync_api import expect

from grading.models import Attempt, DeviceEvent, Tap
from lessons.models import Lesson
from school import app_shell
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.journeys.devices import (
    ONLINE_SCRIPT,
    PRESS_KEYS_SCRIPT,
    NewDevice,
    Tablet,
    log_in,
    log_out,
    open_lesson,
    wait_for_offline_pack,
    wait_until,
    wait_until_saved,
)
from tests.journeys.network import Network

# Each transaction takes as long as on a worn tablet, where the disk is waited for.
SLOW_DISK = """(() => { const begin = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (...asked) {
        const step = begin.apply(this, asked);
        if (asked[1] === "readwrite") Object.defineProperty(step, "oncomplete", {
            set(done) { step.addEventListener("complete", () => setTimeout(done, 150)); } });
        return step;
    }; })()"""
# A device that has not told yet what it keeps.
LATE_STORAGE = """(() => { const open = IDBFactory.prototype.open;
    IDBFactory.prototype.open = function (...asked) {
        const step = open.apply(this, asked);
        Object.defineProperty(step, "onsuccess", {
            set(done) { step.addEventListener("success", () => setTimeout(done, 2000)); } });
        return step;
    }; })()"""
LIT = """Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
    window.lit = [...(window.lit ?? []), kind]; return {}; } } })"""


def test_taps_on_one_key_row_quicker_than_the_disk_are_all_kept(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    context.add_init_script(SLOW_DISK)
    page = open_lesson(context, network, lesson, by_hand=False)
    levels = ["perform", "practice"] * 8
    page.evaluate(
        "async (ids) => { for (const id of ids) { document.getElementById(id).click();"
        " await new Promise((done) => setTimeout(done, 40)); } }",
        [f"circuit-1-landing-{level}" for level in levels],
    )
    assert page.locator("#circuit-1-landing-practice").is_checked()
    wait_until(lambda: Tap.objects.count() == len(levels))
    assert list(Tap.objects.order_by("id").values_list("after", flat=True)) == levels
    expect(page.locator("#circuit-1-landing-practice")).to_be_checked()


def test_taps_before_the_device_told_what_it_keeps_are_heard(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    page = open_lesson(context, network, lesson, by_hand=False)
    page.add_init_script(LATE_STORAGE)
    page.evaluate("location.hash = 'circuits'")
    page.reload()
    page.locator("label:has(#circuit-1-takeoff-perform)").click()
    page.locator("#close-key").click()
    expect(page.locator("#saved")).to_contain_text("Saving")
    assert page.locator("html[data-ready]").count() == 0
    expect(page.locator("#pad-name")).to_have_text("Circuit 2")
    wait_until(lambda: Tap.objects.count() == 2)
    assert Attempt.objects.get(part="takeoff").level == "perform"


def test_a_page_that_does_not_start_whole_says_so(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    page = open_lesson(context, network, lesson, by_hand=False)
    page.add_init_script("IDBIndex.prototype.getAll = () => { throw new Error('broken'); }")
    page.reload()
    expect(page.locator("#alarm")).to_contain_text("may not save entries")


def test_taps_before_the_scripts_have_come_are_heard(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(service_workers="block"), begin_lesson(transactional_cast)
    page = open_lesson(context, network, lesson, by_hand=False)
    under_way: list[Any] = []
    context.route("**/taps.js", lambda route: under_way.append(route))
    page.evaluate("location.hash = 'circuits'")
    page.reload(wait_until="commit")
    page.locator("label:has(#circuit-1-takeoff-perform)").click()
    page.locator("label:has(#circuit-1-approach-practice)").click()
    wait_until(lambda: page.evaluate("document.readyState") == "interactive" and under_way)
    under_way[0].continue_()
    wait_until(lambda: Tap.objects.count() == 2)
    assert [row.level for row in Attempt.objects.exclude(level=None).order_by("part")] == ["practice", "perform"]


def test_a_key_that_is_pressed_while_an_answer_comes_is_heard(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    page = open_lesson(device(), network, lesson, by_hand=False)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    key = page.locator("label.key", has=page.locator("#circuit-1-landing-perform"))
    key.hover()
    page.mouse.down()
    record_entries(cast, lesson, **{"circuit.1.takeoff.level": "practice"})  # from another device
    with page.expect_response("**/batch/"):
        page.evaluate(ONLINE_SCRIPT)
    page.wait_for_timeout(300)
    page.mouse.up()
    wait_until(lambda: Tap.objects.count() == 2)
    expect(page.locator("#circuit-1-landing-perform")).to_be_checked()
    expect(page.locator("#circuit-1-takeoff-practice")).to_be_checked()  # the answer came in once the finger was off


def test_a_go_around_without_network(transactional_cast: Cast, device: NewDevice, network: Network) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast), by_hand=False)
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-takeoff-perform", "circuit-1-approach-practice", "ending-go_around"])
    page.evaluate("location.hash = 'circuits'")
    expect(page.locator("fieldset[id$='-go_around']")).to_be_visible()
    # A landing that was tried before it is kept, so its keys stay where they are.
    expect(page.locator("#now fieldset[id$='-landing']")).to_be_visible()
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-go_around-perform", "close-key"])
    expect(page.locator("#closed li")).to_have_count(1)
    expect(page.locator("fieldset[id$='-go_around']")).to_be_hidden()  # the next circuit ends with a landing again
    network.on = True
    wait_until_saved(page)
    circuit = Lesson.objects.get().circuits.get(closed=True)
    assert circuit.ending == "go_around"
    assert set(Attempt.objects.filter(circuit=circuit).values_list("part", flat=True)) == {
        "takeoff",
        "approach",
        "go_around",
    }


def test_waiting_taps_are_sent_before_logging_out_by_who_chooses_to(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast), by_hand=False)
    page.route("**/batch/", lambda route: route.abort())
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    page.goto("/lessons/")
    page.wait_for_selector("html[data-ready]", state="attached")
    log_out(page)
    page.unroute("**/batch/")
    page.get_by_role("button", name="Send them now").click()
    wait_until(lambda: Tap.objects.exists())
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(page.get_by_text("1 tap waits")).to_have_count(0)  # until the tablet has the answer it would warn again
    log_out(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")


def test_taps_of_a_lesson_are_sent_from_another_page(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast), by_hand=False)
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    network.on = True
    page.goto("/students/")
    wait_until(lambda: Tap.objects.exists())


def test_the_screen_stays_lit_while_a_lesson_is_written(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context = device()
    context.add_init_script(LIT)
    page = open_lesson(context, network, begin_lesson(transactional_cast), by_hand=False)
    assert page.evaluate("window.lit") == ["screen"]
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # the system lets go of it by itself
    assert page.evaluate("window.lit") == ["screen", "screen"]
    page.goto("/lessons/")
    page.wait_for_selector("html[data-ready]", state="attached")
    assert page.evaluate("window.lit") is None


def test_a_new_version_of_the_application_replaces_the_frame_and_keeps_what_waits(
    transactional_cast: Cast, tablet: Tablet, network: Network, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = begin_lesson(transactional_cast)
    page = tablet.open()
    log_in(page, network, "bert")
    wait_for_offline_pack(page, network)
    page.goto(f"{network.url}/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.route("**/batch/", lambda route: route.abort())
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    (old,) = cached_frames(page)
    monkeypatch.setattr(app_shell, "_version", lambda source: "next")
    app_shell.worker_source.cache_clear()
    try:
        page.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update())")
        wait_until(lambda: cached_frames(page) == ["frame-next"])
    finally:
        app_shell.worker_source.cache_clear()
    assert old != "frame-next"
    page.unroute("**/batch/")
    network.on = False
    page.goto(f"{network.url}/lessons/{lesson.uid}/")
    expect(page.locator("#circuit-1-landing-perform")).to_be_checked()
    network.on = True
    wait_until_saved(page)
    assert DeviceEvent.objects.count() == Tap.objects.count() == 1


def cached_frames(page: Any) -> list[str]:
    names: list[str] = page.evaluate("caches.keys()")
    return [name for name in names if name.startswith("frame-")]

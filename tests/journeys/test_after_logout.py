"""Once somebody has logged out, the device shows nothing of theirs: not by the key “back”, not out of its storage."""

import re

from playwright.sync_api import Page, expect

from grading.models import DeviceEvent, Tap
from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson
from tests.journeys.devices import (
    ONLINE_SCRIPT,
    TABLET,
    NewDevice,
    OpenPage,
    log_in,
    log_out,
    open_lesson,
    wait_for_offline_pack,
    wait_until,
)
from tests.journeys.network import Network

# All that a browser keeps for the application, as text; the frame's own files hold nothing of anybody.
EVERYTHING_KEPT = """(async () => {
    const text = [document.title, JSON.stringify(localStorage), JSON.stringify(sessionStorage), document.cookie];
    const bytes = (name, value) => value instanceof ArrayBuffer ? new TextDecoder("latin1").decode(value)
        : ArrayBuffer.isView(value) ? new TextDecoder("latin1").decode(value) : value;
    for (const { name } of await indexedDB.databases()) {
        const base = await new Promise((done) => {
            const ask = indexedDB.open(name); ask.onsuccess = () => done(ask.result); });
        for (const store of base.objectStoreNames)
            text.push(JSON.stringify(await new Promise((done) => {
                const ask = base.transaction(store).objectStore(store).getAll(); ask.onsuccess = () => done(ask.result);
            }), (name, value) => bytes(name, value)));
        base.close();
    }
    for (const name of (await caches.keys()).filter((name) => !name.startsWith("frame-"))) {
        const cache = await caches.open(name);
        for (const request of await cache.keys())
            text.push(request.url, await (await cache.match(request)).text());
    }
    return text.join("\\n");
})()"""
REMARK = "Ballooned over the fence twice."
NAMES = ("Dora", "Emil", "Lesson 1", "Ballooned", "Bert")
AN_HOUR_BACK = """(async (hours) => {
    const cache = await caches.open("tablet"), row = await cache.match("/tablet/person");
    const headers = { "Keep-Hours": row.headers.get("Keep-Hours"),
        "Contact-At": String(Number(row.headers.get("Contact-At")) - hours * 3600000) };
    await cache.put("/tablet/person", new Response(await row.text(), { headers })); })"""


def write_remark_without_school(page: Page) -> None:
    page.route("**/batch/", lambda route: route.abort())
    page.locator("#l-remarks").fill(REMARK)
    page.locator("#l-remarks").blur()
    expect(page.locator("#saved")).to_contain_text("1 tap waits")


def assert_nothing_in_plain(page: Page) -> None:
    kept = page.evaluate(EVERYTHING_KEPT)
    assert {name: kept[kept.index(name) - 90 :][:200] for name in NAMES if name in kept} == {}


def test_logging_out_leaves_nothing_in_plain_and_what_waits_comes_back_to_its_person(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast)
    context = device()
    page = open_lesson(context, network, lesson)
    other = context.new_page()
    wait_for_offline_pack(other, network)
    write_remark_without_school(page)
    kept = page.evaluate(EVERYTHING_KEPT)
    assert [name for name in NAMES if name not in kept] == []  # it is all there before, so that its absence says much
    log_out(other)
    other.get_by_role("button", name="Log out, keep them locked").click()
    expect(other.get_by_label("Password")).to_be_visible()
    expect(page.get_by_label("Password")).to_be_visible()  # the other page of this browser leaves too
    assert_nothing_in_plain(other)
    page.unroute("**/batch/")
    log_in(other, network, "cleo")
    other.wait_for_selector("html[data-ready]", state="attached")
    assert "Ballooned" not in other.evaluate(EVERYTHING_KEPT)
    assert not DeviceEvent.objects.exists()
    log_out(other)
    expect(other.get_by_label("Password")).to_be_visible()
    log_in(other, network, "bert")
    wait_until(lambda: Lesson.objects.get().remarks == REMARK)
    assert Tap.objects.get().person == transactional_cast.bert


def test_a_lost_tablet_that_is_ended_from_another_empties_itself_at_its_next_contact(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast)
    lost = open_lesson(device(), network, lesson)
    wait_until(lambda: "kept-" in str(lost.evaluate("caches.keys()")))
    write_remark_without_school(lost)
    desk = device().new_page()
    log_in(desk, network, "bert")
    desk.goto("/account/")
    desk.get_by_role("button", name="End it").click()
    expect(desk.get_by_role("button", name="End it")).to_have_count(0)
    assert "Ballooned" in lost.evaluate(EVERYTHING_KEPT)
    lost.unroute("**/batch/")
    lost.evaluate(ONLINE_SCRIPT)
    expect(lost.get_by_label("Password")).to_be_visible()
    assert_nothing_in_plain(lost)
    assert not DeviceEvent.objects.exists()
    network.on = False
    lost.goto(f"/lessons/{lesson.uid}/")
    expect(lost.locator("#tablet-said")).to_contain_text("Nobody is logged in on this tablet. 1 tap waits sealed")
    network.on = True
    log_in(lost, network, "bert")  # it was found again
    wait_until(lambda: Lesson.objects.get().remarks == REMARK)


def test_kept_pages_open_for_as_long_as_the_school_says_and_no_longer(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast)
    page = open_lesson(device(), network, lesson)
    wait_until(lambda: page.evaluate(f"caches.match('/lessons/{lesson.uid}/').then(Boolean)"))
    write_remark_without_school(page)
    network.on = False
    page.evaluate(f"{AN_HOUR_BACK}(23)")
    page.reload()
    expect(page.locator("#l-remarks")).to_have_value(REMARK)
    page.evaluate(f"{AN_HOUR_BACK}(1)")
    page.goto(f"/lessons/{lesson.uid}/")
    expect(page.locator("#tablet-said")).to_contain_text("after 24 hours without contact. Log in with network.")
    expect(page.locator("#tablet-said")).to_contain_text("1 tap waits sealed")
    assert_nothing_in_plain(page)
    network.on = True
    page.unroute("**/batch/")
    page.goto("/lessons/")  # the school knows who is logged in, and gives the key to nobody else
    wait_until(lambda: Lesson.objects.get().remarks == REMARK)


def test_back_shows_nothing_after_logging_out(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    page = enter("amelia", TABLET)
    page.goto("/students/")
    page.get_by_label("Name or number").fill("Dora")
    expect(page).to_have_url(re.compile("q=Dora"))
    page.goto("/students/?q=Dora")
    expect(page.get_by_text("Dora Example").first).to_be_visible()
    log_out(page)
    expect(page.get_by_label("Password")).to_be_visible()
    assert page.evaluate("JSON.stringify(localStorage) + JSON.stringify(sessionStorage)").count("Dora") == 0
    for _ in range(2):
        page.go_back()
        expect(page.get_by_label("Password")).to_be_visible()
        assert "Dora Example" not in page.content()

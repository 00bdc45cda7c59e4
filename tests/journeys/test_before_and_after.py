"""Before and after the circuits: solo without release, a wind cleared left to right, refusals where the finger was."""

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from grading.actions import discarding
from grading.models import Tap
from grading.pages import offline_pack
from lessons.models import Lesson
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.journeys.devices import (
    ONLINE_SCRIPT,
    PHONE,
    TABLET,
    NewDevice,
    OpenPage,
    assert_no_sideways_scroll,
    log_in,
    wait_for_offline_pack,
    wait_until,
)
from tests.journeys.network import Network

REASON = "Her instructor fell ill and asked me to supervise."
IN_VIEW = """(element) => { const box = element.getBoundingClientRect();
    const at = (y) => element.contains(document.elementFromPoint(box.left + 5, y));
    return at(box.top + 3) && at(box.bottom - 3); }"""


def in_view(page: Page, place: str) -> bool:
    return bool(page.locator(place).evaluate(IN_VIEW))


def open_ready(page: Page, lesson: Lesson) -> None:
    page.goto(f"/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")


def write(page: Page, field: str, value: str) -> None:
    """Type as a finger does: into the field, and on to the next one, which sends it."""
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.locator(field).fill(value)
        page.locator(field).blur()


def test_a_wind_is_cleared_from_left_to_right(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(
        cast, lesson,
        **{"lesson.wind_direction": "250", "lesson.wind_speed_kt": "10", "lesson.wind_gust_kt": "28"},
    )  # fmt: skip
    page = enter("bert", TABLET)
    open_ready(page, lesson)
    expect(page.locator("#before-flight")).to_contain_text("Wind beyond the demonstrated crosswind")
    page.get_by_text("Wind and runway").click()
    for field in ("#l-dir", "#l-speed", "#l-gust"):
        write(page, field, "")
    wait_until(lambda: Tap.objects.filter(field="lesson.wind_gust_kt", after="").exists())
    lesson.refresh_from_db()
    assert (lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt) == (None, None, None)
    expect(page.locator("#before-flight")).to_be_empty()
    expect(page.locator("#missing")).not_to_contain_text("A wind has a speed")
    expect(page.locator("#notes-list li")).to_have_count(0)


def test_a_refused_entry_is_said_at_its_field_and_read_aloud(transactional_cast: Cast, enter: OpenPage) -> None:
    page = enter("bert", TABLET)
    open_ready(page, begin_lesson(transactional_cast))
    write(page, "#l-off", "29:99")
    said = page.locator("#l-off ~ [role=alert]")
    expect(said).to_contain_text("is not a time")
    assert in_view(page, "#l-off ~ [role=alert]")
    expect(page.locator("#l-off")).to_have_attribute("aria-invalid", "true")
    assert page.locator("#l-off").get_attribute("aria-describedby") == said.get_attribute("id")
    # Nothing typed is lost, on a page that is loaded again either.
    page.reload()
    page.wait_for_selector("html[data-ready]", state="attached")
    expect(page.locator("#l-off")).to_have_value("29:99")
    expect(said).to_contain_text("is not a time")
    write(page, "#l-off", "09:05")
    expect(said).to_have_count(0)
    expect(page.locator("#l-off")).not_to_have_attribute("aria-invalid", "true")


def test_a_wrong_password_is_said_in_view_with_the_focus_in_the_field(
    transactional_cast: Cast, enter: OpenPage
) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.off_blocks": "09:05", "lesson.on_blocks": "10:00"})
    record_circuit(cast, lesson, 1)
    for size in (TABLET, PHONE):
        page = enter("bert", size)
        open_ready(page, lesson)
        write(page, "#l-remarks", f"Held the centre line, {size[0]}.")
        page.get_by_label("Your password").fill("wrong")
        page.get_by_role("button", name="Sign lesson 1").click()
        expect(page.locator("#secret-error")).to_contain_text("Wrong password")
        page.wait_for_selector("html[data-ready]", state="attached")
        expect(page.locator("#secret")).to_be_focused()
        assert in_view(page, "#secret-error")
        expect(page.locator("#l-remarks")).to_have_value(f"Held the centre line, {size[0]}.")
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    expect(page.get_by_text("Off blocks 09:05, on blocks 10:00 UTC")).to_be_visible()
    lesson.refresh_from_db()
    assert (lesson.is_signed, lesson.dual_minutes) == (True, 55)


def begin_solo(page: Page, cast: Cast) -> None:
    page.goto(f"/lessons/begin/{cast.enrolment.uid}/")
    page.get_by_label("Unit").select_option(label=str(cast.units[17]))
    page.get_by_label("Aircraft").select_option(index=1)
    page.get_by_role("button", name="Open the lesson").click()
    expect(page.locator("#before-flight.unreleased")).to_contain_text("Not released for this solo")
    assert not Lesson.objects.exists()
    assert_no_sideways_scroll(page)
    page.get_by_label("Why this solo is flown anyway").fill(REASON)
    page.get_by_role("button", name="Open the lesson").click()
    expect(page.locator("#before-flight.unreleased")).to_contain_text(f"Begun anyway: {REASON}")
    assert Lesson.objects.get().outside_release == REASON
    discarding.discard_lesson(lesson=Lesson.objects.get(), reason="Rain", by=cast.bert, at=timezone.now())


def test_a_solo_without_release_is_begun_with_a_reason_only(transactional_cast: Cast, enter: OpenPage) -> None:
    begin_solo(enter("bert", TABLET), transactional_cast)
    begin_solo(enter("bert", PHONE, script=False), transactional_cast)


def test_a_tablet_without_network_asks_for_the_reason_too(
    transactional_cast: Cast, device: NewDevice, network: Network, monkeypatch: pytest.MonkeyPatch
) -> None:
    cast = transactional_cast
    monkeypatch.setattr(offline_pack, "UNIT_OFFSETS", (0, 16))  # the server is in this process
    page = device().new_page()
    log_in(page, network, "bert")
    wait_for_offline_pack(page, network)
    network.on = False
    page.goto("/tablet/")
    page.get_by_label("Student").select_option(label="Dora Example")
    page.get_by_label("Aircraft").select_option(index=0)
    reason = page.get_by_label("Why this solo is flown anyway")
    expect(reason).to_be_hidden()
    page.get_by_label("Unit").select_option(label=str(cast.units[17]))
    expect(reason).to_be_visible()
    page.get_by_role("button", name="Open the lesson").click()
    expect(page).to_have_url(f"{network.url}/tablet/")
    reason.fill(REASON)
    page.get_by_role("button", name="Open the lesson").click()
    page.wait_for_url("**/lessons/*/")
    expect(page.locator("#before-flight.unreleased")).to_contain_text("Not released for this solo")
    expect(page.locator("#l-outside")).to_have_value(REASON)
    page.wait_for_selector("html[data-ready]", state="attached")
    network.on = True
    page.evaluate(ONLINE_SCRIPT)
    wait_until(lambda: Lesson.objects.filter(outside_release=REASON).exists())

"""Each role by keyboard alone: every stop shows itself and is not covered.

Source: WCAG 2.2, criteria 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11 and 4.1.3 (numbers from memory).
"""

from playwright.sync_api import Locator, Page, expect

from grading.models import Attempt, Release, Sheet, Signature
from lessons.models import Lesson
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_entries
from tests.journeys.devices import DESKTOP, ONLINE_SCRIPT, PHONE, TABLET, OpenPage, wait_until
from tests.ready_student import make_ready

# A stop of the keyboard: whether it shows that it has the focus, and whether any of it can be seen.
STOP = """() => {
    const here = document.activeElement, box = here.getBoundingClientRect(), label = here.closest("label");
    const ring = (style) => parseFloat(style.outlineWidth) > 0 && style.outlineStyle !== "none";
    const ringed = [[here], [here, "::after"], [label ?? here], [here.parentElement]].some((one) =>
        ring(getComputedStyle(...one)));
    const inside = (x, y) => {
        const top = document.elementFromPoint(box.left + box.width * x, box.top + box.height * y);
        return top && (here.contains(top) || top.contains(here) || label?.contains(top)); };
    const seen = [[.5, .5], [.1, .2], [.9, .2], [.1, .8], [.9, .8]].some(([x, y]) => inside(x, y));
    return { name: here.outerHTML.slice(0, 90), seen: seen || box.width <= 1, ringed }; }"""


def move_focus_to(page: Page, target: Locator, key: str = "Tab", most: int = 160) -> None:
    """Press a key until the target has the focus; every stop on the way must show itself."""
    expect(target.first).to_be_attached()
    for _ in range(most):
        page.keyboard.press(key)
        stop = page.evaluate(STOP)
        assert stop["ringed"], stop["name"]
        assert stop["seen"], stop["name"]
        if target.first.evaluate("(one) => one === document.activeElement"):
            return
    raise AssertionError(f"{most} presses of {key} do not lead there")


def test_instructor_grades_closes_and_signs(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0:54"})
    page = enter("bert", TABLET)
    move_focus_to(page, page.get_by_role("link", name="Dora Example, lesson 1"))
    page.keyboard.press("Enter")
    page.wait_for_selector("html[data-ready]", state="attached")
    move_focus_to(page, page.get_by_role("link", name="Open the circuit pad"))
    page.keyboard.press("Enter")
    for part in ("takeoff", "downwind", "approach", "landing"):
        level = page.locator(f"#circuit-1-{part}-practice")
        move_focus_to(page, page.locator(f"#circuit-1-{part}-describe"))
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        expect(level).to_be_focused()
        expect(page.locator("#saved")).to_contain_text("All saved in the school’s record")
        expect(level).to_be_focused()  # the answer put pieces of the page in anew; the focus stays
    move_focus_to(page, page.locator("#close-key"))
    page.keyboard.press("Enter")
    expect(page.locator("#closed li")).to_have_count(1)
    expect(page.locator("#close-key")).to_be_focused()
    move_focus_to(page, page.get_by_role("link", name="Back to lesson 1"), key="Shift+Tab")
    page.keyboard.press("Enter")
    # Until it is drawn at its anchor, the browser goes there once more and drops the focus.
    page.wait_for_url("**/#grades", wait_until="load")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    move_focus_to(page, page.get_by_label("Your password"), most=220)
    page.keyboard.type(SECRET)
    page.keyboard.press("Enter")
    expect(page.get_by_text("signed").first).to_be_visible()
    assert Lesson.objects.get().is_signed
    assert list(Attempt.objects.order_by("part").values_list("level", flat=True)) == ["practice"] * 4


def test_the_words_about_saving_are_one_region_that_is_listened_to(transactional_cast: Cast, enter: OpenPage) -> None:
    lesson = begin_lesson(transactional_cast)
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.evaluate("window.heard = []; window.region = document.getElementById('saved');"
                  " new MutationObserver(() => heard.push(region.textContent)).observe(region,"
                  " { childList: true, subtree: true, characterData: true })")  # fmt: skip
    for level in ("practice", "perform"):
        page.locator(f"#circuit-1-landing-{level}").evaluate("(one) => one.click()")
        wait_until(lambda: "All saved" in page.locator("#saved").inner_text())
    assert page.evaluate("region === document.getElementById('saved') && region.getAttribute('role') === 'status'")
    heard = page.evaluate("heard")
    assert "Saving" in heard
    assert any("All saved" in words for words in heard)


def test_a_stop_without_a_name_keeps_the_keyboard_when_it_is_put_in_anew(
    transactional_cast: Cast, enter: OpenPage
) -> None:
    lesson = begin_lesson(transactional_cast)
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    where = "#pad-circuit-1-landing .faults > summary"
    page.locator(where).focus()
    page.evaluate("window.old = document.activeElement, 0")
    record_entries(transactional_cast, lesson, **{"circuit.1.landing.level": "practice"})  # from another device
    page.evaluate(ONLINE_SCRIPT)
    expect(page.locator("#circuit-1-landing-practice")).to_be_checked()
    assert page.evaluate("!window.old.isConnected")
    expect(page.locator(where)).to_be_focused()


def test_chief_reads_the_reasons_and_releases(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    make_ready(cast)
    page = enter("amelia", DESKTOP)
    move_focus_to(page, page.get_by_role("link", name="Dora Example"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/students/*/")
    move_focus_to(page, page.locator("form[action$='/release/'] input[type=password]"), most=220)
    page.keyboard.type(SECRET)
    page.keyboard.press("Enter")
    wait_until(lambda: Release.objects.exists())


def test_student_reads_where_they_stand_and_signs(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = fly_lesson(cast, circuits=1)
    page = enter("dora", PHONE)
    move_focus_to(page, page.get_by_role("link", name=f"Read and sign lesson {lesson.number}"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/lessons/*/**")
    move_focus_to(page, page.locator("form[action$='/acknowledge/'] input[type=password]"), most=220)
    page.keyboard.type(SECRET)
    page.keyboard.press("Enter")
    wait_until(lambda: Signature.objects.filter(person=cast.dora).exists())


def test_admin_prints(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast, circuits=1, days_ago=1)
    page = enter("frida", DESKTOP)
    move_focus_to(page, page.get_by_role("link", name="Records"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/records/")
    move_focus_to(page, page.locator(f"a[href='/records/{cast.enrolment.uid}/']"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/records/*/")
    move_focus_to(page, page.locator("form[action$='/sheets/'] button").first, most=220)
    page.keyboard.press("Enter")
    wait_until(lambda: Sheet.objects.exists(), 60)

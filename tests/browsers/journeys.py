"""What an instructor does on a tablet, in another make of browser: nothing is lost, nothing is doubled."""

from typing import Any

from grading.models import Attempt, DeviceEvent, FaultSeen, Signature, Tap
from lessons.models import Lesson
from tests.browsers.conftest import see
from tests.browsers.engines import Engine
from tests.browsers.webdriver import Page
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.journeys.network import Network

ALL_SAVED = "All saved in the school’s record"
LOGIN_NAME, PASSWORD = "form.narrowform input[autocomplete^=username]", "form.narrowform input[type=password]"
LOG_OUT = ("#person-menu > summary", "#person-menu form[data-leave] button")
# As a browser does it that is short of room, or somebody who clears its data.
CLEAR = """(async () => {
    for (const { name } of await indexedDB.databases()) indexedDB.deleteDatabase(name);
    for (const name of await caches.keys()) await caches.delete(name);
    return true; })()"""
# Keys of the pad that cannot be touched where they are drawn, and whatever sticks out sideways.
UNREACHABLE = """[...document.querySelectorAll("#pad button, #pad label.key, #pad summary")]
    .filter((key) => key.checkVisibility({ visibilityProperty: true }) && key.getBoundingClientRect().width)
    .filter((key) => { const box = key.getBoundingClientRect();
        const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        const outside = box.right > innerWidth + 1 || box.bottom > innerHeight + 1;
        return outside || !top || !(key === top || key.contains(top));
    }).map((key) => key.outerHTML.slice(0, 160))"""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def log_in(page: Page, network: Network, username: str = "bert") -> None:
    page.opened(f"{network.url}/login/", PASSWORD)
    page.type(LOGIN_NAME, username)
    page.type(PASSWORD, SECRET)
    page.touch("form.narrowform button.main")
    page.wait_for("#person-menu")


def open_lesson(page: Page, network: Network, lesson: Lesson, place: str = "") -> None:
    page.opened(f"{network.url}/lessons/{lesson.uid}/{place}")


def bring_the_day(page: Page, network: Network) -> None:
    page.opened(f"{network.url}/lessons/", "html[data-stocked]")


def touch_key(page: Page, identity: str) -> None:
    page.touch(f"label.key:has(#{identity})")


def go_online(page: Page, network: Network) -> None:
    network.on = True
    page.run("dispatchEvent(new Event('online'))")
    page.wait_for_text("#saved", ALL_SAVED)


def test_a_lesson_is_tapped_on_the_pad_and_signed(transactional_cast: Cast, engine: Engine, network: Network) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    open_lesson(page, network, lesson, "#circuits")
    see(engine, "pad")
    assert page.run(UNREACHABLE) == []
    assert page.run(SIDEWAYS) == 0
    for part in ("takeoff", "downwind", "approach", "landing"):
        touch_key(page, f"circuit-1-{part}-practice")
    touch_key(page, "circuit-1-landing-help-prompted")
    page.touch(".part[data-part=landing] .faults > summary")
    page.touch(".part[data-part=landing] label:has(#circuit-1-landing-bounced)")
    page.touch("#close-key")
    page.wait_for("#now[data-number='2']")
    page.wait_for_text("#saved", ALL_SAVED)
    see(engine, "second-circuit")
    assert set(Attempt.objects.values_list("part", "level", "help")) >= {
        ("takeoff", "practice", "none"), ("approach", "practice", "none"), ("landing", "practice", "prompted")
    }  # fmt: skip
    assert FaultSeen.objects.count() == 1
    assert [event.outcome for event in DeviceEvent.objects.all()] == ["applied"] * DeviceEvent.objects.count()

    open_lesson(page, network, lesson)
    page.type("#l-dual", "0.9")
    page.run("document.activeElement.blur()")
    page.wait_for_text("#saved", ALL_SAVED)
    page.wait_until(lambda: Lesson.objects.get().dual_minutes == 54, "the time of the lesson")
    see(engine, "lesson")
    x, y = page.place(".drawn canvas")
    page.draw([(x - 90, y), (x, y + 20), (x + 90, y - 10)])
    page.wait_until(lambda: page.run("document.querySelector('input[name=drawn]').value"), "the drawing")
    see(engine, "signature")
    page.type("#sign input[type=password]", SECRET)
    page.touch("#sign form button.btn:not([data-clear])")
    page.wait_until(lambda: Signature.objects.exists(), "the signature")
    page.wait_for_text("main", "Instructor: signed")
    assert Signature.objects.get().drawn
    see(engine, "signed")


def test_taps_without_network_survive_the_killing_of_the_browser(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    bring_the_day(page, network)
    network.on = False
    open_lesson(page, network, lesson, "#circuits")
    touch_key(page, "circuit-1-landing-perform")
    page.wait_for_text("#saved", "1 tap waits on this tablet")
    touch_key(page, "circuit-1-takeoff-practice")
    page.wait_for_text("#saved", "2 taps wait on this tablet")
    engine.kill()

    page = engine.open()
    page.opened(f"{network.url}/", "#tablet")
    page.wait_for_text("h1", "Lessons on this tablet")
    page.wait_for_text("#tablet-said", "2 taps wait")
    see(engine, "without-network")
    page.touch("#tablet-lessons a")
    page.wait_for("main[data-lesson]")
    page.wait_for("html[data-ready]")
    page.wait_for_text("#as-of", "No contact with the school")
    page.wait_for_text("#saved", "2 taps wait on this tablet")
    assert page.checked("circuit-1-landing-perform")
    see(engine, "kept-lesson")
    touch_key_unseen(page, "circuit-1-approach-practice")
    page.wait_for_text("#saved", "3 taps wait on this tablet")
    assert not Tap.objects.exists()
    go_online(page, network)
    assert [(one.sequence, one.outcome) for one in DeviceEvent.objects.order_by("id")] == [
        (1, "applied"), (2, "applied"), (3, "applied")
    ]  # fmt: skip
    assert DeviceEvent.objects.values("device").distinct().count() == 1
    assert set(Attempt.objects.values_list("part", "level")) == {
        ("landing", "perform"), ("takeoff", "practice"), ("approach", "practice")
    }  # fmt: skip


def touch_key_unseen(page: Page, identity: str) -> None:
    """Where the pad is closed: through the page's own input."""
    page.run("document.getElementById(values[0]).click()", identity)


def test_a_lost_answer_is_asked_for_again_and_applied_once(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    open_lesson(page, network, lesson, "#circuits")
    network.lose = 2
    touch_key(page, "circuit-1-landing-perform")
    page.wait_until(lambda: network.lost == 2, "two lost answers")
    page.wait_for_text("#saved", ALL_SAVED)
    assert Tap.objects.count() == DeviceEvent.objects.count() == 1


def test_a_storage_cleared_under_an_open_lesson_is_put_back_and_said(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    open_lesson(page, network, lesson)
    page.wait_for("html[data-stocked]")
    network.on = False
    for part in ("landing", "takeoff"):
        touch_key_unseen(page, f"circuit-1-{part}-perform")
    page.wait_for_text("#saved", "2 taps wait on this tablet")
    page.run(CLEAR)
    page.wait_for_text("#alarm", "cleared while this page was open. 2 taps are kept from this page")
    see(engine, "cleared")
    go_online(page, network)
    assert list(DeviceEvent.objects.order_by("pk").values_list("sequence", "outcome")) == [
        (1, "applied"), (2, "applied")
    ]  # fmt: skip


def test_what_the_browser_does_not_promise_is_said_while_taps_wait(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    open_lesson(page, network, lesson)
    page.wait_for("html[data-stocked]")  # offline works, whatever becomes of a question to the person
    promised = page.run("navigator.storage?.persisted() ?? false")
    network.on = False
    touch_key_unseen(page, "circuit-1-landing-perform")
    page.wait_for_text("#saved", "1 tap waits on this tablet")
    page.wait_for_text("#saved", "sent")
    if not promised:
        page.wait_for_text("#notes", "This browser may clear its storage")
    see(engine, "not-promised")
    go_online(page, network)


def test_logging_out_locks_what_waits_and_its_person_gets_it_back(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    log_in(page, network)
    open_lesson(page, network, lesson)
    page.wait_for("html[data-stocked]")
    network.fail = 1.0  # batches are lost, everything else comes through
    touch_key_unseen(page, "circuit-1-landing-perform")
    page.wait_for_text("#saved", "1 tap waits")
    page.opened(f"{network.url}/lessons/")
    for key in LOG_OUT:
        page.touch(key)
    page.wait_for_text("#alarm", "1 tap waits on this tablet. They are yours and stay locked")
    see(engine, "log-out")
    page.touch("#alarm button:last-of-type")
    page.wait_for(PASSWORD)
    kept = page.run("caches.keys()")
    assert not [name for name in kept if name.startswith("kept-")]
    network.fail = 0.0
    before = Tap.objects.count()
    log_in(page, network, "cleo")
    page.opened(f"{network.url}/tablet/")
    page.wait_for_text("#tablet-said", "sealed until their person logs in")
    assert "Dora" not in page.text("main")
    page.opened(f"{network.url}/lessons/")
    for key in LOG_OUT:
        page.touch(key)
    page.wait_for(PASSWORD)
    log_in(page, network)
    page.wait_until(lambda: Tap.objects.count() == 1, "the tap that was locked")
    assert before <= 1
    assert Tap.objects.get().person == transactional_cast.bert


def test_a_lesson_is_begun_without_network(transactional_cast: Cast, engine: Engine, network: Network) -> None:
    page = engine.open()
    log_in(page, network)
    bring_the_day(page, network)
    network.on = False
    page.opened(f"{network.url}/tablet/", "#here-student option")
    emil = page.run("[...document.querySelectorAll('#here-student option')].find((one) => /Emil/.test(one.text)).value")
    page.run(
        "(() => { const one = document.getElementById('here-student'); one.value = values[0];"
        " one.dispatchEvent(new Event('change', { bubbles: true })); return true; })()",
        emil,
    )
    page.touch("#begin-here button")
    page.wait_for("main[data-lesson]")
    page.wait_for("html[data-ready]")
    page.type("#l-remarks", "Walked around.")
    page.run("document.activeElement.blur()")
    page.wait_for_text("#saved", "2 taps wait on this tablet")
    go_online(page, network)
    begun: Any = Lesson.objects.get()
    assert (begun.enrolment, begun.instructor, begun.remarks) == (
        transactional_cast.other_enrolment, transactional_cast.bert, "Walked around."
    )  # fmt: skip


def test_a_lesson_that_was_begun_before_can_be_signed_by_its_student(
    transactional_cast: Cast, engine: Engine, network: Network
) -> None:
    lesson, page = begin_lesson(transactional_cast), engine.open()
    record_entries(transactional_cast, lesson, **{"lesson.dual_minutes": "0.9"})
    record_circuit(transactional_cast, lesson, 1)
    log_in(page, network)
    open_lesson(page, network, lesson)
    page.type("#sign input[type=password]", SECRET)
    page.touch("#sign form button.btn:not([data-clear])")
    page.wait_for_text("main", "Instructor: signed")
    for key in LOG_OUT:
        page.touch(key)
    page.wait_for(PASSWORD)
    log_in(page, network, "dora")
    page.open(f"{network.url}/lessons/{lesson.uid}/")
    page.type("main input[type=password]", SECRET)
    page.touch("main form:has(input[type=password]) button[value=signed]")
    page.wait_for_text("main", "Student: signed")
    assert Signature.objects.count() == 2

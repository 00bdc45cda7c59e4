"""An instructor on the apron without network: nothing is lost, nothing is doubled, nobody else sees it."""

from pathlib import Path

from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from grading.models import Attempt, CriterionSeen, DeviceEvent, FaultSeen, Measure, Tap
from lessons.models import Lesson
from school.models import Person
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.journeys.devices import (
    ONLINE_SCRIPT,
    PRESS_KEYS_SCRIPT,
    NewDevice,
    Server,
    Tablet,
    log_in,
    log_out,
    open_lesson,
    wait_for_offline_pack,
    wait_until,
    wait_until_saved,
)
from tests.journeys.network import Network


def circuit_key_ids(number: int) -> list[str]:
    """Ten presses: levels, helps, a fault, a criterion, the ending, and the key that closes it."""
    ids = [f"circuit-{number}-{part}-practice" for part in ("takeoff", "approach", "landing")]
    ids += [f"circuit-{number}-{part}-help-prompted" for part in ("takeoff", "approach", "landing")]
    ids += [f"circuit-{number}-landing-bounced", f"circuit.{number}.landing.criterion.held-not_done"]
    return [*ids, "ending-full_stop" if number % 2 else "ending-touch_and_go", "close-key"]


def test_sixty_taps_after_a_start_without_network_survive_the_killing_of_the_browser(
    transactional_cast: Cast, tablet: Tablet, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast)
    record_entries(transactional_cast, lesson, **{"lesson.next_time": "Hold the speed"})
    before = Tap.objects.count()
    page = tablet.open()
    log_in(page, network, "bert")
    wait_for_offline_pack(page, network)
    network.on = False
    tablet.close()

    page = tablet.open()
    page.goto(f"{network.url}/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Lessons on this tablet")
    page.get_by_role("link", name="Dora Example, lesson 1").click()
    expect(page.locator("#as-of")).to_contain_text("No contact with the school")
    expect(page.locator("#l-next")).to_have_value("Hold the speed")
    expect(page.locator("#sign-waits")).to_be_visible()
    expect(page.get_by_role("button", name="Sign lesson 1")).to_be_hidden()
    page.wait_for_selector("html[data-ready]", state="attached")
    pressed = [name for number in range(1, 6) for name in circuit_key_ids(number) if name != "ending-full_stop"]
    page.evaluate(PRESS_KEYS_SCRIPT, pressed)
    page.get_by_role("link", name="Open the circuit pad").click()
    page.locator("#pad-circuit-6-approach summary", has_text="Numbers").click()
    page.locator('[id="circuit.6.approach.measure.final.speed"]').fill("81")
    page.locator('[id="circuit.6.approach.measure.final.speed"]').blur()
    page.get_by_role("link", name="Back to lesson 1").click()
    more = {
        "#l-dual": "1.1",
        "#l-remarks": "Flared high twice, then held off longer.",
        "#l-off": "13:05",
        "#l-on": "14:11",
    }
    for field, value in more.items():
        page.locator(field).fill(value)
        page.locator(field).blur()
    page.evaluate(PRESS_KEYS_SCRIPT, [f"circuit-6-{part}-perform" for part in ("takeoff", "approach", "landing")])
    page.evaluate(
        PRESS_KEYS_SCRIPT,
        [
            "close-key",
            "ending-touch_and_go",
            "circuit-7-takeoff-perform",
            "circuit-7-approach-perform",
            "circuit-7-landing-floated",
        ],
    )
    count = len(pressed) + 1 + len(more) + 3 + 5
    assert count == 60
    expect(page.locator("#saved")).to_contain_text("60 taps wait on this tablet")
    tablet.kill()

    page = tablet.open()
    page.goto(f"{network.url}/lessons/{lesson.uid}/")
    expect(page.locator("#saved")).to_contain_text("60 taps wait on this tablet")
    expect(page.locator("#pad-name")).to_have_text("Circuit 7")
    assert page.locator("#closed > li").count() == 6
    expect(page.locator("#circuit-7-landing-floated")).to_be_checked()
    expect(page.locator("#l-dual")).to_have_value("1.1")
    assert Tap.objects.count() == before
    network.on = True
    wait_until_saved(page)
    expect(page.locator("#sign-waits")).to_be_hidden()
    expect(page.locator("#as-of")).to_be_hidden()

    events = list(DeviceEvent.objects.order_by("id"))
    assert [event.sequence for event in events] == list(range(1, 61))
    assert {event.outcome for event in events} == {"applied"}
    taps = list(Tap.objects.order_by("id").values_list("uid", flat=True))[before:]
    assert taps == [event.uid for event in events]
    lesson.refresh_from_db()
    assert (lesson.dual_minutes, lesson.remarks[:11], lesson.circuits.count()) == (66, "Flared high", 7)
    assert Attempt.objects.filter(level="practice", help="prompted").count() == 15
    assert Attempt.objects.filter(level="perform").count() == 5
    assert (FaultSeen.objects.count(), CriterionSeen.objects.count(), Measure.objects.get().value) == (6, 5, 81)


def test_a_lesson_is_begun_without_network(transactional_cast: Cast, device: NewDevice, network: Network) -> None:
    cast = transactional_cast
    # What the blank page has where the lesson's number will be: in a person's text it stays as it is.
    family_name = "00000000-0000-0000-0000-000000000000"
    Person.objects.filter(pk=cast.emil.pk).update(family_name=family_name)
    page = device().new_page()
    log_in(page, network, "bert")
    wait_for_offline_pack(page, network)
    network.on = False
    page.goto("/tablet/")
    page.get_by_label("Student").select_option(label=f"Emil {family_name}")
    page.get_by_label("Aircraft").select_option(index=0)
    page.get_by_role("button", name="Open the lesson").click()
    page.wait_for_url("**/lessons/*/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("The aeroplane and the aerodrome")
    expect(page.locator("body")).to_contain_text(f"Emil {family_name}")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.locator("#l-remarks").fill("Walked around the aeroplane.")
    page.locator("#l-remarks").blur()
    expect(page.locator("#saved")).to_contain_text("2 taps wait on this tablet")
    page.locator("#ready-key").click()
    expect(page.locator("#ready-key")).to_have_attribute("aria-pressed", "true")
    page.goto("/lessons/")
    expect(page.locator("#tablet-lessons")).to_contain_text("ready to sign")
    network.on = True
    page.evaluate(ONLINE_SCRIPT)
    wait_until(lambda: Lesson.objects.filter(remarks="Walked around the aeroplane.").exists())
    lesson = Lesson.objects.get()
    assert (lesson.enrolment, lesson.instructor, lesson.number) == (cast.other_enrolment, cast.bert, 1)
    page.goto("/lessons/")
    expect(page.locator("#writing li").first).to_contain_text("Ready to sign")


def test_a_lost_answer_is_asked_for_again_and_applied_once(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast))
    network.lose = 2
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    wait_until(lambda: network.lost == 1)
    page.evaluate(ONLINE_SCRIPT)
    wait_until(lambda: network.lost == 2)
    wait_until_saved(page)
    assert network.batches >= 3
    assert Tap.objects.count() == DeviceEvent.objects.count() == 1


def test_five_hundred_taps_over_a_network_that_fails(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast))
    network.fail = 0.03
    pressed, meant = [], []
    for turn in range(125):
        level, help_, seen = (("practice", "prompted", "on"), ("perform", "none", ""))[turn % 2]
        pressed += [f"level:{level}", f"help:{help_}", "fault.bounced", "fault.floated"]
        meant += [("level", level), ("help", help_), ("fault.bounced", seen), ("fault.floated", seen)]
    # A second touch on a key of help takes it back.
    pressed = [name.replace("help:none", "help:prompted") for name in pressed]
    names = {"level:": "", "help:": "help-", "fault.": ""}
    for start, put in names.items():
        pressed = [
            f"circuit-1-landing-{put}{name.removeprefix(start)}" if name.startswith(start) else name for name in pressed
        ]
    page.evaluate(
        "async (ids) => { for (const id of ids) { document.getElementById(id).click();"
        " await new Promise((done) => setTimeout(done, 4)); } }",
        pressed,
    )

    def all_there() -> bool:
        page.wait_for_timeout(100)
        said = page.locator("#saved").inner_text()
        if "No contact" in said:
            page.evaluate(ONLINE_SCRIPT)
        return "All saved in the school" in said

    wait_until(all_there, 60)
    assert network.lost >= 5
    taps = list(Tap.objects.order_by("id").values_list("uid", flat=True))
    events = list(DeviceEvent.objects.order_by("id"))
    assert [event.sequence for event in events] == list(range(1, len(events) + 1))
    assert [(event.field.removeprefix("circuit.1.landing."), event.value) for event in events] == meant
    assert len(meant) == 500
    assert taps == [event.uid for event in events]
    last = Attempt.objects.get(part="landing")
    assert (last.level, last.help, last.faults_seen.count()) == ("practice", "prompted", 2)


def test_undo_of_a_tap_that_waits(transactional_cast: Cast, device: NewDevice, network: Network) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast))
    network.on = False
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#undo")).to_contain_text("landing level: perform")
    page.locator("#undo-key").click()
    expect(page.locator("#circuit-1-landing-perform")).not_to_be_checked()
    expect(page.locator("#saved")).to_contain_text("2 taps wait on this tablet")
    network.on = True
    wait_until_saved(page)
    entry, undone = Tap.objects.order_by("id")
    assert (entry.after, undone.undoes, undone.after) == ("perform", entry, "")
    assert not Lesson.objects.get().circuits.exists()


def test_a_session_that_ended_is_said_and_the_tap_sent_after_logging_in(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context = device()
    page = open_lesson(context, network, begin_lesson(transactional_cast))
    Session.objects.all().delete()
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#saved")).to_contain_text("You are logged out: log in again; nothing is lost")
    expect(page.locator("#notes a")).to_have_text("Log in again")
    assert not Tap.objects.exists()
    log_in(context.new_page(), network, "bert")
    expect(page.locator("#saved")).to_contain_text("All saved in the school’s record")
    assert Tap.objects.get().after == "perform"


def test_two_devices_are_told_of_each_other(transactional_cast: Cast, device: NewDevice, network: Network) -> None:
    lesson = begin_lesson(transactional_cast)
    first, second = (open_lesson(device(), network, lesson) for _ in range(2))
    network.on = False
    first.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-practice"])
    expect(first.locator("#saved")).to_contain_text("1 tap waits on this tablet")
    first.route("**/batch/", lambda route: route.abort())  # the first stays away a little longer
    network.on = True
    second.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    wait_until_saved(second)
    first.unroute("**/batch/")
    wait_until_saved(first)
    expect(first.locator("#notes")).to_contain_text("is newer than “practice” from this tablet")
    expect(first.locator("#circuit-1-landing-perform")).to_be_checked()
    assert Attempt.objects.get().level == "perform"
    expect(first.locator("#questions")).to_contain_text("Earlier, on the other tablet: “practice”. Which one is right?")
    first.get_by_role("button", name="Change to “practice”").click()
    expect(first.locator("#questions form")).to_have_count(0)
    expect(first.locator("#circuit-1-landing-practice")).to_be_checked()
    second.evaluate(ONLINE_SCRIPT)
    expect(second.locator("#notes")).to_contain_text("Changed on another device by Bert Example")
    expect(second.locator("#notes")).to_contain_text("landing level: practice. Before: perform")
    expect(second.locator("#circuit-1-landing-practice")).to_be_checked()
    assert Attempt.objects.get().level == "practice"
    second.get_by_role("button", name="Dismiss").click()
    expect(second.locator("#notes")).to_be_hidden()


def test_taps_of_a_lesson_signed_meanwhile_go_into_its_correction(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    context = device()
    page = open_lesson(context, network, lesson)
    network.on = False
    page.locator("#l-remarks").fill("Second landing was long.")
    page.locator("#l-remarks").blur()
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    sign_lesson(cast, lesson)
    network.on = True
    page.evaluate(ONLINE_SCRIPT)
    expect(page.locator("#notes")).to_contain_text(
        "signed meanwhile and is final. Nothing was changed in it. Not accepted: Remarks: Second landing was long."
    )
    page.goto(f"/lessons/{lesson.uid}/")
    expect(page.locator("#notes")).to_contain_text("Begin a correction below")
    page.get_by_text("Correct this lesson").click()
    page.get_by_label("What was wrong").fill("A remark was missing")
    page.get_by_role("button", name="Begin the correction").click()
    page.get_by_role("button", name="Put 1 kept tap into this lesson").click()
    wait_until(lambda: Lesson.objects.filter(version=2, remarks="Second landing was long.").exists())
    assert Lesson.objects.get(version=1).remarks == ""
    expect(page.locator("#notes")).to_be_hidden()


def test_the_next_person_on_the_tablet_sees_and_sends_nothing_of_the_last(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context = device()
    page = open_lesson(context, network, begin_lesson(transactional_cast))
    page.route("**/batch/", lambda route: route.abort())
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.locator("#saved")).to_contain_text("1 tap waits")
    page.goto("/lessons/")
    page.wait_for_selector("html[data-ready]", state="attached")
    log_out(page)
    expect(page.get_by_role("alert")).to_contain_text("1 tap waits on this tablet. They are yours and stay locked")
    page.get_by_role("button", name="Log out, keep them locked").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")
    page.unroute("**/batch/")
    log_in(page, network, "cleo")
    page.goto("/tablet/")
    expect(page.locator("#tablet-said")).to_contain_text("1 tap waits sealed until their person logs in")
    assert "Dora" not in page.locator("main").inner_text()
    assert page.evaluate("caches.keys()").count(f"kept-{transactional_cast.bert.pk}") == 0
    assert not DeviceEvent.objects.exists()
    page.goto("/lessons/")
    log_out(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")
    log_in(page, network, "bert")
    wait_until(lambda: Tap.objects.exists())
    assert Tap.objects.get().person == transactional_cast.bert


def test_a_tablet_that_keeps_nothing_says_so_before_tapping_goes_on(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    context, lesson = device(), begin_lesson(transactional_cast)
    page = open_lesson(context, network, lesson)
    full = "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); }; 0"
    page.evaluate(full)
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    expect(page.get_by_role("alert").first).to_contain_text("Not saved: this tablet has no space left")
    expect(page.locator("#circuit-1-landing-perform")).not_to_be_checked()
    context.add_init_script(full)
    page.goto(f"/lessons/{lesson.uid}/")
    expect(page.get_by_role("alert").first).to_contain_text("This tablet cannot save anything")
    expect(page.locator("main[inert]")).to_be_attached()
    page.get_by_role("button", name="Continue, with network only").click()
    page.wait_for_selector("html[data-ready]", state="attached")
    page.evaluate(PRESS_KEYS_SCRIPT, ["circuit-1-landing-perform"])
    wait_until(lambda: Tap.objects.exists())


def test_the_cover_is_closed_on_a_half_typed_remark(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    page = open_lesson(device(), network, begin_lesson(transactional_cast))
    page.locator("#l-remarks").fill("Held the cent")
    page.evaluate("dispatchEvent(new PageTransitionEvent('pagehide'))")
    wait_until(lambda: Lesson.objects.get().remarks == "Held the cent")


def test_a_server_that_is_killed_in_the_middle(
    transactional_cast: Cast, device: NewDevice, network: Network, tmp_path: Path
) -> None:
    lesson, server = begin_lesson(transactional_cast), Server(tmp_path)
    server.start()
    try:
        network.target = server.port
        wait_until(server.answers)
        page = open_lesson(device(), network, lesson)
        page.evaluate(PRESS_KEYS_SCRIPT, [*circuit_key_ids(1), *circuit_key_ids(2)])
        wait_until(lambda: DeviceEvent.objects.exists())
        server.kill()
        page.evaluate(PRESS_KEYS_SCRIPT, circuit_key_ids(3))
        server.start()
        wait_until(server.answers)
        wait_until_saved(page)
    finally:
        server.kill()
    assert [event.sequence for event in DeviceEvent.objects.order_by("id")] == list(
        range(1, DeviceEvent.objects.count() + 1)
    )
    assert lesson.circuits.filter(closed=True).count() == 3
    assert Attempt.objects.filter(level="practice", help="prompted").count() == 9

"""The circuit pad under a finger that does not look: raw touches at places that were learned once.

Counts and sizes are the school's own demand on its tablet: no published standard says how many touches a grade takes.
"""

from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Page, expect

from grading.models import Attempt, Tap
from lessons.models import Circuit, Lesson
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries
from tests.journeys.devices import ONLINE_SCRIPT, NewDevice, open_lesson, wait_until, wait_until_saved
from tests.journeys.network import Network

SIZES = {"upright": (820, 1180), "lying": (1180, 820), "phone": (390, 844)}
IN_EVERY_SIZE = pytest.mark.parametrize("size", SIZES)
PARTS = ("takeoff", "downwind", "approach", "landing")
# Every key of the pad with its place, where it can be touched.
PLACES = """() => {
    const nameOf = (key) => (key.matches(".quick") ? "quick " : "") + nameOfKey(key);
    const nameOfKey = (key) => key.querySelector("input:not([type=hidden])")?.id || key.id || key.dataset.for
        || `${key.closest("[data-part]")?.dataset.part} ${key.className} ${key.textContent.trim()}`;
    const keys = [...document.querySelectorAll("#pad button, #pad label.key, #pad summary, #pad .exact")]
        .filter((key) => key.checkVisibility({ visibilityProperty: true }));
    return Object.fromEntries(keys.map((key) => [nameOf(key), key.getBoundingClientRect()])
        .filter(([, box]) => box.width && box.height)
        .map(([name, box]) => [name.replace(/circuit.\\d+./, ""), ["x", "y", "width", "height"].map((side) =>
            Math.round(box[side]))]));
}"""


@dataclass
class Finger:
    """Touches the screen at places, and counts. It looks at the page only while it learns."""

    page: Page
    size: str
    learned: dict[str, tuple[float, float]] = field(default_factory=dict)
    touches: int = 0

    def learn(self, name: str, selector: str) -> None:
        box = self.page.locator(selector).first.bounding_box()
        assert box is not None, f"{selector} cannot be seen"
        self.learned[name] = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def learn_all(self) -> None:
        """On a fresh pad. What lies on a detail is learned while it is open, and the detail is closed again."""
        for name in ("main-key", "close-key", "pad-undo", "ending-go_around", "took-control > summary"):
            self.learn(name, f"#{name}")
        for part in PARTS:
            if self.size == "phone":
                self.learn(f"tab {part}", f".tab[data-part={part}]")
                self.touch(f"tab {part}")
            here = f".part[data-part={part}]"
            for level in ("practice", "perform"):
                self.learn(f"{part} {level}", f"{here} .level:has(input[value={level}])")
            self.learn(f"{part} prompted", f"{here} .help:has(input[value=prompted])")
            for detail in ("faults", "numbers"):
                self.learn(f"{part} {detail}", f"{here} .{detail} > summary")
        self.learn_details()
        self.touches = 0

    def learn_details(self) -> None:
        for part in ("approach", "landing"):
            self.part(part)
            self.touch(f"{part} numbers")
            for row in range(3 if part == "approach" else 1):
                self.learn(
                    f"{part} step {row}", f".part[data-part={part}] .first .nrow >> nth={row} >> .step:nth-child(4)"
                )
            self.touch(f"{part} numbers")
        if self.size == "phone":
            self.part("landing")
            self.learn("high", ".part[data-part=landing] .quick[data-for$='-round-out-high']")
        else:
            self.touch("landing faults")
            self.learn("high", ".part[data-part=landing] .first label:has(input[id$='-round-out-high'])")
            self.touch("landing faults")
        self.touch("took-control > summary")
        self.learn("took landing", "#took-control [value=landing]")
        self.touch("took-control > summary")
        self.part("takeoff")

    def touch(self, name: str) -> None:
        self.touches += 1
        self.page.touchscreen.tap(*self.learned[name])
        self.page.wait_for_timeout(30)

    def part(self, name: str) -> None:
        """On a phone one part at a time."""
        if self.size == "phone":
            self.touch(f"tab {name}")

    def fault(self) -> None:
        self.part("landing")
        if self.size != "phone":
            self.touch("landing faults")
        self.touch("high")

    def wait_for(self, number: int) -> None:
        expect(self.page.locator("#now")).to_have_attribute("data-number", str(number))

    def counted(self) -> int:
        count, self.touches = self.touches, 0
        return count


def open_pad(device: NewDevice, network: Network, lesson: Lesson, size: str) -> Finger:
    page = open_lesson(device(), network, lesson, by_hand=False)
    page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))
    show_pad(page, lesson)
    return Finger(page, size)


def show_pad(page: Page, lesson: Lesson) -> None:
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    expect(page.locator("#main-key")).to_be_visible()


def levels(number: int) -> dict[str, str]:
    rows = Attempt.objects.filter(circuit__number=number)
    return {row.part: row.tapped for row in rows if row.tapped}


GOOD = dict.fromkeys(PARTS, "perform")


@IN_EVERY_SIZE
def test_twelve_circuits_without_looking(
    transactional_cast: Cast, device: NewDevice, network: Network, size: str
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    finger = open_pad(device, network, lesson, size)
    finger.learn_all()
    for number in range(1, 13):
        part = PARTS[number % 4]
        if number == 3:
            finger.fault()
            finger.touch("landing practice")
        elif number == 7:
            finger.touch("ending-go_around")
        elif number == 8:
            finger.page.wait_for_timeout(1100)  # one touch and nothing else: not sooner than a second after the last
        else:
            finger.part(part)
            finger.touch(f"{part} perform")
        if number == 5:
            finger.part("approach")
            finger.touch("approach prompted")
        finger.touch("main-key")
        finger.touch("main-key")  # a finger that bounces closes nothing
        finger.wait_for(number + 1)
    wait_until_saved(finger.page)
    assert Circuit.objects.filter(closed=True).count() == Circuit.objects.count() == 12
    for number in range(1, 13):
        meant = GOOD
        if number == 3:
            meant = GOOD | {"landing": "practice"}
        if number == 7:
            meant = {part: "perform" for part in (*PARTS[:3], "go_around")}
        if number == 8:
            meant = {part: "perform" for part in PARTS if part != "takeoff"}
        assert levels(number) == meant, number
    (bad,) = Attempt.objects.exclude(faults_seen=None)
    assert (bad.circuit and bad.circuit.number, bad.part) == (3, "landing")
    assert Attempt.objects.get(help="prompted").circuit.number == 5  # type: ignore[union-attr]
    # What the main key gave is told apart from what was tapped.
    assert not Attempt.objects.get(circuit__number=3, part="landing").by_closing
    assert Attempt.objects.get(circuit__number=3, part="takeoff").by_closing


@IN_EVERY_SIZE
def test_no_key_moves_and_none_is_too_small(
    transactional_cast: Cast, device: NewDevice, network: Network, size: str
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    finger = open_pad(device, network, lesson, size)
    page, fresh = finger.page, finger.page.evaluate(PLACES)
    assert len(fresh) > 20
    assert {name: box for name, box in fresh.items() if min(box[2:]) < 56} == {}
    width, height = SIZES[size]
    assert all(x >= 0 and y >= 0 and x + w <= width and y + h <= height for x, y, w, h in fresh.values())
    assert page.evaluate("document.scrollingElement.scrollHeight <= innerHeight && pad.scrollHeight <= innerHeight")
    # Whatever lies on a detail is as large and within the screen.
    for detail in range(page.locator("#now details").count()):
        page.evaluate(f"document.querySelectorAll('#now details')[{detail}].open = true")
        lies = page.evaluate(PLACES)
        shown = {name: box for name, box in lies.items() if min(box[2:]) < 56 or box[0] + box[2] > width}
        assert shown == {}, detail
        assert {name: box for name, box in fresh.items() if name in lies and lies[name] != box} == {}
        page.keyboard.press("Escape")
    finger.learn_all()
    finger.touch("ending-go_around")
    page.wait_for_selector("#around[open]", state="attached")
    states = [page.evaluate(PLACES)]
    page.keyboard.press("Escape")
    finger.touch("close-key")
    # The tablet sends it in its own time, and the next circuit begins when this one is there.
    wait_until(lambda: Circuit.objects.filter(lesson=lesson, number=1, closed=True).exists())
    for number in range(2, 20):
        record_entries(transactional_cast, lesson, **{f"circuit.{number}.closed": "to_standard"})
    page.reload()
    show_pad(page, lesson)
    finger.wait_for(20)
    states.append(page.evaluate(PLACES))
    page.evaluate("document.getElementById('notes').textContent = 'x '.repeat(400), notes.hidden = false")
    states.append(page.evaluate(PLACES))
    for state in states:
        assert {name: (box, state[name]) for name, box in fresh.items() if state.get(name, box) != box} == {}


@IN_EVERY_SIZE
@pytest.mark.parametrize("flown", [0, 10])
def test_touches_are_few(transactional_cast: Cast, device: NewDevice, network: Network, size: str, flown: int) -> None:
    cast, first = transactional_cast, 1 + flown
    lesson = begin_lesson(cast, 14)
    for number in range(1, first):
        record_entries(cast, lesson, **{f"circuit.{number}.closed": "to_standard"})
    finger = open_pad(device, network, lesson, size)
    finger.learn_all()
    counted = {}

    finger.touch("main-key")
    finger.wait_for(first + 1)
    counted["good"] = finger.counted()

    finger.fault()
    finger.touch("landing practice")
    finger.touch("main-key")
    finger.wait_for(first + 2)
    counted["fault"] = finger.counted()

    finger.part("approach")
    finger.touch("approach numbers")
    for row in range(3):
        finger.touch(f"approach step {row}")
    if size == "lying":
        finger.touch("approach numbers")  # they lie over the column of the landing
    finger.part("landing")  # the numbers of the other part open with it
    if size != "phone":
        finger.touch("landing numbers")
    finger.touch("landing step 0")
    finger.touch("main-key")
    finger.wait_for(first + 3)
    counted["numbers"] = finger.counted()

    finger.touch("took-control > summary")
    finger.touch("took landing")
    finger.touch("main-key")
    finger.wait_for(first + 4)
    counted["took control"] = finger.counted()

    finger.touch("ending-go_around")
    finger.touch("main-key")
    finger.wait_for(first + 5)
    counted["go-around"] = finger.counted()
    wait_until_saved(finger.page)

    most = {"good": 1, "fault": 4, "numbers": 9, "took control": 3, "go-around": 3}
    assert {name: count for name, count in counted.items() if count > most[name]} == {}
    assert levels(first) == GOOD
    assert levels(first + 1) == GOOD | {"landing": "practice"}
    assert sum(row.measures.count() for row in Attempt.objects.filter(circuit__number=first + 2)) == 4
    taken = Attempt.objects.get(circuit__number=first + 3, part="landing")
    assert (taken.help, taken.level) == ("took_control", None)
    assert Circuit.objects.get(number=first + 3).ending == "took_control"
    assert levels(first + 4)["go_around"] == "perform"
    assert "landing" not in levels(first + 4)


def test_an_older_circuit_is_opened_changed_and_closed(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    for number in range(1, 4):
        record_entries(transactional_cast, lesson, **{f"circuit.{number}.closed": "to_standard"})
    finger = open_pad(device, network, lesson, "upright")
    page = finger.page
    finger.learn_all()
    finger.learn("second", "#closed [data-circuit='2'] a")
    finger.touch("second")
    expect(page.locator("#pad-name")).to_have_text("Circuit 2, opened again")
    expect(page.locator("#main-words")).to_have_text("Close circuit 2, back to 4")
    finger.touch("landing practice")
    expect(page.locator("#main-line")).to_have_text("Landing Practice; the rest Perform")
    finger.touch("main-key")
    finger.wait_for(4)
    wait_until_saved(page)
    assert levels(2) == GOOD | {"landing": "practice"}
    finger.touch("takeoff practice")  # goes into the circuit that is shown
    wait_until_saved(page)
    assert (levels(2)["takeoff"], levels(4)) == ("perform", {"takeoff": "practice"})


def test_nothing_is_closed_empty_or_twice_and_undo_says_what_it_takes_back(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    finger = open_pad(device, network, lesson, "upright")
    page = finger.page
    finger.learn_all()
    finger.touch("close-key")
    expect(page.locator("#pad-wrong")).to_have_text("Not closed: nothing is tapped in circuit 1.")
    assert not Tap.objects.exists()
    finger.touch("main-key")
    finger.touch("main-key")
    finger.wait_for(2)
    wait_until_saved(page)
    assert Circuit.objects.count() == 1
    expect(page.locator("#undo-words")).to_have_text("circuit 1, closed")
    finger.touch("pad-undo")
    finger.wait_for(1)
    expect(page.locator("#main-words")).to_have_text("To standard, next circuit")
    wait_until(lambda: not Circuit.objects.exists())
    page.wait_for_timeout(1100)
    finger.touch("took-control > summary")
    finger.touch("main-key")
    expect(page.locator("#pad-wrong")).to_have_text("Not closed: tap the part in which you took control.")
    finger.touch("took-control > summary")
    finger.fault()
    expect(page.locator("#main-line")).to_have_text("Landing has a fault: tap its level first")
    finger.touch("main-key")
    expect(page.locator("#pad-wrong")).to_have_text("Not closed: landing has a fault, tap its level.")
    wait_until_saved(page)
    assert not Circuit.objects.filter(closed=True).exists()


@pytest.mark.parametrize("order", ["bounce first", "go-around first"])
@pytest.mark.parametrize("away", [False, True], ids=["with network", "without network"])
def test_a_fault_in_the_landing_and_the_go_around_are_both_kept(
    transactional_cast: Cast, device: NewDevice, network: Network, order: str, away: bool
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    finger = open_pad(device, network, lesson, "upright")
    finger.learn_all()
    network.on = not away

    def land_high() -> None:
        finger.fault()
        finger.touch("landing practice")

    def go_around() -> None:
        finger.touch("ending-go_around")

    for act in (land_high, go_around) if order == "bounce first" else (go_around, land_high):
        act()
    expect(finger.page.locator("#main-line")).to_have_text("Landing Practice; the rest Perform")
    finger.touch("main-key")
    finger.wait_for(2)
    expect(finger.page.locator(".part[data-part=takeoff] .none")).to_have_text(
        "No takeoff: the circuit before ended with a go-around."
    )
    network.on = True
    finger.page.evaluate(ONLINE_SCRIPT)
    wait_until_saved(finger.page)
    assert levels(1) == GOOD | {"landing": "practice", "go_around": "perform"}
    assert Attempt.objects.get(part="landing").faults_seen.count() == 1


def test_control_that_was_taken_is_in_its_part_and_another_ending_clears_it(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    finger = open_pad(device, network, lesson, "upright")
    page = finger.page
    finger.learn_all()
    finger.touch("took-control > summary")
    finger.touch("took landing")
    expect(page.locator(".part[data-part=landing] .state")).to_have_text("took control")
    expect(page.locator("#main-line")).to_have_text("Landing took control; the rest Perform")
    finger.touch("ending-go_around")
    page.keyboard.press("Escape")
    expect(page.locator(".part[data-part=landing] .state")).to_have_text("not tapped")
    finger.touch("pad-undo")
    expect(page.locator(".part[data-part=landing] .state")).to_have_text("took control")
    wait_until_saved(page)
    assert Attempt.objects.get(part="landing").help == "took_control"
    assert Circuit.objects.get().ending == "took_control"


def test_what_the_tablet_says_a_part_counts_as_is_what_the_school_says(
    transactional_cast: Cast, device: NewDevice, network: Network
) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    record_entries(
        transactional_cast, lesson,
        **{
            "circuit.1.takeoff.level": "perform", "circuit.1.takeoff.help": "prompted",
            "circuit.1.downwind.level": "explain", "circuit.1.downwind.fault.circuit-lookout": "on",
            "circuit.1.approach.level": "perform", "circuit.1.approach.measure.final.height": "240",
            "circuit.1.landing.level": "perform", "circuit.1.landing.fault.bounce-chased": "on",
        },
    )  # fmt: skip
    states = [f".part[data-part={part}] .state" for part in PARTS]
    page = open_lesson(device(java_script_enabled=True), network, lesson, by_hand=False)
    show_pad(page, lesson)
    drawn = [page.locator(state).text_content() for state in states]
    said = page.evaluate(
        "async (states) => { const page = new DOMParser().parseFromString("
        "await (await fetch(location.pathname)).text(), 'text/html');"
        " return states.map((state) => page.querySelector(state).textContent); }",
        states,
    )
    assert drawn == said
    assert drawn == ["Perform tapped, counts Practice", "Explain"] + ["Perform tapped, counts Practice"] * 2
    expect(page.locator("#main-line")).to_have_text(
        "Takeoff Practice (prompted); downwind Explain; approach Practice (60 ft high);"
        " landing Practice (bounce chased)"
    )


def test_solo_there_is_neither_help_nor_control(transactional_cast: Cast, device: NewDevice, network: Network) -> None:
    lesson = begin_lesson(transactional_cast, 17)
    page = open_lesson(device(), network, lesson, by_hand=False)
    show_pad(page, lesson)
    expect(page.locator("#pad .help")).to_have_count(0)
    expect(page.locator("#took-control, #shown")).to_have_count(0)
    page.locator("#main-key").tap()
    wait_until(lambda: levels(1) == GOOD)

"""One journey for each role, in a real browser, at the size of the device they use."""

from datetime import timedelta

from playwright.sync_api import Page, expect

from grading.models import Attempt, FaultSeen, Grade, Measure, Release, Sheet, Signature, Tap
from lessons.models import GateSet, Lesson, Syllabus
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_entries, sign_lesson
from tests.journeys.devices import DESKTOP, PHONE, TABLET, OpenPage, assert_no_sideways_scroll
from tests.ready_student import make_ready


def press_level(page: Page, part: str, level: str) -> None:
    """A tap on a level key, answered by the server."""
    with page.expect_response(lambda reply: "/entries/" in reply.url and reply.status == 200):
        page.locator(f'fieldset[id$="{part}"] label.key', has_text=level).first.click()


def test_instructor_records_and_signs_a_lesson_on_the_tablet(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    page = enter("bert", TABLET)
    page.get_by_role("link", name="Begin a lesson with Dora Example").click()
    page.get_by_label("Unit").select_option(label=str(cast.units[8]))
    page.get_by_label("Aircraft").select_option(index=1)
    page.get_by_role("button", name="Open the lesson").click()
    page.wait_for_url("**/lessons/*/")
    page.get_by_role("link", name="Open the circuit pad").click()
    for part in ("takeoff", "downwind", "approach", "landing"):
        press_level(page, f"1-{part}", "Perform")
    assert Tap.objects.count() == 4
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.locator("fieldset[id$='1-landing'] label.key", has_text="prompted").click()
    expect(page.locator("#given-landing")).to_contain_text("Practice, prompted")
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.get_by_role("button", name="Undo landing: prompted").click()
    expect(page.locator("#given-landing")).to_contain_text("Perform")
    page.get_by_role("button", name="Close as tapped").click()
    expect(page.locator("#pad-name")).to_have_text("Circuit 2")
    assert_no_sideways_scroll(page)
    page.get_by_role("link", name="Back to lesson 1").click()
    assert_no_sideways_scroll(page)
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.get_by_label("Dual").fill("0.9")
        page.get_by_label("Landings", exact=True).focus()
    expect(page.locator("#missing")).to_contain_text("Nothing is missing")
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.get_by_label("Off blocks (UTC)").fill("29:99")
        page.get_by_label("Landings", exact=True).focus()
    expect(page.locator("#notes")).to_contain_text("is not a time")
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    expect(page.get_by_text("Instructor: signed")).to_be_visible()
    lesson = Lesson.objects.get()
    assert (lesson.is_signed, lesson.dual_minutes, lesson.landings) == (True, 54, 1)
    assert Grade.objects.get(manoeuvre__code="landing").given == "perform"


MOST_TAPS = 60


def test_six_circuits_with_faults_and_numbers_in_sixty_taps(transactional_cast: Cast, enter: OpenPage) -> None:
    """Two faults, four numbers on the number pad, no page load. How long a tap takes is a figure of the benchmark."""
    lesson = begin_lesson(transactional_cast, 14)
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    loads: list[str] = []
    page.on("framenavigated", lambda frame: loads.append(frame.url))
    taps = 0

    def touch(where: str, answer: bool = True) -> None:
        nonlocal taps
        taps += 1
        if not answer:
            page.locator(where).first.click()
            return
        with page.expect_response(lambda reply: "/entries/" in reply.url) as caught:
            page.locator(where).first.click()
        assert caught.value.status == 200
        caught.value.finished()

    def number(part: str, gate: str, digits: str) -> None:
        touch(f'[id="circuit.{count}.{part}.measure.{gate}"]', answer=False)
        for digit in digits[:-1]:
            touch(f'[data-digit="{digit}"]', answer=False)
        touch(f'[data-digit="{digits[-1]}"]')

    for count in range(1, 7):
        for part, level in (("takeoff", "perform"), ("approach", "practice"), ("landing", "perform")):
            touch(f"label:has(#circuit-{count}-{part}-{level})")
        if count in (2, 4):
            part = {2: "approach", 4: "landing"}[count]
            touch(f"#pad-circuit-{count}-{part} .faults > summary", answer=False)
            fault = f"label:has(#circuit-{count}-{part}-{ {2: 'final-fast', 4: 'floated'}[count] })"
            # Opened by a script: asked too soon, a fault of the first page would be looked for on the second.
            expect(page.locator(f"#pad-circuit-{count}-{part} .faults label.fault").first).to_be_visible()
            if not page.locator(fault).is_visible():
                touch(f"#pad-circuit-{count}-{part} .faults [data-page=rest]", answer=False)
            touch(fault)
        if count == 5:
            touch(f"#pad-circuit-{count}-approach .numbers > summary", answer=False)
            number("approach", "final.height", "190")
            touch('[data-digit="done"]', answer=False)
            number("approach", "final.speed", "81")
            touch('[data-digit="done"]', answer=False)
            touch(f"#pad-circuit-{count}-landing .numbers > summary", answer=False)
            number("landing", "round-out.height", "30")
            touch('[data-digit="done"]', answer=False)
            number("landing", "touchdown.distance", "450")
            touch('[data-digit="done"]', answer=False)
        touch("#close-key")
        expect(page.locator("#pad-name")).to_have_text(f"Circuit {count + 1}")
    assert loads == []
    assert taps <= MOST_TAPS
    assert Attempt.objects.exclude(level=None).count() == 18
    assert sorted(str(row.value) for row in Measure.objects.all()) == ["190.0", "30.0", "450.0", "81.0"]
    assert FaultSeen.objects.count() == 2
    expect(page.locator("#proposal-approach")).to_contain_text("Practice")


def test_instructor_notes_a_number_with_the_step_keys(transactional_cast: Cast, enter: OpenPage) -> None:
    lesson = begin_lesson(transactional_cast)
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    page.locator("#pad-circuit-1-approach summary", has_text="Numbers").click()
    with page.expect_response(lambda reply: "/entries/" in reply.url):
        page.get_by_role("button", name="Final: speed 73 kt, 5 kt fast, within tolerance").click()
    expect(page.locator("#said-circuit-1-approach")).to_contain_text("5 kt fast, inside")
    assert Attempt.objects.get(part="approach").measures.get().value == 73


def test_a_lesson_is_recorded_without_javascript(transactional_cast: Cast, enter: OpenPage) -> None:
    lesson = begin_lesson(transactional_cast)
    page = enter("bert", TABLET, script=False)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    for part in ("takeoff", "downwind", "approach", "landing"):
        page.locator(f"#circuit-1-{part}-perform").locator("..").click()
    page.get_by_role("button", name="Close as tapped").click()
    expect(page.locator("#pad-name")).to_have_text("Circuit 2")
    assert Attempt.objects.filter(level="perform").count() == 4
    # What lies over the pad opens where it is: a fault, a step, the part in which control was taken, the main key.
    page.locator("#pad-circuit-2-landing .faults > summary").click()
    page.locator("label:has(#circuit-2-landing-bounced)").click()
    page.locator("#circuit-2-landing-practice").locator("..").click()
    page.locator("#pad-circuit-2-approach .numbers > summary").click()
    page.get_by_role("button", name="Final: speed 73 kt").click()
    expect(page.locator("#said-circuit-2-landing")).to_contain_text("Cure:")
    page.locator("#main-key").click()
    expect(page.locator("#pad-name")).to_have_text("Circuit 3")
    page.locator("#took-control > summary").click()
    page.locator("#took-control [value=approach]").click()
    page.locator("#main-key").click()
    expect(page.locator("#pad-name")).to_have_text("Circuit 4")
    assert {row.part: row.tapped for row in Attempt.objects.filter(circuit__number=2)} == {
        "takeoff": "perform", "downwind": "perform", "approach": "perform", "landing": "practice",
    }  # fmt: skip
    assert Attempt.objects.get(help="took_control").part == "approach"
    assert Measure.objects.get().value == 73


def test_chief_goes_from_board_to_reason_to_release_and_withdraws(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    make_ready(cast, but="second_instructor")
    page = enter("amelia", DESKTOP)
    expect(page.get_by_role("heading", level=1)).to_contain_text("2 students in training")
    page.get_by_role("link", name="Dora Example").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("1 of 21 requirements is open")
    page.get_by_text("requirements met, each with its source").click()
    page.locator("#requirement-landings_to_standard a").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Circuit 1")
    page.go_back()
    page.get_by_label("Your password, to sign").fill(SECRET)
    page.get_by_role("button", name="Sign the release").click()
    expect(page.get_by_role("alert")).to_contain_text("write the reason")
    page.get_by_label("Reason, where a school requirement is open").fill("Flown with me")
    page.get_by_label("Your password, to sign").fill(SECRET)
    page.get_by_role("button", name="Sign the release").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Released for solo until")
    page.get_by_text("Withdraw this release").click()
    page.locator("textarea[id^=withdraw]").fill("Crosswind training first")
    page.get_by_role("button", name="Withdraw it now").click()
    expect(page.get_by_text("Withdrawn", exact=False).first).to_be_visible()
    assert not Release.objects.in_force(cast.today).exists()
    assert_no_sideways_scroll(page)


def test_chief_finds_a_student_and_changes_gates_and_syllabus(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    page = enter("amelia", DESKTOP)
    page.get_by_label("Name or number").press_sequentially("dor")
    expect(page.get_by_role("link", name="Emil Example")).to_have_count(0)
    expect(page.get_by_role("link", name="Dora Example")).to_be_visible()
    assert "q=dor" in page.url
    page.get_by_role("link", name="Syllabus", exact=True).click()
    page.get_by_role("link", name="Gates of each aircraft type").click()
    page.get_by_role("link", name="Gates of").click()
    expect(page.locator("svg.pattern")).to_have_count(2)
    page.get_by_role("link", name="Change these gates").click()
    height = page.get_by_label("Gate 9: target of the height")
    with page.expect_response(lambda reply: "/edit/" in reply.url):
        height.fill("950")
        page.get_by_label("Gate 9: target of the speed").focus()
    expect(page.locator("#checked")).to_contain_text("on the way down a gate is never higher")
    with page.expect_response(lambda reply: "/edit/" in reply.url):
        height.fill("720")
        page.get_by_label("Gate 9: target of the speed").focus()
    expect(page.locator("#checked")).to_contain_text("No errors found in these gates")
    expect(page.locator("#checked")).to_contain_text("height 720 ft")
    page.get_by_label("Why the gates change, for the journal").fill("Lower over the trees")
    page.get_by_role("button", name="Publish issue 2").click()
    expect(page.get_by_role("status").first).to_contain_text("issue 2 are published")
    page.goto(f"/syllabuses/{cast.enrolment.syllabus_id}/")
    page.get_by_role("button", name="Start the next issue from this one").click()
    page.get_by_role("link", name="Unit 8: First circuits").click()
    page.get_by_label("Aim").fill("Fly the circuit and know its gates.")
    page.get_by_role("button", name="Save in the draft").click()
    assert_no_sideways_scroll(page)
    page.get_by_label("Why the syllabus changes, for the journal").fill("A clearer aim")
    page.get_by_role("button", name="Publish issue 4").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("To first solo, issue 4")
    assert GateSet.objects.filter(issue=2).count() == Syllabus.objects.filter(issue=4).count() == 1


def test_student_reads_where_they_stand_and_signs(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    lesson = begin_lesson(cast, days_ago=1)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.next_time": "Hold the speed"})
    entries = {f"circuit.1.{part}.level": "practice" for part in ("takeoff", "downwind", "approach", "landing")}
    record_entries(cast, lesson, **entries, **{"circuit.1.landing.fault.bounced": "on", "circuit.1.closed": "on"})
    sign_lesson(cast, lesson, 1)
    page = enter("dora", PHONE)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Next: The aeroplane and the aerodrome")
    expect(page.locator("b", has_text="Bounced")).to_be_visible()
    assert_no_sideways_scroll(page)
    page.get_by_role("link", name="Read and sign lesson 1").click()
    page.get_by_label("Your password").fill(SECRET)
    page.get_by_role("button", name="Sign lesson 1").click()
    expect(page.get_by_text("Student: signed")).to_be_visible()
    assert_no_sideways_scroll(page)
    assert Signature.objects.get(capacity="student").person == cast.dora


def test_admin_enrols_and_prints(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    page = enter("frida", DESKTOP)
    page.get_by_role("link", name="Enrol a student").click()
    for label, value in (
        ("Given name", "Gil"),
        ("Family name", "Newcome"),
        ("School number", "T-9"),
        ("Login name", "gil"),
    ):
        page.get_by_label(label).fill(value)
    page.get_by_label("Date of birth").fill("2005-01-31")
    page.get_by_role("button", name="Enrol", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Record of Gil Newcome")
    page.get_by_text("Add a document").click()
    page.get_by_label("Document").select_option("medical")
    page.get_by_label("Issued, or examined").fill(str(cast.today - timedelta(days=5)))
    page.get_by_role("button", name="Add document").click()
    # Said at the top, where the page opens, and at the field.
    expect(page.get_by_role("alert").first).to_contain_text("The document was not added")
    expect(page.get_by_role("alert").last).to_contain_text("A medical has a class")
    page.get_by_label("Class of a medical").select_option("3")
    page.get_by_role("button", name="Add document").click()
    expect(page.get_by_role("cell", name="Medical certificate, third class")).to_be_visible()
    page.goto(f"/records/{cast.enrolment.uid}/")
    token = page.locator("input[name=csrfmiddlewaretoken]").first.input_value()
    reply = page.request.post(
        f"/records/{cast.enrolment.uid}/sheets/", form={"kind": "progress", "paper": "A4", "csrfmiddlewaretoken": token}
    )
    assert reply.body().startswith(b"%PDF")
    page.reload()
    expect(page.get_by_role("link", name="Sheet 1,")).to_be_visible()
    assert Sheet.objects.count() == 1


def test_no_page_scrolls_sideways(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    fly_lesson(cast, 5, days_ago=1)
    lesson = begin_lesson(cast)
    page = enter("bert", TABLET)
    for address in (
        "/students/",
        f"/students/{cast.enrolment.uid}/",
        "/lessons/",
        f"/lessons/{lesson.uid}/",
        "/marks/",
    ):
        page.goto(address)
        for width, height in (TABLET, PHONE, DESKTOP, (360, 740)):
            page.set_viewport_size({"width": width, "height": height})
            assert_no_sideways_scroll(page)

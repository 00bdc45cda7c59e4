"""A release is withdrawn at a desk: readiness, board, the student's phone and the brief of a lesson say it first."""

from playwright.sync_api import expect

from grading.models import Release
from tests.cast import Cast
from tests.factories import begin_lesson
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll
from tests.ready_student import make_ready, sign_release

DESK, TABLET, PHONE = (1440, 900), (820, 1180), (390, 844)


def test_a_withdrawal_is_said_first_wherever_it_matters(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    make_ready(cast)
    chief = enter("amelia", DESK)
    chief.goto(f"/students/{cast.enrolment.uid}/")
    # One who is ready: the form ends on the first screen, the whole page on the third.
    sign = chief.get_by_role("button", name="Sign the release").bounding_box()
    assert sign is not None
    assert sign["y"] + sign["height"] <= DESK[1]
    assert chief.evaluate("document.documentElement.scrollHeight") <= 3 * DESK[1]
    sign_release(cast)
    lesson = begin_lesson(cast, 14)
    chief.reload()
    chief.get_by_text("Withdraw this release").click()
    chief.locator("textarea[id^=withdraw]").fill("Bounced twice and did not go around.")
    chief.get_by_role("button", name="Withdraw it now").click()
    heading = chief.get_by_role("heading", level=1)
    expect(heading).to_contain_text("no solo until a new release, though all 21 requirements are met")
    expect(chief.get_by_text("Dora Example has not confirmed yet that there is no solo.")).to_be_visible()
    assert_no_sideways_scroll(chief)
    chief.goto("/students/")
    row = chief.locator("tr.chief-acts")
    expect(row).to_contain_text("Bounced twice and did not go around.")
    expect(row.locator(".bt-release")).to_have_text("withdrawn, not read")

    student = enter("dora", PHONE)
    expect(student.get_by_role("heading", level=1)).to_contain_text("No solo until a new one.")
    assert_no_sideways_scroll(student)
    student.get_by_role("button", name="I have read it: I do not fly solo").tap()
    expect(student.get_by_text("Confirmed. Your chief instructor sees")).to_be_visible()
    expect(student.get_by_role("button", name="I have read it")).to_have_count(0)
    assert Release.objects.get().withdrawal_read_at is not None

    tablet = enter("bert", TABLET)
    tablet.goto(f"/lessons/{lesson.uid}/")
    expect(tablet.locator("#before-flight .flight-band")).to_contain_text("No solo: release withdrawn")
    assert_no_sideways_scroll(tablet)
    chief.reload()
    expect(row.locator(".bt-release")).to_have_text("withdrawn")

"""An instructor on a telephone: from the file of the logger to the picture of a circuit in five taps."""

import re
from pathlib import Path

from playwright.sync_api import expect

from grading.models import FlightTrack, Measure
from tests.cast import Cast
from tests.journeys.devices import OpenPage, assert_no_sideways_scroll
from tests.track_files import gpx_file, logged, tapped_lesson

PHONE = (390, 844)


def test_from_the_file_to_the_picture_and_into_the_lesson(
    transactional_cast: Cast, enter: OpenPage, tmp_path: Path
) -> None:
    cast = transactional_cast
    lesson = tapped_lesson(cast)
    file = tmp_path / "lesson.gpx"
    file.write_bytes(gpx_file(logged(cast)))
    page = enter("bert", PHONE)
    page.goto(f"/lessons/{lesson.uid}/")

    page.get_by_role("link", name="Flight track of this lesson").tap()  # 1
    expect(page.get_by_role("heading", level=1)).to_contain_text("Flight tracks")
    assert_no_sideways_scroll(page)
    page.get_by_label("File of the logger").set_input_files(file)  # 2 and 3: the telephone's own chooser
    page.get_by_role("button", name="Read the file").tap()  # 4
    expect(page.get_by_text("all endings agree")).to_be_visible()
    assert_no_sideways_scroll(page)
    assert not FlightTrack.objects.exists()
    page.get_by_role("button", name="Save this track").tap()  # 5
    picture = page.get_by_role("img", name="Circuit 1 of the track from above")
    expect(picture).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("^Circuit 1 of the track: .* The approach"))).to_be_visible()
    assert_no_sideways_scroll(page)

    page.get_by_role("button", name="into circuit 1").tap()
    expect(page.get_by_text("entered from the track, each marked as from it")).to_be_visible()
    assert Measure.objects.exclude(uncertainty=None).count() > 3
    page.goto(f"/lessons/{lesson.uid}/circuits/1/")
    expect(page.get_by_text("±65, from a track").first).to_be_visible()

"""The pictures of a progress sheet: drawn from its sealed content, printed in ink alone, read back from the file."""

import io
import json
import re

import pikepdf
from django.test import Client
from pypdf import PdfReader

from grading.actions import sheets
from grading.models import Sheet
from grading.sheets import pdf
from grading.sheets.pictures import draw_approaches, draw_progress
from grading.sheets.verification import verify
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.shared_state import shared_state

NUMBERS = {
    "approach.measure.final.height": "113",
    "downwind.measure.abeam.height": "700",
    "landing.measure.touchdown.distance": "900",
}
FINGERPRINT = "0" * 64


@shared_state
def flown_sheet(cast: Cast) -> Sheet:
    """Two lessons of four circuits each, all with numbers."""
    for days_ago in (3, 1):
        lesson = begin_lesson(cast, 8, days_ago)
        record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
        for number in range(1, 5):
            record_circuit(cast, lesson, number, **NUMBERS)
        sign_lesson(cast, lesson, days_ago)
    return print_sheet(cast)


def print_sheet(cast: Cast) -> Sheet:
    return sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(20)
    )


def text_of(sheet: Sheet) -> str:
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(bytes(sheet.pdf))).pages)


def test_the_sheet_has_the_last_six_approaches_in_its_sealed_content(cast: Cast, flown_sheet: Sheet) -> None:
    circuits = flown_sheet.content["approaches"]["circuits"]
    assert [(row["lesson"], row["circuit"]) for row in circuits] == [(1, 3), (1, 4), (2, 1), (2, 2), (2, 3), (2, 4)]
    assert circuits[-1]["values"] == {"abeam.height": 700, "final.height": 113, "touchdown.distance": 900}
    assert circuits[-1]["outside"] == ["final.height", "touchdown.distance"]
    assert flown_sheet.content["progress"]["columns"][0] == [1, 1]


def test_the_sentences_of_the_pictures_can_be_read_in_the_file_which_is_genuine(flown_sheet: Sheet) -> None:
    text = " ".join(text_of(flown_sheet).split())
    assert "Last 6 approaches" in text
    assert "6 of 18 numbers inside. Outside: lesson 2, circuit 4, final height 113 ft, 67 ft low;" in text
    assert "Thick: the last one, lesson 2, circuit 4" in text
    assert "8 circuits, one column each" in text
    assert verify(bytes(flown_sheet.pdf)).genuine


def test_the_same_content_draws_the_same_pictures(flown_sheet: Sheet) -> None:
    """What is attached to the file is enough to draw them again: a round trip through its JSON."""
    again = json.loads(json.dumps(flown_sheet.content))
    assert draw_approaches(again) == draw_approaches(flown_sheet.content)
    assert draw_progress(again) == draw_progress(flown_sheet.content)


def test_a_printed_picture_is_in_ink_and_ground_alone_and_says_what_it_shows(flown_sheet: Sheet) -> None:
    """The printer resolves no custom property within a drawing; what it cannot read it prints black and solid."""
    html = pdf.render_sheet_html("print/progress_sheet.html", flown_sheet.content, FINGERPRINT, "A4")
    drawings = re.findall(r"<svg font-family.*?</svg>", html, re.DOTALL)
    assert len(drawings) == 3
    for drawing in drawings:
        assert "var(" not in drawing
        # A screen reader is told by the title of the drawing, which becomes the Alt of its figure in the file.
        assert re.search(r"<title>.*(approaches|circuit)", drawing)
        # The band of a tolerance has an outline, which a copy keeps.
        assert re.findall(r'<(?:path|rect) [^>]*fill="#e6e6e6" stroke="black"', drawing)


def test_the_pictures_have_their_text_for_screen_readers_in_the_file(flown_sheet: Sheet) -> None:
    """ISO 32000-1, 14.9.3 (from memory): the alternate description of a structure element, /Alt."""
    with pikepdf.open(io.BytesIO(bytes(flown_sheet.pdf))) as opened:
        figures = [each for each in opened.objects if _is_figure(each)]
        said = [str(each.Alt) for each in figures if "/Alt" in each]
    assert len(said) == len(figures)
    assert any(words.startswith("Plan of the target. The last 6 approaches") for words in said)
    assert any(words.startswith("Every circuit. To standard: takeoff") for words in said)
    assert any(words.startswith("Code that opens http") for words in said)


def _is_figure(each: pikepdf.Object) -> bool:
    return isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/Figure"


def test_a_sheet_without_circuits_and_one_of_an_earlier_form_have_no_pictures(cast: Cast) -> None:
    made = print_sheet(cast)
    assert draw_approaches(made.content) is None
    assert draw_progress(made.content) is None
    assert "Last 6 approaches" not in text_of(made)
    later = ("approaches", "progress", "units", "releases", "rule_set")
    earlier = {key: value for key, value in made.content.items() if key not in later}
    html = pdf.render_sheet_html("print/progress_sheet.html", earlier, FINGERPRINT, "A4")
    assert "How to verify this sheet" in html


def test_circuits_without_a_number_are_drawn_as_progress_alone(cast: Cast) -> None:
    fly_lesson(cast, circuits=2)
    made = print_sheet(cast)
    assert draw_approaches(made.content) is None
    progress = draw_progress(made.content)
    assert progress
    assert progress.circuits == 2


def test_a_number_from_a_flight_track_has_a_t_and_the_key_says_what_it_is(cast: Cast, flown_sheet: Sheet) -> None:
    assert "flight track" not in text_of(flown_sheet)
    lesson = begin_lesson(cast, 8)
    tracked = {
        "approach.measure.final.height": "113 ft ±20 from track",
        "landing.measure.touchdown.distance": "900 ft ±250 from track",
    }
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **NUMBERS | tracked)
    sign_lesson(cast, lesson)
    made = print_sheet(cast)
    assert made.content["approaches"]["circuits"][-1]["tracked"] == {"final.height": 20, "touchdown.distance": 250}
    text = " ".join(text_of(made).split())
    assert "lesson 3, circuit 1, final height 113 ft T, 67 ft low;" in text
    assert text.count("T: the instructor entered the number from a flight track.") == 2
    approaches, progress = draw_approaches(made.content), draw_progress(made.content)
    assert approaches
    assert progress
    tee = "h3m-1.5 0v3.6"
    # One touchdown in the plan; one height in each of the two strips; one touchdown beneath the circuits.
    assert (approaches.plan.count(tee), approaches.heights.count(tee), progress.drawing.count(tee)) == (1, 2, 1)
    sheet = pdf.render_sheet_html("print/progress_sheet.html", flown_sheet.content, FINGERPRINT, "A4")
    assert tee not in sheet


def test_the_record_of_a_lesson_says_how_far_a_number_from_a_track_may_be_off(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast, 8)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **{"downwind.measure.abeam.height": "712 ft ±65 from track"})
    client.force_login(cast.bert)
    sign_lesson(cast, lesson)
    assert (
        "eight abeam the point 12 ft high, inside (from a track, ±65 ft)" in client.get(f"/lessons/{lesson.uid}/").text
    )

"""The pictures of a progress sheet: drawn from its sealed content, printed in ink alone, read back from the file."""

import io
import json
import re

from pypdf import PdfReader

from grading.actions import sheets
from grading.models import Sheet
from grading.pages.sheet_pictures import draw_sheet_pictures
from grading.sheets import pdf
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
    assert "Lesson 2. Circuit 4: 67 ft low on final; touchdown 900 ft past the aiming point, outside." in text
    assert "8 circuits over 2 lessons" in text
    assert "67 ft low" in text.partition("The last approaches")[2]
    assert verify(bytes(flown_sheet.pdf)).genuine


def test_the_same_content_draws_the_same_pictures(flown_sheet: Sheet) -> None:
    """What is attached to the file is enough to draw them again: a round trip through its JSON."""
    again = json.loads(json.dumps(flown_sheet.content))
    assert draw_sheet_pictures(again) == draw_sheet_pictures(flown_sheet.content)


def test_a_printed_picture_is_in_ink_and_ground_alone(flown_sheet: Sheet) -> None:
    """The printer resolves no custom property within a drawing; what it cannot read it prints black and solid."""
    html = pdf.render_sheet_html("print/progress_sheet.html", flown_sheet.content, FINGERPRINT, "A4")
    drawings = re.findall(r"<svg font-family.*?</svg>", html, re.DOTALL)
    assert len(drawings) == 3
    for drawing in drawings:
        assert "var(" not in drawing
        assert "paint-order" not in drawing
        # The band of a tolerance is white there, so it has an outline.
        bands = re.findall(r'<(?:path|rect) [^>]*fill="white" stroke="black" stroke-width="1"', drawing)
        assert bands


def test_a_sheet_without_circuits_and_one_of_an_earlier_form_have_no_pictures(cast: Cast) -> None:
    made = print_sheet(cast)
    assert draw_sheet_pictures(made.content) is None
    assert "The last approaches" not in text_of(made)
    earlier = {key: value for key, value in made.content.items() if key not in ("approaches", "progress", "units")}
    html = pdf.render_sheet_html("print/progress_sheet.html", earlier, FINGERPRINT, "A4")
    assert "How this sheet is proved" in html


def test_circuits_without_a_number_are_drawn_as_progress_alone(cast: Cast) -> None:
    fly_lesson(cast, circuits=2)
    made = print_sheet(cast)
    pictures = draw_sheet_pictures(made.content)
    assert pictures
    assert (pictures.approach, pictures.touchdowns) == ("", "")
    assert "2 circuits over 1 lesson" in pictures.progress_words

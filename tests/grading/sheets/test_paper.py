"""What every sheet looks like on paper, read back from the file: size of type, heads and feet, pages, headings."""

import io
import re
from collections.abc import Iterator
from datetime import date
from functools import partial
from typing import Any

import pytest
from pypdf import PdfReader

from grading.actions import corrections, sheets
from grading.models import Sheet
from grading.sheets import pdf
from school.formats import write_day
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.printed_pages import Line, lines_of, pages_of
from tests.shared_state import shared_state

LEAST_TYPE_PT = 8.0
FOOT_PT = 70  # the foot of a page lies below it
NUMBERS = {
    "approach.measure.final.height": "113",
    "approach.measure.final.speed": "66",
    "downwind.measure.abeam.height": "700",
    "landing.measure.touchdown.distance": "900",
}
CIRCUIT_ROW = re.compile(r"^\s*(\d+)\.(\d+) ", re.MULTILINE)
NOTICE = "Printed with a demonstration key: proves nothing"
LONG_NAME = ("Alexandrina Theodora", "van der Meulen-Oosterhuis")


@shared_state
def records(cast: Cast) -> list[Sheet]:
    """A student with a long name and thirty lessons, one of them corrected: both kinds on both papers."""
    student = cast.enrolment.student
    student.given_name, student.family_name = LONG_NAME
    student.save()
    for number in range(30):
        lesson = begin_lesson(cast, 8, 30 - number)
        record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.next_time": "Round out later."})
        for circuit in range(1, 3 + 2 * (number > 25)):
            record_circuit(cast, lesson, circuit, **{**NUMBERS, "landing.fault.bounced": "on"})
        sign_lesson(cast, lesson, 30 - number)
    correction = corrections.begin_correction(
        lesson=lesson, reason="The fault was in circuit 2.", by=cast.bert, at=cast.at(18)
    )
    record_entries(cast, correction, **{"lesson.remarks": "Bounced once."})
    sign_lesson(cast, correction)
    return [
        sheets.print_sheet(
            kind=kind, enrolment=cast.enrolment, on=cast.today, paper=paper, by=cast.frida, at=cast.at(20)
        )
        for kind in (Sheet.Kind.PROGRESS, Sheet.Kind.COMPLETE)
        for paper in ("A4", "Letter")
    ]


def all_lines(made: list[Sheet]) -> Iterator[tuple[str, Line]]:
    for sheet in made:
        for number, page in enumerate(pages_of(sheet), 1):
            yield from ((f"{sheet}, {sheet.paper}, page {number}", line) for line in lines_of(page))


def test_no_text_is_smaller_than_eight_points(records: list[Sheet]) -> None:
    lines = list(all_lines(records))
    assert len(lines) > 500
    assert {(where, line) for where, line in lines if line.size < LEAST_TYPE_PT} == set()


def test_every_page_has_name_number_day_and_how_many_pages_there_are(records: list[Sheet]) -> None:
    for sheet in records:
        pages = pages_of(sheet)
        for number, page in enumerate(pages, 1):
            text = " ".join(page.extract_text().split())
            assert f"Page {number} of {len(pages)}" in text
            assert "Alexandrina Theodora van der Meulen-Oosterhuis, T-4." in text
            assert write_day(sheet.on) in text


def test_a_heading_is_never_the_last_of_a_page(records: list[Sheet]) -> None:
    """Headings are 9.5 points and larger; what is smaller and lower on the page, above its foot, is their text."""
    seen = 0
    for sheet in records:
        for page in pages_of(sheet):
            lines = [line for line in lines_of(page) if line.height > FOOT_PT * (0.6 if sheet.paper == "Letter" else 1)]
            headings = [line for line in lines if line.size >= 9.5]
            seen += len(headings)
            lowest = min(line.height for line in lines if line.size < 9.5)
            assert all(heading.height > lowest for heading in headings)
    assert seen > 80


def test_the_progress_sheet_is_one_leaf_and_no_page_has_the_proof_alone(records: list[Sheet]) -> None:
    for sheet in records:
        pages = [page.extract_text() for page in pages_of(sheet)]
        if sheet.kind == Sheet.Kind.PROGRESS:
            assert len(pages) == 2
        (proof,) = [page for page in pages if "How to verify" in page]
        assert "Signatures on this sheet" in proof or "Signs in this record" in proof


def test_both_papers_break_at_the_same_places(records: list[Sheet]) -> None:
    """One box of 176 by 250 mm lies on A4 and on Letter, so a page number means the same on both."""
    for one, other in ((records[0], records[1]), (records[2], records[3])):
        starts = [[page.extract_text().split("\n")[3:6] for page in pages_of(sheet)][1:] for sheet in (one, other)]
        assert len(starts[0]) == len(starts[1])


def test_a_lesson_never_begins_with_one_circuit_at_the_foot_of_a_page(records: list[Sheet]) -> None:
    """The first of two or more circuits is not the last row of a page, its notes included."""
    ends = 0
    for sheet in records[2:]:
        all_rows = [row for page in pages_of(sheet) for row in CIRCUIT_ROW.findall(page.extract_text())]
        for page in pages_of(sheet)[:-1]:
            rows = CIRCUIT_ROW.findall(page.extract_text())
            if rows and (rows[-1][0], "2") in all_rows:
                ends += 1
                assert rows[-1][1] != "1"
    assert ends


def test_the_notice_of_a_demonstration_has_one_line_on_every_page(records: list[Sheet]) -> None:
    for sheet in records:
        for page in pages_of(sheet):
            assert NOTICE in [line.text for line in lines_of(page)]


def test_a_replaced_lesson_and_its_correction_are_both_printed(records: list[Sheet]) -> None:
    text = " ".join(" ".join(page.extract_text().split()) for page in pages_of(records[2]))
    assert "Replaced by a later version; it stays on record." in text
    assert "Correction: The fault was in circuit 2." in text
    assert "version 2" in text
    assert text.count("I gave this training on this day") == 1


def test_a_number_outside_is_heavy_and_stands_under_its_target_once(records: list[Sheet]) -> None:
    page = pages_of(records[2])[1].extract_text()
    assert page.count("Touch") == 1
    fonts = set[str]()

    def visit(text: str, cm: Any, tm: Any, font: Any, size: float) -> None:
        if text.strip() in ("113", "700"):
            fonts.add(f"{text.strip()} {font['/BaseFont'].split('-')[-1]}")

    pages_of(records[2])[1].page.extract_text(visitor_text=visit)
    assert any(name.startswith("113") and ("Bold" in name or "Heavy" in name) for name in fonts), fonts
    assert not any(name.startswith("700") and ("Bold" in name or "Heavy" in name) for name in fonts), fonts


@pytest.mark.parametrize("day", [date(2026, 11, 28)])
def test_a_day_on_paper_has_its_year_and_a_short_month(day: date) -> None:
    assert write_day(day) == "28 Nov 2026"


@pytest.mark.parametrize("many", [1, 3])
def test_releases_in_force_leave_the_progress_sheet_on_one_leaf(records: list[Sheet], many: int) -> None:
    """Their frames take room that was reckoned for the pictures: nothing may begin a third page."""
    limits = {
        "runways": "07, 25", "max_wind_kt": 12, "max_crosswind_kt": 5, "min_visibility_sm": "5.0",
        "min_ceiling_ft": 2000,
    }  # fmt: skip
    release = {
        "state": "in_force", "kind": "day", "aerodrome": "Tern Point (ZZZZ)", "limits": limits, "reason": "",
        "valid_from": "2026-11-26", "valid_until": "2027-01-05", "training_on": "2026-11-12", "signature": None,
        "endorsed_by": {"name": "Bert Example"}, "withdrawal": None,
    }  # fmt: skip
    content = records[0].content | {"releases": [release] * many}
    render = partial(pdf.render_sheet_html, "print/progress_sheet.html", content, "0" * 64, "Letter")
    made = PdfReader(io.BytesIO(pdf.render_pdf(render(), b"{}", records[0].printed_at, render)))
    assert len(made.pages) == 2
    first = " ".join(made.pages[0].extract_text().split())
    assert first.count("Runways 07 and 25, wind up to 12 kt") == many


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_record_without_a_lesson_is_one_page(cast: Cast, paper: str) -> None:
    made = sheets.print_sheet(
        kind=Sheet.Kind.COMPLETE, enrolment=cast.enrolment, on=cast.today, paper=paper, by=cast.frida, at=cast.at(20)
    )
    (page,) = pages_of(made)
    assert "Log of lessons: no lesson signed yet." in " ".join(page.extract_text().split())

"""The table of .docs/audit.md under "What the record holds", walked over a printed complete record.

The paragraphs are those of 14 CFR 61.51, 61.87, 61.189 and 141.101, eCFR text read in a copy; ORA.ATO.120 and
DTO.GEN.220 were read in secondary copies.
"""

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from django.conf import settings
from pypdf import PdfReader

from grading.actions import sheets, training
from grading.models import Sheet
from school import actions as school_actions
from school.formats import write_days_within
from school.templatetags.marks import hours, words
from school.templatetags.sheet import iso_date, iso_utc
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state

Row = tuple[str, str, str, str]


def table_rows() -> list[Row]:
    text = (settings.BASE_DIR / ".docs/audit.md").read_text()
    section = text.split("## What the record holds")[1].split("\n## ")[0]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in section.splitlines() if line[:1] == "|"]
    assert cells[0] == ["Paragraph", "Item", "Field in the record", "Words on the sheet"]
    return [(paragraph, item, field.strip("`"), said) for paragraph, item, field, said in cells[2:]]


@shared_state
def printed(cast: Cast) -> tuple[dict[str, Any], str]:
    """A student with lessons, a test, an endorsement, a release, solo, the end and its certification."""
    make_ready(cast)
    sign_release(cast)
    night = begin_lesson(cast, 14)
    times = {"lesson.off_blocks": "06:05", "lesson.on_blocks": "07:05", "lesson.dual_minutes": "1.0"}
    record_entries(cast, night, **times, **{"lesson.night_minutes": "0.4", "lesson.instrument_minutes": "0.2"})
    graded = night.unit.graded.filter(compulsory=True).select_related("manoeuvre")
    record_entries(cast, night, **{f"manoeuvre.{row.manoeuvre.code}.level": "practice" for row in graded})
    sign_lesson(cast, night)
    alone = begin_lesson(cast, 17)
    record_entries(
        cast, alone, **{"lesson.solo_minutes": "0.5", "lesson.wind_direction": "180", "lesson.wind_speed_kt": "5"}
    )
    graded = alone.unit.graded.filter(compulsory=True).select_related("manoeuvre")
    record_entries(cast, alone, **{f"manoeuvre.{row.manoeuvre.code}.level": "not_observed" for row in graded})
    sign_lesson(cast, alone)
    school_actions.record_paper(
        person=cast.dora, kind="medical", medical_class="3", number="M-1", issued=cast.today,
        expires=cast.today + timedelta(days=700), by=cast.frida, at=cast.at(),
    )  # fmt: skip
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at(15))
    training.certify_end(enrolment=cast.enrolment, secret=SECRET, by=cast.amelia, at=cast.at(16))
    cast.enrolment.refresh_from_db()
    made = sheets.print_sheet(
        kind=Sheet.Kind.COMPLETE, enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(17)
    )
    with pikepdf.open(BytesIO(bytes(made.pdf))) as pdf:
        record = json.loads(pdf.attachments["record.json"].get_file().read_bytes())
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(bytes(made.pdf))).pages)
    return record, collapse_spaces(text)


def collapse_spaces(text: str) -> str:
    """Without white space: a line of print may end anywhere."""
    return re.sub(r"\s", "", text)


def values_at_path(value: Any, path: list[str]) -> Iterator[Any]:
    """Every value at a dotted path; [] goes into each entry of a list. KeyError where a step does not exist."""
    if not path:
        yield value
        return
    step, rest = path[0], path[1:]
    entered = value[step.removesuffix("[]")]
    for entry in entered if step.endswith("[]") else [entered]:
        if entry is not None or not rest:
            yield from values_at_path(entry, rest)


def as_printed(value: Any, path: str) -> set[str]:
    """The ways in which print may say a value."""
    if isinstance(value, int):
        minutes = ".minutes." in path or path.endswith("_minutes")
        return {hours(value)} if minutes else {str(value)}
    text = str(value)
    said = {text, words(text), text.capitalize(), text.replace("_", " "), write_days_within(text)}
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        said = {iso_date(text)}
    elif re.fullmatch(r"\d{4}-\d\d-\d\dT.*Z", text):
        said = {iso_utc(text)}
    return said


def test_the_table_covers_every_paragraph_that_was_asked_for() -> None:
    paragraphs = " ".join(row[0] for row in table_rows())
    for wanted in (
        "141.101(a)(1)", "141.101(a)(2)", "141.101(a)(3)", "141.101(c)", "61.51(b)(1)", "61.51(b)(2)", "61.51(b)(3)",
        "61.51(h)(2)(i)", "61.51(h)(2)(ii)", "61.189(b)", "61.87(b)", "61.87(n)", "ORA.ATO.120", "DTO.GEN.220",
    ):  # fmt: skip
        assert wanted in paragraphs, wanted


def test_every_row_resolves_in_the_record_and_stands_on_the_pages(printed: tuple[dict[str, Any], str]) -> None:
    record, text = printed
    wrong = []
    for paragraph, item, field, said in table_rows():
        values = [value for value in values_at_path(record, field.split(".")) if value not in (None, "", [], {})]
        if not values or not any(values):
            wrong.append(f"{paragraph} {item}: nothing at {field}")
        if collapse_spaces(said) not in text:
            wrong.append(f"{paragraph} {item}: “{said}” is not printed")
        for value in values:
            if not any(collapse_spaces(way) in text for way in as_printed(value, field)):
                wrong.append(f"{paragraph} {item}: {field} = {value!r} is not printed")
    assert wrong == [], "\n".join(wrong)


def test_a_path_that_does_not_exist_is_not_passed_over(printed: tuple[dict[str, Any], str]) -> None:
    record, text = printed
    with pytest.raises(KeyError):
        list(values_at_path(record, ["lessons[]", "no_such_field"]))
    assert collapse_spaces("no such words on any page") not in text

"""Logbook lines read back from the file: what 14 CFR 61.51(b) and (h) ask of a line, and totals that add up.

The paragraphs are those of 14 CFR 61.51, general entries (b)(1), type of experience (b)(2), training time (h)(2).
"""

import re
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection

from grading.actions import corrections, credit, sheets
from grading.models import LogbookForm, Sheet
from grading.sheets.logbook_content import LessonRange
from lessons.models import AMOUNT_FIELDS, EarlierTraining
from school.errors import Refusal
from school.formats import write_day
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson
from tests.printed_pages import lines_of, pages_of
from tests.shared_state import shared_state

LESSONS = 24
MM = 72 / 25.4
WITHOUT_RELEASE = {"lesson.outside_release": "Signed on paper."}
CREDITED = {"dual_minutes": 95, "solo_minutes": 40, "night_minutes": 10, "takeoffs": 7, "landings": 6}


@shared_state
def logbooks(cast: Cast) -> dict[str, Sheet]:
    """Dual, solo, night and ground; the last but one corrected, one unsigned; earlier training credited."""
    for number in range(LESSONS):
        lesson = begin_lesson(cast, 8, LESSONS - number)
        kind = "solo" if number % 5 == 4 else "dual"
        minutes = {f"lesson.{kind}_minutes": f"0:{31 + number}", "lesson.ground_minutes": "0:20"}
        minutes |= WITHOUT_RELEASE if kind == "solo" else {}
        minutes |= {"lesson.night_minutes": "0:11"} if number % 7 == 3 else {}
        record_entries(cast, lesson, **minutes)
        record_circuit(cast, lesson, 1)
        sign_lesson(cast, lesson, LESSONS - number)
        if number == LESSONS - 2:
            wrong = lesson
    correction = corrections.begin_correction(lesson=wrong, reason="Block time.", by=cast.bert, at=cast.at(8))
    record_entries(cast, correction, **{"lesson.dual_minutes": "1:41"})
    sign_lesson(cast, correction)
    record_entries(cast, begin_lesson(cast, 8), **{"lesson.dual_minutes": "7:00"})
    give_credit(cast)
    return {
        f"{form} {paper} {first}": sheets.print_logbook(
            enrolment=cast.enrolment, on=cast.today, paper=paper, form=form, lessons=LessonRange(first),
            by=cast.frida, at=cast.at(20),
        )
        for form in LogbookForm for paper in ("A4", "Letter") for first in (None, 5)
    }  # fmt: skip


def give_credit(cast: Cast) -> None:
    EarlierTraining.objects.create(
        student=cast.dora, batch="00000000-0000-4000-8000-000000000001", fingerprint="f" * 64, on=cast.today,
        unit="Circuits", instructor="Somebody", recorded_at=cast.at(7), recorded_by=cast.frida, **CREDITED,
    )  # fmt: skip
    amounts = dict.fromkeys(AMOUNT_FIELDS, 0) | CREDITED
    credit.decide_credit(
        enrolment=cast.enrolment, units={}, counted=amounts, reason="Seen.", by=cast.amelia, at=cast.at(8)
    )


def text_of(sheet: Sheet) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pages_of(sheet))


def expected_sums(cast: Cast) -> list[str]:
    """The row "To date", in plain SQL: signed lessons that no signed one replaces, and the credit."""
    sql = """
        SELECT sum(dual_minutes), sum(solo_minutes), sum(night_minutes), sum(instrument_minutes), sum(ground_minutes),
               sum(takeoffs), sum(landings)
        FROM (
            SELECT dual_minutes, solo_minutes, night_minutes, instrument_minutes, ground_minutes, takeoffs, landings
            FROM lessons_lesson lesson
            WHERE enrolment_id = %(enrolment)s AND signed_at IS NOT NULL AND NOT EXISTS (
                SELECT 1 FROM lessons_lesson newer
                WHERE newer.supersedes_id = lesson.id AND newer.signed_at IS NOT NULL)
            UNION ALL
            SELECT dual_minutes, solo_minutes, night_minutes, instrument_minutes, ground_minutes, takeoffs, landings
            FROM lessons_creditdecision WHERE enrolment_id = %(enrolment)s
        ) every"""
    with connection.cursor() as cursor:
        cursor.execute(sql, {"enrolment": cast.enrolment.pk})
        dual, solo, night, instrument, ground, takeoffs, landings = map(int, cursor.fetchone())
    minutes = [dual + solo, dual, solo, dual + solo - night, night, instrument, ground]
    return [*(f"{part // 60}:{part % 60:02}" for part in minutes), str(takeoffs), str(landings)]


def test_the_totals_to_date_are_those_of_the_tables(cast: Cast, logbooks: dict[str, Sheet]) -> None:
    wanted = expected_sums(cast)
    for name, sheet in logbooks.items():
        if name.startswith("page"):
            rows = re.findall(r"To date ((?:[\d:]+ ){8}[\d:]+)", text_of(sheet))
            assert len(rows) > 1
            assert rows[-1].split() == wanted


def test_each_page_carries_its_totals_forward_to_the_next(logbooks: dict[str, Sheet]) -> None:
    text = text_of(logbooks["page A4 None"])
    sums = {
        words: [[minutes_of(cell) for cell in row.split()] for row in
                re.findall(rf"{words} ((?:[\d:]+ ){{8}}[\d:]+)", text)]
        for words in ("This page", "Brought forward", "To date")
    }  # fmt: skip
    pages = zip(sums["This page"], sums["Brought forward"], sums["To date"], strict=True)
    before = None
    for here, brought, to_date in pages:
        assert [one + other for one, other in zip(here, brought, strict=True)] == to_date
        assert before in (None, brought)
        before = to_date


def minutes_of(cell: str) -> int:
    hours, _, minutes = cell.partition(":")
    return int(hours) * 60 + int(minutes) if minutes else int(hours)


def test_strips_have_the_same_totals_as_the_pages(cast: Cast, logbooks: dict[str, Sheet]) -> None:
    total, dual, solo, _, night, _, ground, _, landings = expected_sums(cast)
    text = text_of(logbooks["strips A4 None"])
    after = text[text.index("To date") :]
    for amount in (total, dual, solo, ground, night, landings):
        assert amount in after.split("Total of lessons")[0].split()


def test_a_line_has_what_the_rule_asks(cast: Cast, logbooks: dict[str, Sheet]) -> None:
    """(b)(1) date, total time, place, aircraft; (h)(2) training, its length, signature, certificate, its end."""
    for name, sheet in logbooks.items():
        text = text_of(sheet)
        first = sheet.content["lessons"][0]
        signature = first["signature"]
        assert write_day(type(cast.today).fromisoformat(first["date"])) in text
        assert {"QQ-XXA", "ZZZX"} <= set(re.findall(r"[A-Z-]+", text)), name
        assert signature["certificate_number"] in text
        assert "recent experience until" in text
        assert signature["meaning"] in text
        assert "Unit 8, First circuits: " in text


def test_a_solo_flight_is_no_training_received(cast: Cast) -> None:
    lesson = begin_lesson(cast, 8)
    record_entries(cast, lesson, **{"lesson.solo_minutes": "0:30", **WITHOUT_RELEASE})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    made = sheets.print_logbook(
        enrolment=cast.enrolment, on=cast.today, paper="A4", form=LogbookForm.STRIPS, by=cast.frida, at=cast.at(20)
    )
    assert "Solo supervised by Bert Example" in text_of(made)
    assert "Training given by" not in text_of(made)


def test_only_signed_lessons_and_of_a_corrected_one_the_newest(logbooks: dict[str, Sheet]) -> None:
    text = text_of(logbooks["strips A4 None"])
    assert "7:00" not in text
    assert "1 unsigned lesson left out" in text
    assert text.count(f", lesson {LESSONS - 1}, version 2.") == 1
    assert f", lesson {LESSONS - 1}." not in text
    assert "1:41" in text


def test_hours_carried_forward_have_lines_of_their_own(logbooks: dict[str, Sheet]) -> None:
    for name, sheet in logbooks.items():
        text = text_of(sheet)
        assert text.count("Carried forward: earlier training, as credited by Amelia Example") == 1
        # 95 and 40 minutes
        assert "2:15" in text
        assert text.count("lessons of this record before lesson 5") == name.endswith("5")
        assert (", lesson 4." in text) == (name.startswith("strips") and not name.endswith("5"))


def test_no_text_of_a_logbook_is_smaller_than_eight_points(logbooks: dict[str, Sheet]) -> None:
    lines = [line for sheet in logbooks.values() for page in pages_of(sheet) for line in lines_of(page)]
    assert len(lines) > 500
    assert [line for line in lines if line.size < 8] == []


def test_each_page_of_a_logbook_says_whose_it_is(logbooks: dict[str, Sheet]) -> None:
    for sheet in logbooks.values():
        pages = pages_of(sheet)
        for number, page in enumerate(pages, 1):
            text = " ".join(page.extract_text().split())
            assert f"Page {number} of {len(pages)}" in text
            assert "Dora Example, T-4. Logbook lines" in text
            assert write_day(sheet.on) in text


def test_a_strip_is_never_broken_over_a_page(logbooks: dict[str, Sheet]) -> None:
    for name in ("strips A4 None", "strips Letter None"):
        heads, tails = [], []
        for page in pages_of(logbooks[name]):
            text = " ".join(page.extract_text().split())
            heads.append(text.count("Dual rec."))
            tails.append(
                len(re.findall(r"Dora Example, T-4, lesson \d+|on an earlier strip|is carried forward\.", text))
            )
        assert heads == tails
        assert sum(heads) == LESSONS + 2
        assert max(heads) >= 8


def test_strips_are_24_mm_high(logbooks: dict[str, Sheet]) -> None:
    """So that they can be cut and pasted in a row. Less a half point: the broken lines lie on each other."""
    for name in ("strips A4 None", "strips Letter None"):
        heights = [line.height for line in lines_of(pages_of(logbooks[name])[0]) if line.text == "Total"]
        steps = [above - below for above, below in pairwise(heights)]
        assert len(steps) > 5
        assert steps[2:] == pytest.approx([24 * MM - 0.5] * len(steps[2:]), abs=0.6)


def test_every_planned_page_is_one_page_of_paper(logbooks: dict[str, Sheet]) -> None:
    """The sums stand on the page of the lines that they add up."""
    for name, sheet in logbooks.items():
        if name.startswith("page"):
            with_head = [page for page in pages_of(sheet) if "Remarks and training given" in page.extract_text()]
            assert all(page.extract_text().count("Brought forward") == 1 for page in with_head)


def test_a_range_from_back_to_front_is_refused(cast: Cast) -> None:
    with pytest.raises(Refusal, match="before the first"):
        sheets.print_logbook(
            enrolment=cast.enrolment, on=cast.today, paper="A4", lessons=LessonRange(5, 3), by=cast.frida, at=cast.at()
        )


def test_a_student_without_lessons_has_an_empty_logbook(cast: Cast) -> None:
    made: Any = sheets.print_logbook(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(20))
    assert "No lesson in this range is signed yet." in text_of(made)

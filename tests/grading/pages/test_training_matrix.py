"""Which items of training were received in which lesson (14 CFR 61.87(d), as the syllabus lists them)."""

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

from grading.pages.training_matrix import LESSONS_SHOWN, build_training_matrix
from grading.rules.readiness.facts import LessonFact
from lessons.published_content import training_items
from tests.cast import Cast


def test_what_was_received_long_ago_is_not_missing(cast: Cast) -> None:
    first, second, *rest = [item.code for item in training_items(cast.enrolment.syllabus_id)]
    taught = [(first,), (first, second), *[(second,)] * LESSONS_SHOWN]
    lessons = [
        LessonFact(
            number, date(2026, 1, 1) + timedelta(days=number), "Bert", aircraft_type=cast.type.code, training=row
        )
        for number, row in enumerate(taught, 1)
    ]
    row: Any = SimpleNamespace(history=SimpleNamespace(lessons=lessons))
    matrix = build_training_matrix(row, cast.enrolment)
    # Of the first item the last lesson, before the last forty.
    assert [lesson.number for lesson in matrix.lessons] == [2, *range(3, LESSONS_SHOWN + 3)]
    assert {item.code for item in matrix.missing} == set(rest)
    cells = {item.code: [lesson.number for lesson in cells if lesson] for item, cells in matrix.rows}
    assert cells[first] == [2]
    assert cells[second] == [2, *range(3, LESSONS_SHOWN + 3)]

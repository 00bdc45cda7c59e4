"""The grades of the last lessons: on the pages of progress the same rows as on the printed sheet."""

from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.reading.grade_grid import LESSONS_IN_GRID, read_grade_grid
from grading.sheets.progress_content import build_progress_content
from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_entries


def rows_of(page: Any) -> dict[str, list[str]]:
    table = BeautifulSoup(page.text, "html.parser").select_one("table.grade-grid")
    assert table is not None
    return {
        row.select_one("th").text: [  # type: ignore[union-attr]
            cell.svg["aria-label"] if cell.svg else "" for cell in row.select("td")
        ]
        for row in table.select("tbody tr")
    }


@pytest.mark.parametrize(("who", "address"), [("dora", "/me/"), ("amelia", "/students/{}/")])
def test_the_page_has_the_grid_of_the_sheet(cast: Cast, client: Client, who: str, address: str) -> None:
    fly_lesson(cast, days_ago=3, level="practice")
    ground = begin_lesson(cast, 1, 2)
    record_entries(cast, ground, **{"lesson.ground_minutes": "1.0", "manoeuvre.radio.level": "not_observed"})
    fly_lesson(cast, days_ago=1)
    client.force_login(getattr(cast, who))
    shown = rows_of(client.get(address.format(cast.enrolment.uid)))
    sheet = build_progress_content(cast.enrolment, cast.today)["grades"]
    assert list(shown) == [row["title"] for row in sheet["rows"]]
    for row in sheet["rows"]:
        levels = ["" if cell is None else cell["level"].replace("_", " ").capitalize() for cell in row["cells"]]
        assert shown[row["title"]] == levels
    assert {"Perform", "Practice"} <= {word for cells in shown.values() for word in cells}


def test_the_last_ten_lessons_are_read_in_one_query(cast: Cast, django_assert_num_queries: Any) -> None:
    for day in range(LESSONS_IN_GRID + 2, 0, -1):
        fly_lesson(cast, days_ago=day)
    lessons = list(Lesson.objects.filter(enrolment=cast.enrolment).in_order())
    with django_assert_num_queries(1):
        grid = read_grade_grid(lessons)
    assert [lesson.number for lesson in grid.lessons] == list(range(3, LESSONS_IN_GRID + 3))
    assert all(len(cells) == LESSONS_IN_GRID for _, cells in grid.rows)
    assert grid.rows


def test_a_student_without_a_lesson_has_no_grid(cast: Cast, client: Client) -> None:
    client.force_login(cast.dora)
    assert "grade-grid" not in client.get("/me/").text

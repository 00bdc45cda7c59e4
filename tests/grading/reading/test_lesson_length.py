"""How many circuits a usual lesson of the school has, out of what is signed and in force."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from grading.reading.lesson_length import COMMON_CIRCUITS, LEAST_LESSONS, LessonLength, usual_lesson_length
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit
from tests.ready_student import fly_unit
from tests.shared_state import shared_state


@shared_state
def twelve_lessons(cast: Cast) -> Cast:
    """Six lessons of two circuits and six of three, one a day; the low median is two."""
    for day in range(1, LEAST_LESSONS + 1):
        fly_lesson(cast, circuits=2 if day <= 6 else 3, days_ago=day)
    return cast


def test_it_is_the_median_of_the_last_twelve_months(
    twelve_lessons: Cast, django_assert_num_queries: Callable[..., Any]
) -> None:
    cast = twelve_lessons
    with django_assert_num_queries(1):
        assert usual_lesson_length(cast.today) == LessonLength(2, 12)
    fly_lesson(cast, circuits=3)
    assert usual_lesson_length(cast.today) == LessonLength(3, 13)


def test_what_is_unsigned_without_circuits_or_older_does_not_count(twelve_lessons: Cast) -> None:
    cast = twelve_lessons
    lesson = begin_lesson(cast, 8)
    record_circuit(cast, lesson, 1)
    fly_unit(cast, 1, 0)  # on the ground
    assert usual_lesson_length(cast.today) == LessonLength(2, 12)
    assert usual_lesson_length(cast.today + timedelta(days=360)).lessons == 0


def test_with_too_few_lessons_the_common_number_is_taken(twelve_lessons: Cast) -> None:
    cast = twelve_lessons
    yesterday = cast.today - timedelta(days=2)
    assert usual_lesson_length(yesterday) == LessonLength(COMMON_CIRCUITS, 0)

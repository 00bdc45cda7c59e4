"""Published content: what threads share cannot be written in, and a model instance belongs to one of them."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import FrozenInstanceError
from typing import Any

import pytest
from django.db import connection

from grading.reading.grade_lines import load_attempts, load_grading_context
from lessons import published_content
from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit


def reachable_instances(lesson_pk: int) -> list[Any]:
    """Return each instance out of published content that one thread reads with a lesson."""
    try:
        lesson = Lesson.objects.for_pages().get(pk=lesson_pk)
        load_grading_context(lesson)
        attempts = load_attempts(lesson)
        unit = lesson.unit
        found: list[Any] = [unit, unit.stage, unit.stage.syllabus, unit.stage.syllabus.scale]
        for attempt in attempts:
            found += [attempt.manoeuvre, *(row.fault for row in attempt.preloaded_faults)]
            found += [row.criterion for row in attempt.preloaded_criteria]
        return found
    finally:
        connection.close()


def test_two_threads_never_share_an_instance(transactional_cast: Cast) -> None:
    lesson = begin_lesson(transactional_cast)
    record_circuit(transactional_cast, lesson, 1, **{"landing.fault.bounced": "on"})
    with ThreadPoolExecutor(2) as pool:
        one, other = pool.map(reachable_instances, [lesson.pk, lesson.pk])
    assert len(one) == len(other) > 7
    assert one == other
    assert not {id(row) for row in one} & {id(row) for row in other}
    one[-1].name = one[0].title = "Another"
    one[3].steps[0]["label"] = "Another"
    again = reachable_instances(lesson.pk)
    assert [again[0].title, again[-1].name] == [other[0].title, other[-1].name]
    assert again[3].steps == other[3].steps


def test_what_is_cached_cannot_be_written_in(cast: Cast) -> None:
    syllabus = cast.enrolment.syllabus_id
    units = published_content.syllabus_units(syllabus)
    assert [str(unit) for unit in units] == [str(unit.to_model()) for unit in units]
    values: list[Any] = [units[0], *published_content.syllabus_criteria(syllabus)[:1]]
    values += [*published_content.training_items(syllabus)[:1], *published_content.faults_by_pk(syllabus).values()]
    for value in values:
        with pytest.raises(FrozenInstanceError):
            value.code = "another"
        assert value.to_model() is not value.to_model()
        assert value.to_model().pk == value.pk
    manoeuvres: Any = published_content.manoeuvres_by_code(syllabus)
    with pytest.raises(TypeError):
        manoeuvres["another"] = None
    manoeuvres["landing"].to_model().items.append("another")
    assert "another" not in manoeuvres["landing"].items

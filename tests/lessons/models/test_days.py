"""What contradicts itself cannot enter the database either, whatever code writes the row."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from grading.actions.lesson_details import write_detail
from lessons.actions import endorse, withdraw_endorsement
from lessons.models import Circuit, Endorsement, Lesson
from school.errors import Refusal
from tests.cast import Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, record_circuit


def refused(rows: Any, name: str, **values: Any) -> None:
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        rows.update(**values)


@pytest.mark.parametrize(
    "minutes",
    [
        {"dual_minutes": 1441},
        {"dual_minutes": 720, "solo_minutes": 721},
        {"night_minutes": 1441},
        {"instrument_minutes": 1441},
        {"ground_minutes": 1441},
    ],
    ids=lambda minutes: "-".join(minutes),
)
def test_a_lesson_has_no_more_minutes_than_a_day(cast: Cast, minutes: dict[str, int]) -> None:
    row = Lesson.objects.filter(pk=begin_lesson(cast).pk)
    refused(row, "lesson_minutes_of_a_day", **minutes)
    assert row.update(dual_minutes=720, solo_minutes=720, night_minutes=1440) == 1


def test_dual_and_solo_beyond_a_day_are_refused_in_a_sentence(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    write_detail(lesson, "dual_minutes", "14:00")
    with pytest.raises(ValidationError, match="together more than a day"):
        write_detail(lesson, "solo_minutes", "10:01")


def test_lessons_and_circuits_are_counted_from_one(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_circuit(cast, lesson, 1)
    with guards_off():  # a lesson keeps its number by a guard as well
        refused(Lesson.objects.filter(pk=lesson.pk), "lesson_number_from_one", number=0)
    refused(Circuit.objects.filter(lesson=lesson), "circuit_number_from_one", number=0)


def test_an_endorsement_is_not_withdrawn_before_its_day_has_begun_anywhere(cast: Cast) -> None:
    given = endorse(
        enrolment=cast.enrolment, kind=Endorsement.Kind.TAILWHEEL, paragraph="61.31(i)",
        aircraft_type=cast.enrolment.aircraft_type, text="Found proficient.", on=cast.today, certificate_number="1",
        by=cast.bert, at=cast.at(12),
    )  # fmt: skip
    withdrawn = {"withdrawn_by": cast.bert, "withdrawal_reason": "Wrong words."}
    begins = datetime(cast.today.year, cast.today.month, cast.today.day, tzinfo=UTC) - timedelta(hours=14)
    row = Endorsement.objects.filter(pk=given.pk)
    refused(row, "endorsement_withdrawn_after_given", withdrawn_at=begins - timedelta(seconds=1), **withdrawn)
    with pytest.raises(Refusal, match="check the clock"):
        withdraw_endorsement(endorsement=given, reason="Wrong words.", by=cast.bert, at=begins - timedelta(seconds=1))
    assert row.update(withdrawn_at=begins, **withdrawn) == 1

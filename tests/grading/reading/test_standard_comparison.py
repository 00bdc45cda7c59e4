"""Whose verdict of today another standard would change, by name, in a fixed number of queries."""

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

import pytest

from grading.models import Standard
from grading.reading import standard_comparison
from grading.reading.standard_comparison import compare_standards
from grading.rules.readiness import RequirementSpec, StandardSpec
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.success_rules import Row, Share
from tests.cast import Cast
from tests.factories import add_students, fly_lesson
from tests.shared_state import shared_state

CHECKS = {Row: "in_a_row", Share: "most_of_last"}


@shared_state
def flown(cast: Cast) -> Cast:
    """Dora has four good landings over two lessons, Emil one good one."""
    fly_lesson(cast, circuits=2, days_ago=2)
    fly_lesson(cast, circuits=2, days_ago=1)
    fly_lesson(cast, circuits=1, days_ago=1, enrolment=cast.other_enrolment)
    return cast


def standard_of(**rules: Row | Share) -> StandardSpec:
    """Return a standard that asks for these parts of the circuit and nothing else."""
    full = standard_from_json(Standard.objects.get(rule_set="us").content)
    rows = [
        RequirementSpec(
            part, CHECKS[type(rule)], f"{part.capitalize()}s", "standard", "school", "the school's own",
            {"part": (part,), **asdict(rule)},
        )
        for part, rule in rules.items()
    ]  # fmt: skip
    return replace(full, requirements=tuple(rows))


def test_who_would_no_longer_be_ready_is_named_with_the_requirement(flown: Cast) -> None:
    strict = compare_standards(standard_of(landing=Row(3, 2)), standard_of(landing=Share(9, 10, 2)), flown.today)
    assert [str(row.enrolment.student) for row in strict.verdicts] == [str(flown.dora)]
    assert (strict.unchanged, strict.total, strict.requirements_only) == (1, 2, [])
    change = strict.verdicts[0].requirements[0]
    assert (change.title, change.before) == ("Landings", "met: 4 in a row")
    assert change.after.startswith("open: 4 of ")


def test_who_would_be_ready_is_named_too(flown: Cast) -> None:
    lax = compare_standards(standard_of(landing=Share(9, 10, 2)), standard_of(landing=Row(1, 1)), flown.today)
    assert [row.enrolment.student for row in lax.verdicts] == [flown.dora, flown.emil]
    assert all(row.after.ready and not row.before.ready for row in lax.verdicts)


def test_a_requirement_that_changes_and_no_verdict_is_told_apart(flown: Cast) -> None:
    both = compare_standards(
        standard_of(landing=Row(3, 2), takeoff=Row(9, 2)),
        standard_of(landing=Row(5, 2), takeoff=Row(9, 2)),
        flown.today,
    )
    assert both.verdicts == []
    assert [row.enrolment.student for row in both.requirements_only] == [flown.dora]
    assert both.unchanged == 2


def test_a_requirement_that_is_dropped_or_new_is_told(flown: Cast) -> None:
    dropped = compare_standards(
        standard_of(landing=Row(9, 2), takeoff=Row(3, 2)), standard_of(takeoff=Row(3, 2)), flown.today
    )
    assert [row.after for row in dropped.verdicts[0].requirements] == ["no longer required"]
    assert dropped.verdicts[0].after.ready
    new = compare_standards(
        standard_of(takeoff=Row(3, 2)), standard_of(landing=Row(9, 2), takeoff=Row(3, 2)), flown.today
    )
    assert [row.before for row in new.verdicts[0].requirements] == ["not required"]


def test_who_has_left_is_not_compared(flown: Cast) -> None:
    type(flown.enrolment).objects.filter(pk=flown.enrolment.pk).update(ended_on=flown.today, end="completed")
    rest = compare_standards(standard_of(landing=Row(3, 2)), standard_of(landing=Share(9, 10, 2)), flown.today)
    assert (rest.total, rest.verdicts) == (1, [])


@pytest.mark.parametrize("more", [0, 9])
def test_the_queries_do_not_grow(flown: Cast, django_assert_num_queries: Callable[..., Any], more: int) -> None:
    add_students(flown, more)
    before, after = standard_of(landing=Row(3, 2)), standard_of(landing=Share(9, 10, 2))
    with django_assert_num_queries(13):
        comparison = compare_standards(before, after, flown.today)
        assert [str(row.enrolment.student) for row in comparison.verdicts] == [str(flown.dora)]
    assert comparison.total == 2 + more


def test_a_large_school_is_compared_in_parts(flown: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    add_students(flown, 3)
    monkeypatch.setattr(standard_comparison, "STUDENTS_AT_ONCE", 2)
    before, after = standard_of(landing=Row(1, 1)), standard_of(landing=Share(9, 10, 2))
    parts = [compare_standards(before, after, flown.today, skip) for skip in (0, 2, 4)]
    assert [(row.first, row.last, row.total, row.after_these) for row in parts] == [
        (1, 2, 5, 2),
        (3, 4, 5, 4),
        (5, 5, 5, None),
    ]
    assert all(row.is_part for row in parts)
    assert [len(row.verdicts) for row in parts] == [2, 0, 0]
    assert compare_standards(before, after, flown.today, skip=99).first == 1  # a number that was typed into the address

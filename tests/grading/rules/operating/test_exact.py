"""The exact states against sequences written out, against Feller's formula, and against a second simulation.

Source: Feller, An Introduction to Probability Theory and Its Applications, vol. 1, XIII.7, mean time to a run of r
successes, (1 - p^r) / ((1 - p) p^r); from memory.
"""

import itertools
import random
from collections.abc import Iterator, Sequence

import pytest

from grading.rules.operating.exact import MOST_LAST, plan_lessons, shown_by_then
from grading.rules.readiness.success_rules import Row, Share, SuccessRule

RULES = [Row(3, 1), Row(3, 2), Row(5, 3), Share(3, 4, 1), Share(3, 4, 2), Share(2, 4, 2), Share(4, 4, 3)]
PLANS = [(1,) * 12, (2,) * 6, (3,) * 4, (4, 4, 4), (5, 1, 4, 2), (12,)]


def numbered(outcomes: Sequence[bool], lessons: Sequence[int]) -> list[tuple[int, bool]]:
    numbers = [number for number, circuits in enumerate(lessons, start=1) for _ in range(circuits)]
    return list(zip(numbers, outcomes, strict=True))


def lesson_ends(lessons: Sequence[int]) -> list[int]:
    return list(itertools.accumulate(lessons))


def shown_in_all_sequences(rule: SuccessRule, chance: float, lessons: Sequence[int]) -> list[float]:
    """Weigh each of the 2^12 sequences, by the rule itself as it reads lesson numbers and outcomes."""
    ends, total = lesson_ends(lessons), [0.0] * len(lessons)
    for outcomes in itertools.product((False, True), repeat=sum(lessons)):
        rows = numbered(outcomes, lessons)
        first = next((place for place, end in enumerate(ends) if rule.is_met(rows[:end])), None)
        if first is not None:
            weight = chance ** sum(outcomes) * (1 - chance) ** (len(outcomes) - sum(outcomes))
            for place in range(first, len(ends)):
                total[place] += weight
    return total


@pytest.mark.parametrize("rule", RULES, ids=str)
@pytest.mark.parametrize("lessons", PLANS, ids=str)
def test_the_states_give_what_all_sequences_of_twelve_give(rule: SuccessRule, lessons: tuple[int, ...]) -> None:
    shown = shown_by_then(rule, 0.7, lessons)
    assert shown.ends == tuple(lesson_ends(lessons))
    assert shown.chances == pytest.approx(shown_in_all_sequences(rule, 0.7, lessons), abs=1e-12)


@pytest.mark.parametrize(("chance", "length", "published"), [(0.7, 3, 6.385), (0.5, 3, 14.0), (0.9, 5, 6.935)])
def test_the_mean_time_to_a_run_is_fellers(chance: float, length: int, published: float) -> None:
    """Asked after each circuit and over one lesson at least, a row is a run."""
    shown = shown_by_then(Row(length, 1), chance, (1,) * 2000)
    mean = 1 + sum(1 - reached for reached in shown.chances)  # P(T > 0) is 1
    formula = (1 - chance**length) / ((1 - chance) * chance**length)
    assert mean == pytest.approx(formula, rel=1e-9)
    assert mean == pytest.approx(published, abs=0.0005)


def sampled_ends(rule: SuccessRule, chance: float, lessons: Sequence[int], students: int) -> Iterator[int]:
    """Fly each student circuit by circuit, and yield the lesson with which the rule first holds."""
    draw = random.Random(4)
    ends = lesson_ends(lessons)
    for _ in range(students):
        rows = numbered([draw.random() < chance for _ in range(sum(lessons))], lessons)
        yield next((end for end in ends if rule.is_met(rows[:end])), 10_000)


@pytest.mark.parametrize("per_lesson", [2, 4, 6])
@pytest.mark.parametrize("chance", [0.5, 0.7, 0.9])
@pytest.mark.parametrize("rule", [Row(3, 2), Share(9, 10, 2)], ids=str)
def test_the_states_agree_with_students_who_fly(rule: SuccessRule, chance: float, per_lesson: int) -> None:
    lessons = plan_lessons(40, per_lesson)
    shown = shown_by_then(rule, chance, lessons)
    students = 3000
    taken = list(sampled_ends(rule, chance, lessons, students))
    for circuits in (20, 30, 40):
        share = sum(end <= circuits for end in taken) / students
        assert shown.within(circuits) == pytest.approx(share, abs=0.03)  # three standard errors at one half


def test_lessons_are_whole_and_the_last_that_fits_counts() -> None:
    shown = shown_by_then(Share(9, 10, 2), 0.9, plan_lessons(40, 4))
    assert plan_lessons(30, 4) == (4,) * 7
    assert shown.within(30) == shown.within(28) == shown.chances[6]
    assert shown.within(8) == 0  # ten attempts are needed at all
    assert shown.within(3) == 0


def test_the_median_is_a_lessons_end_or_beyond() -> None:
    shown = shown_by_then(Row(3, 2), 0.9, plan_lessons(100, 2))
    assert shown.median == 4
    assert shown.chances[shown.ends.index(4) - 1] < 0.5 <= shown.within(4)
    assert shown_by_then(Share(9, 10, 2), 0.5, plan_lessons(100, 4)).median is None


def test_nobody_who_never_succeeds_is_shown_and_everybody_who_always_does() -> None:
    for rule in (Row(3, 2), Share(9, 10, 2)):
        assert shown_by_then(rule, 0.0, (4,) * 5).within(20) == 0
        assert shown_by_then(rule, 1.0, (4,) * 5).within(20) == 1


def test_what_has_no_answer_is_refused() -> None:
    with pytest.raises(ValueError, match="not a chance"):
        shown_by_then(Row(3, 2), 1.2, (4,))
    with pytest.raises(ValueError, match="more states"):
        shown_by_then(Share(15, MOST_LAST + 1, 2), 0.5, (4,))
    with pytest.raises(ValueError, match="at least one"):
        plan_lessons(30, 0)

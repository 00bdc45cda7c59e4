"""Several parts at one lesson's end, against a second implementation and against a table.

The table was measured with 1,500 sampled students a cell, which is two standard errors of 0.025 at one half: the chance
of landings at p with takeoffs and approaches at 0.95, all met at one lesson's end within 30 circuits, the last lesson
cut short where 30 is no multiple of its circuits. Its row "9 of the last 10" did not ask the newest to be good.
"""

import random
from collections.abc import Callable, Sequence

import pytest

from grading.rules.operating.exact import shown_by_then
from grading.rules.operating.together import shown_together_by_then
from grading.rules.readiness.success_rules import Row, Share

CHANCES = (0.5, 0.7, 0.9, 0.95)
PLANS = {2: (2,) * 15, 4: (4,) * 7 + (2,), 6: (6,) * 5}
ROW_OF_THREE = {2: (0.70, 0.96, 1.00, 1.00), 4: (0.17, 0.60, 0.95, 0.99), 6: (0.01, 0.15, 0.62, 0.79)}
NINE_OF_TEN = {2: (0.07, 0.52, 0.99, 1.00), 4: (0.04, 0.42, 0.97, 0.99), 6: (0.03, 0.36, 0.96, 0.99)}
Outcomes = list[tuple[int, bool]]


@pytest.mark.parametrize("per_lesson", [2, 4, 6])
def test_the_row_of_three_lets_through_what_the_table_gives(per_lesson: int) -> None:
    for chance, expected in zip(CHANCES, ROW_OF_THREE[per_lesson], strict=True):
        shown = shown_together_by_then([Row(3, 2)] * 3, [chance, 0.95, 0.95], PLANS[per_lesson])
        assert shown.within(30) == pytest.approx(expected, abs=0.02)


def nine_of_ten(outcomes: Outcomes) -> bool:
    last = outcomes[-10:]
    good = {lesson for lesson, success in last if success}
    return len(last) == 10 and sum(success for _, success in last) >= 9 and len(good) >= 2


def nine_of_ten_and_the_newest(outcomes: Outcomes) -> bool:
    return nine_of_ten(outcomes) and outcomes[-1][1]


def fly(rule: Callable[[Outcomes], bool], chances: Sequence[float], lessons: Sequence[int], students: int) -> float:
    """Return the share of students whose parts all meet a rule at one lesson's end, flown circuit by circuit."""
    draw = random.Random(7)
    shown = 0
    for _ in range(students):
        flown: list[Outcomes] = [[] for _ in chances]
        for number, circuits in enumerate(lessons):
            for _ in range(circuits):
                for part, chance in zip(flown, chances, strict=True):
                    part.append((number, draw.random() < chance))
            if all(rule(part) for part in flown):
                shown += 1
                break
    return shown / students


@pytest.mark.parametrize("per_lesson", [2, 4, 6])
def test_nine_of_ten_lets_through_what_the_table_gives_and_less_with_the_newest(per_lesson: int) -> None:
    for chance, expected in zip(CHANCES, NINE_OF_TEN[per_lesson], strict=True):
        chances, lessons = [chance, 0.95, 0.95], PLANS[per_lesson]
        assert fly(nine_of_ten, chances, lessons, 3000) == pytest.approx(expected, abs=0.03)
        shown = shown_together_by_then([Share(9, 10, 2)] * 3, chances, lessons)
        assert shown.within(30) == pytest.approx(fly(nine_of_ten_and_the_newest, chances, lessons, 3000), abs=0.03)
        assert shown.within(30) <= expected + 0.02


def test_one_part_alone_agrees_with_the_exact_states() -> None:
    for rule in (Row(3, 2), Row(5, 3), Share(9, 10, 2), Share(4, 6, 3)):
        exact, sampled = shown_by_then(rule, 0.7, (4, 2, 3) * 5), shown_together_by_then([rule], [0.7], (4, 2, 3) * 5)
        assert sampled.chances == pytest.approx(exact.chances, abs=4 * sampled.error)
        assert 0 < sampled.error <= 0.005


def test_the_seed_is_fixed_and_each_part_has_its_own_rule() -> None:
    rules, chances = [Row(3, 2), Share(9, 10, 2)], [0.7, 0.9]
    first = shown_together_by_then(rules, chances, (4,) * 10)
    assert first == shown_together_by_then(rules, chances, (4,) * 10)
    swapped = shown_together_by_then(rules[::-1], chances, (4,) * 10)
    assert abs(first.within(40) - swapped.within(40)) > 0.1

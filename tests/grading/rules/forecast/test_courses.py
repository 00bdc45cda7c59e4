"""The sampled courses: the event is the verdict's own rule, asked at a lesson's end from the student's present row."""

import numpy as np
import pytest

from grading.rules.forecast.courses import COURSES, NEVER, Pace, _Course, sample_waits, usual_pace
from grading.rules.forecast.curve import DAY_SPREADS, LOSSES, MIDDLES, STARTS, STEEPS, TOPS, PartHistory
from grading.rules.forecast.prior import EVEN, Kind, Prior
from grading.rules.readiness.success_rules import Row, Share, SuccessRule


def flown(outcomes: list[bool], circuits: int = 3, gap: int = 4) -> PartHistory:
    lessons = tuple(place // circuits + 1 for place in range(len(outcomes)))
    return PartHistory(tuple(outcomes), lessons, tuple(gap * lesson for lesson in lessons))


def always(chance: float) -> Prior:
    """Return the prior of students who are all at one chance from the first attempt on."""

    def only(axis: np.ndarray, value: float) -> tuple[float, ...]:
        weights = np.where(np.isclose(axis, value), 1.0, 1e-12)
        return tuple(weights / weights.sum())

    axes = ((MIDDLES, 5), (STEEPS, 8), (STARTS, 1), (TOPS, chance), (DAY_SPREADS, 0), (LOSSES, 0))
    return Prior((Kind(1.0, *(only(axis, value) for axis, value in axes)),))


@pytest.mark.parametrize(
    "rule", [Share(9, 10, 2), Share(3, 4, 3), Share(2, 2, 1), Row(3, 2), Row(1, 1), Row(4, 3)], ids=str
)
def test_every_course_meets_the_rule_exactly_where_the_rule_itself_says_so(rule: SuccessRule) -> None:
    draw = np.random.default_rng(5)
    for past in (0, 1, 7, 23):
        part, circuits = flown([bool(good) for good in draw.random(past) < 0.8], circuits=4), int(draw.integers(1, 5))
        ahead = draw.random((40, 24)) < 0.85
        course = _Course.after(part, ahead, circuits)
        for ended in range(circuits, 25, circuits):
            for sampled, met in zip(ahead, course.meets(rule, ended), strict=True):
                outcomes = [*zip(part.lessons, part.outcomes, strict=True)]
                outcomes += [(1000 + place // circuits, bool(good)) for place, good in enumerate(sampled[:ended])]
                assert met == rule.is_met(outcomes)


def test_a_row_takes_as_long_as_the_formula_says() -> None:
    """W. Feller, An Introduction to Probability Theory, vol. 1, XIII.7 (from memory): (1 − p^n) / ((1 − p) p^n).

    At 0.7 for a row of three: 6.385 trials. Lessons of one circuit, so that every circuit is a lesson's end.
    """
    waits = sample_waits((PartHistory(),), (Row(3, 1),), always(0.7))
    # Four standard errors: the standard deviation of that wait is 4.6.
    assert waits.mean() == pytest.approx((1 - 0.7**3) / (0.3 * 0.7**3), abs=4 * 4.6 / COURSES**0.5)


def test_a_sampled_wait_ends_with_a_lesson_of_the_students_own_length() -> None:
    waits = sample_waits((flown([True, False] * 9, circuits=6),), (Share(9, 10, 2),), EVEN)
    there = waits[waits < NEVER]
    assert len(there)
    assert (there % 6 == 0).all()


def test_no_course_is_shorter_than_the_fewest_that_the_rule_needs() -> None:
    draw = np.random.default_rng(9)
    for rule in (Share(9, 10, 2), Row(3, 2)):
        for _ in range(12):
            parts = tuple(flown([bool(good) for good in draw.random(14) < 0.75]) for _ in range(3))
            fewest = max(rule.fewest_more([*zip(part.lessons, part.outcomes, strict=True)]) for part in parts)
            assert sample_waits(parts, (rule,) * 3, EVEN)[0] >= fewest


def test_who_meets_every_rule_waits_for_nothing() -> None:
    assert not sample_waits((flown([True] * 12),) * 2, (Share(9, 10, 2), Row(3, 2)), EVEN).any()


def test_the_pace_is_the_median_of_the_last_lessons() -> None:
    lessons, days = (1,) * 9 + (2,) * 2 + (3,) * 4 + (4,) * 4, (1,) * 9 + (3,) * 2 + (10,) * 4 + (12,) * 4
    landings = PartHistory((True,) * 19, lessons, days)
    gone_around = PartHistory((True,) * 17, lessons[:-2], days[:-2])
    assert usual_pace([gone_around, landings]) == Pace(4, 2.0)
    assert usual_pace([PartHistory()]) == Pace(1, 0.0)


def test_a_long_gap_makes_it_longer() -> None:
    soon, late = (flown([False] * 8 + [True, False, True, True] * 2, gap=gap) for gap in (2, 40))
    rules = (Share(9, 10, 2),)
    assert sample_waits((soon,), rules, EVEN).mean() < sample_waits((late,), rules, EVEN).mean()
